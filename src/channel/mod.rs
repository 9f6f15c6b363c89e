//! Where people talk to the bot. A channel translates both ways and decides nothing.

pub mod api;
pub mod browser;
pub mod caller;
pub mod known;
pub mod lately;
pub mod lines;
pub mod lock_conditions;
pub mod noted;
pub mod telegram;
pub mod terminal;
pub mod webhooks;
