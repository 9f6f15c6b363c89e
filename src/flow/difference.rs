//! What differs between two versions of the same flows, as a person who reviews them reads it.
//!
//! Steps are compared by what they ask and do, not by the text of the file: moved lines and
//! comments are no difference. A change that can alter how somebody is protected is marked.

mod parts;

use std::fmt::{self, Display};

use indexmap::IndexMap;

use super::model::{Flow, Step};
use super::name::{FlowName, StepName};
use parts::{Part, WAYS, guards, head, parts};

/// One difference.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Difference {
    /// The flow.
    pub flow: FlowName,
    /// The step; none for what the flow says before its steps, and for whole flows.
    pub step: Option<StepName>,
    /// What happened to it.
    pub change: Change,
    /// It can alter how somebody is protected: read it twice.
    pub safety: bool,
}

/// What happened to a flow, a step or a part of it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Change {
    /// It is new.
    Added {
        /// What it says.
        says: String,
    },
    /// It is gone.
    Removed {
        /// What it said.
        said: String,
    },
    /// The same step has another name.
    Renamed {
        /// The name that it had.
        from: StepName,
    },
    /// One part of it was changed.
    Changed {
        /// Which: `caution`, `touches`.
        part: &'static str,
        /// What stood there; empty for nothing.
        before: String,
        /// What stands there.
        after: String,
    },
}

impl Display for Difference {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.flow)?;
        if let Some(step) = &self.step {
            write!(f, " › {step}")?;
        }
        match &self.change {
            Change::Added { says } => write!(f, ": added. {says}"),
            Change::Removed { said } => write!(f, ": removed. It said: {said}"),
            Change::Renamed { from } => write!(f, ": was called {from}."),
            Change::Changed {
                part,
                before,
                after,
            } => match (before.is_empty(), after.is_empty()) {
                (true, _) => write!(f, ": {part} added: {after}"),
                (_, true) => write!(f, ": {part} taken away: {before}"),
                _ => write!(f, ": {part} was: {before} — is: {after}"),
            },
        }
    }
}

/// Flows by name.
type Flows = IndexMap<FlowName, Flow>;

/// All differences from `before` to `after`, in the order of the flows and their steps.
pub fn differences(before: &Flows, after: &Flows) -> Vec<Difference> {
    let mut found = Vec::new();
    for (name, new) in after {
        match before.get(name) {
            Some(old) => found.extend(of_flow(old, new)),
            None => found.push(whole(new, |says| Change::Added { says })),
        }
    }
    let gone = before.values().filter(|old| !after.contains_key(&old.name));
    found.extend(gone.map(|old| whole(old, |said| Change::Removed { said })));
    found
}

fn whole(flow: &Flow, change: impl Fn(String) -> Change) -> Difference {
    Difference {
        flow: flow.name.clone(),
        step: None,
        change: change(flow.title.clone()),
        safety: !flow.energy.is_empty(),
    }
}

fn of_flow(old: &Flow, new: &Flow) -> Vec<Difference> {
    let mut found = compared(new, None, &head(old), &head(new));
    let renamed = renamed(old, new);
    for (name, step) in &new.steps {
        let difference = |change, safety| Difference {
            flow: new.name.clone(),
            step: Some(name.clone()),
            change,
            safety,
        };
        let was = renamed.iter().find(|(_, now)| now == name);
        match (old.steps.get(name), was) {
            (Some(before), _) => {
                let (before, after) = (parts(old, before), parts(new, step));
                found.extend(compared(new, Some(name), &before, &after));
            }
            (None, Some((from, _))) => {
                let from = from.clone();
                found.push(difference(Change::Renamed { from }, false));
            }
            (None, None) => {
                let says = step.say.source.clone();
                found.push(difference(Change::Added { says }, guards(step)));
            }
        }
    }
    for (name, step) in &old.steps {
        let moved = renamed.iter().any(|(was, _)| was == name);
        if !new.steps.contains_key(name) && !moved {
            found.push(Difference {
                flow: new.name.clone(),
                step: Some(name.clone()),
                change: Change::Removed {
                    said: step.say.source.clone(),
                },
                safety: guards(step),
            });
        }
    }
    found
}

/// Steps that are the same but for their name: the old name, the new one.
fn renamed(old: &Flow, new: &Flow) -> Vec<(StepName, StepName)> {
    let gone = || {
        let steps = old.steps.values();
        steps.filter(|step| !new.steps.contains_key(&step.name))
    };
    let come = new.steps.values();
    come.filter(|step| !old.steps.contains_key(&step.name))
        .filter_map(|step| {
            let same = gone().find(|was| without_ways(old, was) == without_ways(new, step))?;
            Some((same.name.clone(), step.name.clone()))
        })
        .collect()
}

fn without_ways(flow: &Flow, step: &Step) -> Vec<Part> {
    let mut parts = parts(flow, step);
    parts.retain(|part| part.name != WAYS);
    parts
}

fn compared(
    flow: &Flow,
    step: Option<&StepName>,
    before: &[Part],
    after: &[Part],
) -> Vec<Difference> {
    let text = |parts: &[Part], name: &str| {
        let part = parts.iter().find(|part| part.name == name);
        part.map(|part| part.text.clone()).unwrap_or_default()
    };
    let mut names: Vec<(&'static str, bool)> = Vec::new();
    for part in after.iter().chain(before) {
        match names.iter_mut().find(|(name, _)| *name == part.name) {
            Some((_, safety)) => *safety |= part.safety,
            None => names.push((part.name, part.safety)),
        }
    }
    let change = |(part, safety): (&'static str, bool)| {
        let (was, is) = (text(before, part), text(after, part));
        (was != is).then(|| Difference {
            flow: flow.name.clone(),
            step: step.cloned(),
            change: Change::Changed {
                part,
                before: was,
                after: is,
            },
            safety,
        })
    };
    names.into_iter().filter_map(change).collect()
}

#[cfg(test)]
mod tests {
    use super::super::library::{Library, Sources};
    use super::*;

    const FLOW: &str = include_str!("difference/before.yaml");

    fn flows(text: &str) -> Flows {
        let mut sources = Sources::default();
        sources.files.insert("look.yaml".into(), text.to_owned());
        let library = Library::load(sources);
        library
            .unwrap_or_else(|problems| panic!("{problems:?}"))
            .flows()
            .clone()
    }

    fn told(edit: impl Fn(&str) -> String) -> Vec<(bool, String)> {
        let after = edit(FLOW);
        assert_ne!(after, FLOW, "the edit met nothing");
        let found = differences(&flows(FLOW), &flows(&after));
        let line = |difference: &Difference| (difference.safety, difference.to_string());
        found.iter().map(line).collect()
    }

    #[test]
    fn moved_lines_and_comments_are_no_difference() {
        assert_eq!(told(|text| format!("# A remark.\n\n{text}")), []);
    }

    #[test]
    fn a_reworded_step_is_told_with_both_wordings() {
        let found = told(|text| text.replace("What did you see?", "What was there?"));
        let line = "look › note_it: words was: What did you see? — is: What was there?";
        assert_eq!(found, [(false, line.to_owned())]);
    }

    #[test]
    fn a_renamed_step_is_the_same_step() {
        let found = told(|text| text.replace("note_it", "write_down"));
        let names: Vec<&str> = found.iter().map(|(_, line)| line.as_str()).collect();
        assert!(
            names.contains(&"look › write_down: was called note_it."),
            "{names:?}"
        );
        assert!(
            !names.iter().any(|line| line.contains("removed")),
            "{names:?}"
        );
    }

    #[test]
    fn a_caution_taken_away_is_marked() {
        let found = told(|text| text.replace("    caution: Blades cut.\n", ""));
        let line = "look › look: caution taken away: Blades cut.";
        assert_eq!(found, [(true, line.to_owned())]);
    }

    #[test]
    fn another_role_and_a_shorter_wait_are_marked() {
        let found = told(|text| text.replace("hold: electrician", "hold: technician"));
        let line = "look › stop: released by was: electrician — is: technician";
        assert_eq!(found, [(true, line.to_owned())]);
        let found = told(|text| text.replace("minute(5)", "minute(1)"));
        let line = "look › rest: time was: minute(5) — is: minute(1)";
        assert_eq!(found, [(true, line.to_owned())]);
    }

    #[test]
    fn a_flow_that_comes_or_goes_is_told_whole() {
        let none = Flows::default();
        let found = differences(&none, &flows(FLOW));
        assert_eq!(found[0].to_string(), "look: added. A look");
        let found = differences(&flows(FLOW), &none);
        assert_eq!(found[0].to_string(), "look: removed. It said: A look");
    }
}
