//! The `fanwright` program.
fn main() {}
