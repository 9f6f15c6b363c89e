//! What is shown on paper and pages: charts of a job's numbers, and its checklist.

pub mod band;
pub mod chart;
pub mod checklist;
pub mod diagram;
pub mod labels;
pub mod numbers;
pub mod pdf;
pub mod picture;
pub mod readings;
mod square_code;
pub mod stands_out;
pub mod verify_code;
