//! A way to walk a part alone: a small flow that asks for what the part needs, then runs it.

use std::fmt::Write as _;

use super::library::{Library, Sources};
use super::model::{Fact, FactType, Flow, Source};
use super::name::{FactName, FlowName, OutcomeName};

/// A name that no author's flow should have; the loader says so if one has.
const NAME: &str = "walked-alone";

/// A flow that can be walked from its beginning: `name` itself if it needs nothing, else a
/// stand-in for its runner. Beside its name, the sources that it is loaded from.
///
/// None if there is no flow of that name.
pub fn walkable(library: &Library, name: &FlowName) -> Option<(FlowName, Sources)> {
    let flow = library.flows().get(name)?;
    let mut sources = library.sources().clone();
    if flow.needs.is_empty() {
        return Some((name.clone(), sources));
    }
    sources.files.insert(format!("{NAME}.yaml"), text(flow));
    Some((FlowName::from(NAME), sources))
}

/// The text of the stand-in.
fn text(flow: &Flow) -> String {
    let mut text = format!(
        "flow: {NAME}\ntitle: {}\nlanguage: {}\noutcomes:\n",
        quoted(&flow.title),
        flow.language
    );
    for (outcome, label) in &flow.outcomes {
        let _ = writeln!(text, "  {outcome}: {}", quoted(label));
    }
    if !flow.energy.is_empty() {
        text.push_str("energy:\n");
        for (name, source) in &flow.energy {
            let _ = writeln!(text, "  {name}: {}", energy(flow, source));
        }
    }
    let needs: Vec<(&str, &Fact)> = flow
        .needs
        .iter()
        .filter_map(|need| Some((need.it.as_str(), flow.facts.get(&need.it)?)))
        .collect();
    text.push_str("facts:\n");
    for (name, fact) in &needs {
        let label = quoted(&fact.label);
        let _ = writeln!(
            text,
            "  {name}: {{ {}, label: {label} }}",
            holds(&fact.holds)
        );
    }
    let first = needs.first().map_or("walk", |(name, _)| name);
    let _ = writeln!(text, "start: {}\nsteps:", ask_step(first));
    let nexts = needs.iter().skip(1).map(|(name, _)| ask_step(name));
    let nexts = nexts.chain(["walk".to_owned()]);
    for ((name, fact), next) in needs.iter().zip(nexts) {
        let _ = writeln!(
            text,
            "  {}:\n    hands_off: true\n    {}\n    say: {}\n    cite: common practice\n    \
             then: {next}",
            ask_step(name),
            asks(name, &fact.holds),
            quoted(&format!("For the trial: {}?", fact.label)),
        );
    }
    let _ = writeln!(text, "  walk:\n    run: {}\n    say: Walk it.", flow.name);
    text.push_str(&ways(flow));
    for (outcome, label) in &flow.outcomes {
        let step = end_step(outcome);
        let _ = writeln!(
            text,
            "  {step}:\n    finish: {outcome}\n    say: {}",
            quoted(&format!("{label}."))
        );
    }
    text
}

fn ways(flow: &Flow) -> String {
    let mut text = "    then:\n".to_owned();
    let last = flow.outcomes.len().saturating_sub(1);
    for (at, outcome) in flow.outcomes.keys().enumerate() {
        let go = end_step(outcome);
        let _ = if at == last {
            writeln!(text, "      - {{ go: {go} }}")
        } else {
            let when = quoted(&format!("outcome == \"{outcome}\""));
            writeln!(text, "      - {{ when: {when}, go: {go} }}")
        };
    }
    text
}

fn ask_step(fact: &str) -> String {
    match fact {
        "walk" => "walk".to_owned(),
        fact => format!("ask_{fact}"),
    }
}

fn end_step(outcome: &OutcomeName) -> String {
    format!("end_{outcome}")
}

fn energy(flow: &Flow, source: &Source) -> String {
    let kind = match source.kind {
        super::model::SourceKind::Electrical => "electrical",
        super::model::SourceKind::Charge => "charge",
        super::model::SourceKind::Motion => "motion",
    };
    let mut text = format!("{{ kind: {kind}, label: {}", quoted(&source.label));
    if let Some(feeder) = &source.fed_by {
        let _ = write!(text, ", fed_by: {feeder}");
    }
    if let Some(prover) = &source.proved_by {
        let _ = write!(text, ", proved_by: {prover}");
    }
    if let Some(when) = &source.exists_when {
        // A condition on facts that the runner does not give is left out: then it is there.
        let given = |fact: &FactName| flow.needs.iter().any(|need| need.it == *fact);
        if when.facts().iter().all(|fact| given(fact)) {
            let _ = write!(text, ", exists_when: {}", quoted(&when.source));
        }
    }
    text.push_str(" }");
    text
}

fn holds(holds: &FactType) -> String {
    let choices = |keys: &indexmap::IndexMap<super::name::ChoiceKey, String>| {
        let keys = keys.iter();
        let keys: Vec<String> = keys
            .map(|(key, label)| format!("{key}: {}", quoted(label)))
            .collect();
        format!("{{ {} }}", keys.join(", "))
    };
    match holds {
        FactType::OneOf(keys) => format!("one_of: {}", choices(keys)),
        FactType::SomeOf(keys) => format!("some_of: {}", choices(keys)),
        FactType::Measures { kind, show_in } => {
            format!(
                "measures: {}, show_in: {}",
                kind.word().replace(' ', "_"),
                quoted(show_in.symbol)
            )
        }
        FactType::Counts { noun, from, to } => {
            format!("counts: {}, from: {from}, to: {to}", quoted(noun))
        }
        FactType::Number { noun } => format!("number: {}", quoted(noun)),
        FactType::Text { characters_max } => format!("text: {characters_max}"),
        FactType::Photo { of } => format!("photo: {}", quoted(of)),
    }
}

/// The kind of the step that asks for a fact, with what it requires.
fn asks(fact: &str, holds: &FactType) -> String {
    match holds {
        FactType::OneOf(_) | FactType::SomeOf(_) => format!("choose: {fact}"),
        FactType::Measures { show_in, .. } => format!(
            "measure: {fact}\n    plausible: {{ from: '{0}(-1000000)', to: '{0}(1000000)' }}",
            show_in.literal
        ),
        FactType::Counts { .. } | FactType::Number { .. } => format!("measure: {fact}"),
        FactType::Text { .. } => format!("write: {fact}"),
        FactType::Photo { .. } => format!("photo: {fact}"),
    }
}

/// A text as a quoted YAML scalar: JSON's strings are YAML's.
fn quoted(text: &str) -> String {
    serde_json::Value::from(text).to_string()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::flow::embedded;

    #[test]
    fn every_shipped_flow_can_be_walked_alone() {
        let library = embedded::library().unwrap();
        for name in library.flows().keys() {
            let (root, sources) = walkable(&library, name).unwrap();
            let loaded = Library::load(sources).unwrap_or_else(|problems| {
                let told: Vec<String> = problems.iter().map(ToString::to_string).collect();
                panic!("{name}: {}", told.join("\n"))
            });
            let edition = loaded.edition(&root).unwrap();
            assert!(edition.root_flow().unwrap().needs.is_empty());
            assert!(edition.flow(name).is_some());
        }
    }

    #[test]
    fn what_is_not_there_cannot_be_walked() {
        let library = embedded::library().unwrap();
        assert!(walkable(&library, &FlowName::from("nothing")).is_none());
    }
}
