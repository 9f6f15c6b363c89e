//! What counts as no voltage stays within the one row for it.

use super::super::finding::Grade;
use super::super::ground::{Graph, Ground, Place};
use super::Rule;
use crate::flow::expression::{Expression, Facts};
use crate::flow::model::{Act, Danger, FactType, Measure, SourceKind, Step};
use crate::flow::name::FactName;
use crate::trade::formula::Value;
use crate::trade::quantity::{Kind, Quantity};
use crate::trade::rows;

pub(super) const RULE: Rule = Rule {
    name: "limit_too_wide",
    grade: Grade::Error,
    page: include_str!("../pages/limit_too_wide.md"),
    run: |rule, ground| {
        let limit = rows::row("absence_of_voltage_limit").map_or(0.0, |row| row.si);
        let mut findings = Vec::new();
        for (place, step) in ground.places() {
            let wrong = match &step.act {
                Act::ProveDead(proof) if proof.limit.si > limit => {
                    format!("`{}` lets more than {limit} V pass as dead.", step.name)
                }
                Act::Measure(measure) if is_of_charge(ground, place, step, measure) => {
                    let graph = ground.flow(place.flow);
                    let passed = passes(step, measure, limit);
                    match passed.or_else(|| reaches_in(graph, step, measure, limit)) {
                        Some(wrong) => wrong,
                        None => continue,
                    }
                }
                _ => continue,
            };
            let mend = "Compare with `row(\"absence_of_voltage_limit\")`, and lead what is above \
                        it, hands off, back to the draining.";
            findings.push(ground.finding(rule, place.flow, step.at, (wrong, mend)));
        }
        findings
    },
};

/// Volts that are tried above the limit.
const TRIED: [f64; 6] = [5.0, 12.0, 30.0, 49.0, 51.0, 400.0];

/// Whether hands are at a charge and its volts are read.
fn is_of_charge(ground: &Ground<'_>, place: Place, step: &Step, measure: &Measure) -> bool {
    let flow = ground.flow(place.flow).flow;
    let holds = flow.facts.get(&measure.fact).map(|fact| &fact.holds);
    let volts = matches!(
        holds,
        Some(FactType::Measures {
            kind: Kind::Voltage,
            ..
        })
    );
    let Danger::Touches(sources) = &step.danger else {
        return false;
    };
    let mut kinds = sources
        .iter()
        .filter_map(|source| flow.energy.get(&source.it));
    volts && kinds.any(|source| source.kind == SourceKind::Charge)
}

/// Volts above the limit, both ways round, that can be typed here.
fn above(measure: &Measure, limit: f64) -> impl Iterator<Item = f64> + use<'_> {
    struct Nothing;
    impl Facts for Nothing {
        fn value(&self, _: &FactName) -> Option<&Value> {
            None
        }
    }
    let end = |end: &Expression| end.quantity(&Nothing).ok().map(|it| it.si);
    let ends = measure.plausible.as_ref();
    let ends = ends.map(|range| (end(&range.from), end(&range.to)));
    let (from, to) = ends.unwrap_or_default();
    std::iter::once(limit * 1.01)
        .chain(TRIED)
        .filter(move |volts| *volts > limit)
        .flat_map(|volts| [volts, -volts])
        .filter(move |volts| from.is_none_or(|it| *volts >= it) && to.is_none_or(|it| *volts <= it))
}

/// What is wrong where a reading above the limit takes the same way as none at all.
fn passes(step: &Step, measure: &Measure, limit: f64) -> Option<String> {
    let at_zero = taken(step, &measure.fact, 0.0)?;
    let volts =
        above(measure, limit).find(|volts| taken(step, &measure.fact, *volts) == Some(at_zero))?;
    Some(format!(
        "`{}` goes on at {} V as if nothing were left; {limit} V is the limit.",
        step.name,
        rounded(volts)
    ))
}

/// What is wrong where a reading above the limit leads to hands going in.
fn reaches_in(graph: &Graph<'_>, step: &Step, measure: &Measure, limit: f64) -> Option<String> {
    above(measure, limit).find_map(|volts| {
        let branch = step.then.get(taken(step, &measure.fact, volts)?)?;
        let next = graph.flow.step(&branch.go.it)?;
        matches!(next.danger, Danger::Touches(_)).then(|| {
            format!(
                "`{}` leads at {} V to `{}`, where hands go in.",
                step.name,
                rounded(volts),
                next.name
            )
        })
    })
}

fn rounded(volts: f64) -> f64 {
    (volts * 100.0).round() / 100.0
}

/// The branch that is taken at so many volts, where they alone decide it.
fn taken(step: &Step, fact: &FactName, volts: f64) -> Option<usize> {
    struct Reading<'f>(&'f FactName, Value);
    impl Facts for Reading<'_> {
        fn value(&self, name: &FactName) -> Option<&Value> {
            (name == self.0).then_some(&self.1)
        }
    }
    let quantity = Quantity {
        kind: Kind::Voltage,
        si: volts,
    };
    let reading = Reading(fact, Value::Quantity(quantity));
    for (number, branch) in step.then.iter().enumerate() {
        let holds = branch.when.as_ref().map(|when| when.holds(&reading));
        match holds {
            None | Some(Ok(true)) => return Some(number),
            Some(Ok(false)) => {}
            Some(Err(_)) => return None,
        }
    }
    None
}
