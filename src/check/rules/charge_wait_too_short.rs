//! What sets a charge `waited` is a wait that the engine enforces, and long enough.

use super::super::finding::Grade;
use super::super::ground::Graph;
use super::super::line;
use super::Rule;
use crate::flow::expression::{Amount, Node, Term};
use crate::flow::model::{Act, Setting, Step};
use crate::flow::name::FactName;
use crate::trade::rows;

pub(super) const RULE: Rule = Rule {
    name: "charge_wait_too_short",
    grade: Grade::Error,
    page: include_str!("../pages/charge_wait_too_short.md"),
    run: |rule, ground| {
        let mut findings = Vec::new();
        for (place, step) in ground.places() {
            let mut sets = step.sets.iter();
            let Some((source, _)) = sets.find(|(_, setting)| *setting == Setting::Waited) else {
                continue;
            };
            let Some(wrong) = wrong(ground.flow(place.flow), step) else {
                continue;
            };
            let told = (
                format!("`{}` sets `{}` waited, but {wrong}.", step.name, source.it),
                "Let a `wait` with `safety: true` do it, for `row(\"stored_charge_wait\")` or for \
                 the time of the nameplate, a minute at least.",
            );
            findings.push(ground.finding(rule, place.flow, source.at, told));
        }
        findings
    },
};

/// The least that a nameplate may ask for, seconds: common practice, no source.
const NAMEPLATE_LEAST: f64 = 60.0;

fn wrong(graph: &Graph<'_>, step: &Step) -> Option<&'static str> {
    let Act::Wait { long, safety } = &step.act else {
        return Some("it is no `wait`");
    };
    if !safety {
        return Some("its wait does not begin again after a restart");
    }
    let usual = rows::row("stored_charge_wait").map_or(NAMEPLATE_LEAST, |row| row.si);
    let wanted = if long.facts().is_empty() {
        usual
    } else {
        NAMEPLATE_LEAST
    };
    let least = match long.node() {
        Node::Amount(amount) => least_of(graph, amount),
        _ => None,
    };
    match least {
        Some(seconds) if seconds >= wanted => None,
        Some(_) => Some("its wait may be too short"),
        None => Some("nobody can see from its expression that it is long enough"),
    }
}

/// The least that an amount can be, where that is plain to see.
fn least_of(graph: &Graph<'_>, amount: &Amount) -> Option<f64> {
    let of = |amount| least_of(graph, amount);
    match amount.term.as_ref() {
        Term::Constant(si) | Term::Row { si, .. } => Some(*si),
        Term::Fact(fact) => Some(least(graph, fact)),
        Term::Sum(left, right) => Some(of(left)? + of(right)?),
        Term::Product(left, right) => {
            let both = (of(left)?, of(right)?);
            (both.0 >= 0.0 && both.1 >= 0.0).then_some(both.0 * both.1)
        }
        Term::Greatest(list) => list.iter().filter_map(of).reduce(f64::max),
        Term::Least(list) => {
            let all: Option<Vec<f64>> = list.iter().map(of).collect();
            all?.into_iter().reduce(f64::min)
        }
        Term::Choice {
            then, otherwise, ..
        } => Some(of(then)?.min(of(otherwise)?)),
        Term::Negative(_) | Term::Absolute(_) | Term::Difference(..) | Term::Quotient(..) => None,
    }
}

/// The least that a step which asks for the fact finds plausible.
fn least(graph: &Graph<'_>, fact: &FactName) -> f64 {
    let asked = graph.steps.iter().filter_map(|step| match &step.act {
        Act::Measure(measure) if measure.fact == *fact => measure.plausible.as_ref(),
        _ => None,
    });
    asked
        .map(|range| line::constant(&range.from).unwrap_or(f64::NEG_INFINITY))
        .reduce(f64::min)
        .unwrap_or(f64::INFINITY)
}
