//! No two branches on the same numbers lay claim to the same values.

use super::super::cases::{self, Cases};
use super::super::finding::Grade;
use super::{Rule, outcomes_of};
use crate::flow::expression::Expression;
use crate::flow::model::Step;

pub(super) const RULE: Rule = Rule {
    name: "branch_overlap",
    grade: Grade::Advice,
    page: include_str!("../pages/branch_overlap.md"),
    run: |rule, ground| {
        let mut findings = Vec::new();
        for (place, step) in ground.places().filter(|(_, step)| step.then.len() > 1) {
            let pairs = pairs_of(step);
            if pairs.is_empty() {
                continue;
            }
            let graph = ground.flow(place.flow);
            let Some(cases) = Cases::of(graph, step, &outcomes_of(ground, place)) else {
                continue;
            };
            for pair in pairs {
                let Some(told) =
                    overlap(&cases, step, &pair, |case, when| case.told_to(graph, when))
                else {
                    continue;
                };
                let (to, late) = (&step.then[pair.early.0].go.it, &step.then[pair.late.0].go);
                let told = format!(
                    "In `{}` the branches to `{to}` and to `{}` both hold where {told}.",
                    step.name, late.it
                );
                let mend = "The first one is taken. Say in the conditions where the one ends and \
                            the other begins.";
                findings.push(ground.finding(rule, place.flow, late.at, (told, mend)));
            }
        }
        findings
    },
};

/// Two branches of a step that weigh the same things and lead to different steps.
struct Pair<'a> {
    early: (usize, &'a Expression),
    late: (usize, &'a Expression),
}

fn pairs_of(step: &Step) -> Vec<Pair<'_>> {
    let conditions = step.then.iter().enumerate();
    let conditions = conditions.filter_map(|(at, branch)| Some((at, branch.when.as_ref()?)));
    let conditions: Vec<(usize, &Expression)> = conditions.collect();
    let mut pairs = Vec::new();
    for (nth, early) in conditions.iter().copied().enumerate() {
        for late in conditions.iter().skip(nth + 1).copied() {
            let elsewhere = step.then[early.0].go.it != step.then[late.0].go.it;
            if elsewhere && cases::weigh_the_same(early.1, late.1) {
                pairs.push(Pair { early, late });
            }
        }
    }
    pairs
}

/// What a case shows in which the early branch is taken though the late one holds too. None where
/// there is no such case, and none where one of the two holds wherever the other does: a special
/// case before the general one is plainly meant.
fn overlap<'a>(
    cases: &Cases<'a>,
    step: &'a Step,
    pair: &Pair<'a>,
    tell: impl Fn(&cases::Case<'_, 'a>, &'a Expression) -> String,
) -> Option<String> {
    let (mut early_alone, mut late_alone, mut both) = (false, false, None);
    for case in cases.each() {
        match (case.holds(pair.early.1), case.holds(pair.late.1)) {
            (true, false) => early_alone = true,
            (false, true) => late_alone = true,
            (true, true) if both.is_none() && case.taken(step) == Some(pair.early.0) => {
                both = Some(tell(&case, pair.late.1));
            }
            _ => {}
        }
    }
    both.filter(|_| early_alone && late_alone)
}
