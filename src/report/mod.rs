//! What is shown on paper and pages: charts of a job's numbers.

pub mod chart;
