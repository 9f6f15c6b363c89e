//! Fanwright walks refrigeration technicians through a dead evaporator fan.
//!
//! Imports point downwards only: `channel` → `desk` → {`store`, `report`, `walk`, `check`};
//! `walk` → {`record`, `flow`}; `store` → `record`; `flow` → `trade`.

pub mod backup_command;
pub mod channel;
pub mod chat;
pub mod check;
pub mod check_command;
pub mod cli;
pub mod demo;
pub mod desk;
pub mod draw;
pub mod flow;
pub mod flow_files;
pub mod labels_command;
pub mod metrics;
pub mod operator;
pub mod record;
pub mod record_command;
pub mod report;
pub mod restore_command;
pub mod schema;
pub mod seal_key_command;
pub mod serve;
pub mod server;
pub mod store;
pub mod trade;
pub mod verify_command;
pub mod walk;
pub mod work_out;
