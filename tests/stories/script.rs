//! The script of a story.

use std::collections::BTreeMap;

use fanwright::flow::model::Role;
use serde::Deserialize;

/// One story.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Script {
    /// What it is about.
    pub(crate) story: String,
    /// Who is there, with roles.
    pub(crate) people: BTreeMap<String, Vec<Role>>,
    /// Whose job it is.
    pub(crate) holder: String,
    /// Answers by step, or by flow/step: the first visit takes the first, the last one stays.
    #[serde(default)]
    pub(crate) answers: BTreeMap<String, Answers>,
    /// What happens on the way.
    #[serde(default)]
    pub(crate) events: Vec<Happening>,
    /// How the job ends.
    pub(crate) ends: String,
    /// What the first page of its report says.
    pub(crate) first_page: Option<FirstPage>,
}

/// The first page of a report, line by line: `Failed part: Motor`.
#[derive(Debug, Default, PartialEq, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub(crate) struct FirstPage {
    pub(crate) found: Vec<String>,
    pub(crate) done: Vec<String>,
    pub(crate) gained: Vec<String>,
    pub(crate) open: Vec<String>,
    pub(crate) signed: Vec<String>,
    /// How the parts of the job ended.
    pub(crate) course: Vec<String>,
}

/// One answer, or several for as many visits.
#[derive(Clone, Debug, Deserialize)]
#[serde(untagged)]
pub(crate) enum Answers {
    One(String),
    Several(Vec<String>),
}

/// Something that happens when a step is reached.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Happening {
    /// The step, or flow/step.
    pub(crate) at: String,
    /// At which visit, from 1.
    #[serde(default = "first")]
    pub(crate) visit: usize,
    /// What.
    #[serde(rename = "do")]
    pub(crate) event: Event,
}

fn first() -> usize {
    1
}

/// What can happen.
#[derive(Clone, Debug, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(crate) enum Event {
    /// The job is offered to and taken by this person.
    HandOverTo(String),
    /// This person takes their own locks off.
    LocksOff(String),
    /// The holder stops work and says why.
    Stop(String),
    /// The supervisor lets the work go on.
    Lift,
    /// The holder leaves it with this owner, until this day.
    Leave(String, String),
    /// Time goes by, minutes.
    Minutes(i64),
    /// The server is killed and comes back.
    Crash,
    /// The holder goes back one step.
    Back,
    /// The holder pauses; after so many minutes goes on.
    Pause(i64),
    /// The holder hands the job in; this supervisor sends these steps back with this remark, and
    /// the holder goes on.
    SendBack(String, String, Vec<String>),
    /// The story ends here.
    End,
}

impl Script {
    /// Reads the story called `name`, with the common answers under it.
    pub(crate) fn read(name: &str) -> Self {
        let path = format!("tests/stories/{name}.yaml");
        let text = std::fs::read_to_string(&path).unwrap_or_else(|why| panic!("{path}: {why}"));
        let mut script: Script =
            serde_yaml::from_str(&text).unwrap_or_else(|why| panic!("{path}: {why}"));
        let common = std::fs::read_to_string("tests/stories/common.yaml").unwrap();
        let common: BTreeMap<String, Answers> =
            serde_yaml::from_str(&common).unwrap_or_else(|why| panic!("common.yaml: {why}"));
        for (step, answers) in common {
            script.answers.entry(step).or_insert(answers);
        }
        script
    }

    /// The answer at the `visit`-th visit of a step.
    pub(crate) fn answer(&self, flow: &str, step: &str, visit: usize) -> Option<&str> {
        let found = self
            .answers
            .get(&format!("{flow}/{step}"))
            .or(self.answers.get(step))?;
        Some(match found {
            Answers::One(answer) => answer,
            Answers::Several(answers) => answers.get(visit - 1).or(answers.last())?,
        })
    }
}
