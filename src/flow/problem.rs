//! What is wrong with a flow file, at which place, and how to mend it.

use super::model::At;

/// One thing that is wrong with a file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Problem {
    /// The file.
    pub file: String,
    /// Where.
    pub at: At,
    /// What is wrong and what is expected, one sentence.
    pub wrong: String,
    /// What to do about it.
    pub mend: String,
}

impl std::fmt::Display for Problem {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let At { line, column } = self.at;
        write!(f, "{}:{line}:{column}: {}", self.file, self.wrong)?;
        if self.mend.is_empty() {
            Ok(())
        } else {
            write!(f, " {}", self.mend)
        }
    }
}
