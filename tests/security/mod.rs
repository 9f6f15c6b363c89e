//! What stands against people who mean harm, and against programs that have run wild.

mod connections;
mod headers;
mod injection;
pub(crate) mod photos;
