//! What somebody has shown, and who signed for it.

use jiff::Timestamp;
use serde::{Deserialize, Serialize};

use super::person::PersonId;
use crate::flow::name::CompetenceName;

/// A supervisor's word that a person has shown something.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct SignOff {
    /// What was shown.
    pub competence: CompetenceName,
    /// What people called it then.
    pub label: String,
    /// Who has shown it.
    pub person: PersonId,
    /// Who signed for it: never the same person.
    pub by: PersonId,
    /// When.
    pub at: Timestamp,
    /// It counts until then; none if it has no end.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub until: Option<Timestamp>,
}

impl SignOff {
    /// Whether it counts at this moment.
    pub fn counts_at(&self, now: Timestamp) -> bool {
        self.until.is_none_or(|until| now < until)
    }
}

#[cfg(test)]
mod tests {
    use super::super::entry::{Entry, What};

    #[test]
    fn an_entry_of_the_third_format_still_reads() {
        let text = r#"{"v":3,"at":"2026-03-04T10:00:00Z","who":
            "01890000-0000-7000-8000-000000000000","channel":"browser","what":
            {"what":"stands_beside","step":"measure_it"}}"#;
        let read: Entry = serde_json::from_str(text).unwrap();
        assert_eq!(
            read.what,
            What::StandsBeside {
                step: "measure_it".into()
            }
        );
    }
}
