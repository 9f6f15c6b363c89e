//! What several tests share.

pub(crate) mod bot_api;
mod bot_api_limits;
pub(crate) mod chat;
