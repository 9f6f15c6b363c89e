<<<<<<< HEAD
//! What several tests share.

pub(crate) mod bot_api;
mod bot_api_limits;
pub(crate) mod chat;
=======
//! What several tests need: a server on a free port and somebody who uses its pages.

pub(crate) mod html;
pub(crate) mod page;
pub(crate) mod pages_server;
>>>>>>> d0789b2 (Show checklists; test the pages as people use them)
