//! What several tests need: a server on a free port and somebody who uses its pages, a Bot API
//! server of our own and somebody who talks through it.

pub(crate) mod bot_api;
pub(crate) mod bot_api_limits;
mod bot_message;
mod bot_request;
pub(crate) mod chat;
pub(crate) mod dice;
pub(crate) mod group_chat;
pub(crate) mod heads;
pub(crate) mod html;
pub(crate) mod page;
pub(crate) mod pages_server;
pub(crate) mod program;
