//! One finding of the checker: its name, grade and place, why it matters, how to mend it.

use serde::Serialize;

use crate::flow::model::At;
use crate::flow::name::{FlowName, StepName};

/// How much a finding weighs.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Grade {
    /// The flow may hurt somebody or get stuck: it is not published.
    Error,
    /// The flow would be better without it.
    Advice,
}

impl Grade {
    /// The word that people read.
    pub fn word(self) -> &'static str {
        match self {
            Grade::Error => "error",
            Grade::Advice => "advice",
        }
    }
}

/// One step on a walk that shows a finding.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Stop {
    /// The flow.
    pub flow: FlowName,
    /// The step.
    pub step: StepName,
    /// What happens there that matters, if anything.
    pub note: Option<String>,
}

/// One thing that the checker found.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Finding {
    /// Its name; every name has a page.
    pub name: &'static str,
    /// Its grade.
    pub grade: Grade,
    /// The file.
    pub file: String,
    /// The line, from 1.
    pub line: u32,
    /// The column, from 1.
    pub column: u32,
    /// What is wrong here, one sentence.
    pub wrong: String,
    /// Why that matters.
    pub why: String,
    /// What to do about it.
    pub mend: String,
    /// The shortest walk that shows it, where one helps.
    pub walk: Vec<Stop>,
}

impl Finding {
    /// Where it stands.
    pub fn at(&self) -> At {
        At {
            line: self.line,
            column: self.column,
        }
    }

    /// The walk on one line: `begin → arrive → guard_off`, long ones without their middle.
    pub fn walk_in_short(&self) -> Option<String> {
        const ENDS: usize = 4;
        if self.walk.is_empty() {
            return None;
        }
        let mut told: Vec<String> = Vec::new();
        let mut flow = None;
        for stop in &self.walk {
            let place = if flow == Some(&stop.flow) {
                stop.step.to_string()
            } else {
                format!("{}/{}", stop.flow, stop.step)
            };
            flow = Some(&stop.flow);
            told.push(match &stop.note {
                Some(note) => format!("{place} ({note})"),
                None => place,
            });
        }
        if told.len() > 2 * ENDS + 3 {
            let noted = |at: usize| self.walk.get(at).is_some_and(|stop| stop.note.is_some());
            let kept = |at: usize| at < ENDS || at + ENDS >= told.len() || noted(at);
            let mut short: Vec<String> = Vec::new();
            let mut left_out = 0;
            for (at, stop) in told.iter().enumerate() {
                if kept(at) {
                    if left_out > 0 {
                        short.push(format!("({left_out} more)"));
                        left_out = 0;
                    }
                    short.push(stop.clone());
                } else {
                    left_out += 1;
                }
            }
            told = short;
        }
        Some(told.join(" → "))
    }
}

impl std::fmt::Display for Finding {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let Self {
            file, line, column, ..
        } = self;
        write!(f, "{file}:{line}:{column}: {}", self.wrong)?;
        if self.mend.is_empty() {
            Ok(())
        } else {
            write!(f, " {}", self.mend)
        }
    }
}
