//! A button says what happens; nobody is asked whether it is OK.

use super::super::finding::Grade;
use super::Rule;
use crate::flow::model::{Act, Fact, FactType, Flow, Step};

pub(super) const RULE: Rule = Rule {
    name: "answer_says_nothing",
    grade: Grade::Advice,
    page: include_str!("../pages/answer_says_nothing.md"),
    run: |rule, ground| {
        let mut findings = Vec::new();
        for (place, step) in ground.places() {
            let flow = ground.flow(place.flow).flow;
            let Some(answer) = answers(flow, step).into_iter().find(|it| says_nothing(it)) else {
                continue;
            };
            let told = format!("`{}` is answered with “{answer}”.", step.name);
            let mend = "Ask for what is seen or read (`measure`, or a choice in words); let a \
                        button say what was done.";
            findings.push(ground.finding(rule, place.flow, step.at, (told, mend)));
        }
        findings
    },
};

/// Answers that say nothing about what was seen.
const EMPTY: [&str; 14] = [
    "ok",
    "okay",
    "yes",
    "no",
    "done",
    "good",
    "bad",
    "fine",
    "all good",
    "all ok",
    "skip",
    "not applicable",
    "n/a",
    "correct",
];

fn says_nothing(answer: &str) -> bool {
    let answer = answer.trim().trim_end_matches(['.', '!']).to_lowercase();
    EMPTY.contains(&answer.as_str())
}

fn answers<'a>(flow: &'a Flow, step: &'a Step) -> Vec<&'a str> {
    match &step.act {
        Act::Tell { button } | Act::Confirm { button } => vec![button],
        Act::Hold { release, .. } => vec![release],
        Act::Choose { fact } => match flow.facts.get(fact).map(|fact: &Fact| &fact.holds) {
            Some(FactType::OneOf(choices) | FactType::SomeOf(choices)) => {
                choices.values().map(String::as_str).collect()
            }
            _ => Vec::new(),
        },
        _ => Vec::new(),
    }
}
