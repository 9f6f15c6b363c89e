//! What is wrong with a flow file, at which place, and how to mend it.

use super::model::At;

/// Where in loading a problem was met.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Family {
    /// The file itself: too large, not text, not YAML.
    File,
    /// The flow language: a key, a name, an expression.
    Language,
    /// Between flows: needs, gives, sources, circles.
    Binding,
    /// A picture that is not there.
    Picture,
}

/// One thing that is wrong with a file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Problem {
    /// Where in loading it was met.
    pub family: Family,
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
