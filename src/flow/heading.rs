//! What a fact is good for once its job is over: the report's first page, the evaporator's page.

/// A heading on the first page of a job's report.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Heading {
    /// What was found.
    Found,
    /// What was done.
    Done,
    /// What was gained.
    Gained,
    /// What is still open.
    Open,
}

/// As what a fact stays known of the evaporator.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Stays {
    /// What the evaporator is: as its plate and its parts say.
    Nameplate,
    /// The speed setting that its fan was left at.
    Setting,
}
