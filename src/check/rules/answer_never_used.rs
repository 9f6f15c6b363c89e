//! What is asked for is used: by a condition, a text, a formula, a runner, or the checklist.

use std::collections::HashSet;

use super::super::finding::Grade;
use super::super::ground::{Graph, Ground};
use super::Rule;
use crate::flow::expression::Expression;
use crate::flow::model::{Act, Danger, Step};
use crate::flow::name::FactName;

pub(super) const RULE: Rule = Rule {
    name: "answer_never_used",
    grade: Grade::Advice,
    page: include_str!("../pages/answer_never_used.md"),
    run: |rule, ground| {
        let mut findings = Vec::new();
        for (number, graph) in ground.flows.iter().enumerate() {
            let used = used(ground, graph);
            for (name, fact) in &graph.flow.facts {
                let on_checklist = fact.label != name.as_str().replace('_', " ");
                if on_checklist || used.contains(name) {
                    continue;
                }
                let told = format!("Nothing uses the fact `{name}`, and it has no label.");
                let mend = "Use it, give it a `label` for the checklist, or take it away.";
                findings.push(ground.finding(rule, number, fact.at, (told, mend)));
            }
        }
        findings
    },
};

fn used<'a>(ground: &Ground<'a>, graph: &Graph<'a>) -> HashSet<&'a FactName> {
    let mut used: HashSet<&FactName> = HashSet::new();
    used.extend(graph.flow.gives.iter().map(|fact| &fact.it));
    used.extend(graph.flow.needs.iter().map(|fact| &fact.it));
    let sources = graph.flow.energy.values();
    for condition in sources.filter_map(|source| source.exists_when.as_ref()) {
        used.extend(condition.facts());
    }
    let check_ins = graph.flow.check_ins.iter();
    used.extend(check_ins.flat_map(Expression::facts));
    for (step, run) in graph.steps.iter().zip(&graph.runs) {
        for expression in expressions(step) {
            used.extend(expression.facts());
            used.extend(expression.known_asks());
        }
        if let Danger::TestsLive { gear, .. } = &step.danger {
            used.extend(gear.iter().map(|fact| &fact.it));
        }
        if let Some(run) = run {
            used.extend(ground.flow(*run).flow.needs.iter().map(|need| &need.it));
        }
        if matches!(step.act, Act::Photo { .. }) {
            used.extend(step.asks_for());
        }
    }
    used
}

/// Every expression of a step, those of its texts too.
fn expressions(step: &Step) -> Vec<&Expression> {
    let mut all: Vec<&Expression> = Vec::new();
    let texts = [
        Some(&step.say),
        step.caution.as_ref(),
        step.why.as_ref(),
        step.how.as_ref(),
    ];
    all.extend(
        texts
            .into_iter()
            .flatten()
            .flat_map(|text| text.expressions()),
    );
    all.extend(step.then.iter().filter_map(|branch| branch.when.as_ref()));
    match &step.act {
        Act::Measure(measure) => {
            for range in [&measure.plausible, &measure.expect].into_iter().flatten() {
                all.extend([&range.from, &range.to]);
            }
        }
        Act::Wait { long, .. } => all.push(long),
        Act::WorkOut(work) => all.extend(work.with.values()),
        Act::Run(run) => all.extend(run.with.values()),
        _ => {}
    }
    all
}
