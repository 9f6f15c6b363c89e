//! A fact is used only where it is answered on every way.

use super::super::answers::{Answers, optional_needs};
use super::super::finding::Grade;
use super::super::ground::{Ground, Place};
use super::Rule;
use crate::flow::expression::Expression;
use crate::flow::model::{Act, At, Danger, Step};
use crate::flow::name::FactName;

pub(super) const RULE: Rule = Rule {
    name: "used_before_answered",
    grade: Grade::Error,
    page: include_str!("../pages/used_before_answered.md"),
    run: |rule, ground| {
        let answers = Answers::of(ground);
        let required = required(ground);
        let mut findings = Vec::new();
        for (place, step) in ground.places() {
            let mut told: Vec<&FactName> = Vec::new();
            for (fact, at, what) in uses(ground, &required, place, step) {
                let answered = match what {
                    Use::Branch(branch) => answers.has_at_branch(ground, place, branch, fact),
                    _ => answers.has(ground, place, fact),
                };
                if answered || told.contains(&fact) {
                    continue;
                }
                told.push(fact);
                let wrong = format!(
                    "`{}` {} `{fact}`, which is not answered on every way to it.",
                    step.name,
                    what.word()
                );
                let mend = "Ask for it on every way before, or lead the other ways past this step.";
                findings.push(ground.finding(rule, place.flow, at, (wrong, mend)));
            }
        }
        findings
    },
};

#[derive(Clone, Copy, PartialEq, Eq)]
enum Use {
    Branch(usize),
    Value,
    Gear,
    Need,
}

impl Use {
    fn word(self) -> &'static str {
        match self {
            Use::Branch(_) => "branches on",
            Use::Value => "uses",
            Use::Gear => "leans on the gear",
            Use::Need => "runs a flow that needs",
        }
    }
}

/// For each flow, the needs that it cannot do without.
fn required<'a>(ground: &Ground<'a>) -> Vec<Vec<&'a FactName>> {
    let mut required: Vec<Vec<&FactName>> = vec![Vec::new(); ground.flows.len()];
    for flow in ground.runners_first.iter().rev() {
        let graph = ground.flow(*flow);
        let optional = optional_needs(graph);
        let steps = graph.steps.iter().enumerate();
        let used: Vec<&FactName> = steps
            .flat_map(|(step, it)| uses(ground, &required, Place { flow: *flow, step }, it))
            .map(|(fact, _, _)| fact)
            .collect();
        let needs = graph.flow.needs.iter().map(|need| &need.it);
        required[*flow] = needs
            .filter(|need| used.contains(need) && !optional.contains(need))
            .collect();
    }
    required
}

/// Every fact that a step cannot do without, where it says so, and for what. Texts are no such
/// use: they show "not known".
fn uses<'a>(
    ground: &Ground<'a>,
    required: &[Vec<&'a FactName>],
    place: Place,
    step: &'a Step,
) -> Vec<(&'a FactName, At, Use)> {
    let mut uses = Vec::new();
    let mut read = |expression: &'a Expression, at: At, what: Use| {
        for fact in expression.facts() {
            let is_outcome = fact.as_str() == crate::flow::OUTCOME;
            if !is_outcome && expression.may_lack_a_value_without(fact) {
                uses.push((fact, at, what));
            }
        }
    };
    match &step.act {
        Act::Measure(measure) => {
            for range in [&measure.plausible, &measure.expect].into_iter().flatten() {
                read(&range.from, range.from.at, Use::Value);
                read(&range.to, range.to.at, Use::Value);
            }
        }
        Act::Wait { long, .. } => read(long, long.at, Use::Value),
        Act::WorkOut(work) => {
            let needed = work.with.iter().filter(|(name, _)| {
                let mut takes = work.formula.takes.iter();
                !takes.any(|takes| takes.name == **name && takes.unless_given.is_some())
            });
            needed.for_each(|(_, expression)| read(expression, expression.at, Use::Value));
        }
        Act::Run(run) => {
            for expression in run.with.values() {
                read(expression, expression.at, Use::Value);
            }
        }
        _ => {}
    }
    for (number, branch) in step.then.iter().enumerate() {
        if let Some(when) = &branch.when {
            read(when, when.at, Use::Branch(number));
        }
    }
    if let Danger::TestsLive { gear, .. } = &step.danger {
        uses.extend(gear.iter().map(|fact| (&fact.it, fact.at, Use::Gear)));
    }
    if let (Act::Run(run), Some(inner)) = (&step.act, ground.flow(place.flow).runs[place.step]) {
        let by_name = required[inner]
            .iter()
            .filter(|need| !run.with.contains_key(**need));
        uses.extend(by_name.map(|need| (*need, run.flow.at, Use::Need)));
    }
    uses
}
