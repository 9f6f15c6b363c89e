//! What counts as no voltage stays within the one row for it.

use super::super::finding::Grade;
use super::super::ground::{Ground, Place};
use super::Rule;
use crate::flow::expression::Facts;
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
                    match passes(step, measure, limit) {
                        Some(volts) => format!(
                            "`{}` goes on at {volts} V as if nothing were left; {limit} V is the \
                             limit.",
                            step.name
                        ),
                        None => continue,
                    }
                }
                _ => continue,
            };
            let mend = "Compare with `row(\"absence_of_voltage_limit\")`, and lead what is above \
                        it back to the draining.";
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

/// The first reading above the limit that takes the same way as none at all.
fn passes(step: &Step, measure: &Measure, limit: f64) -> Option<f64> {
    let at_zero = taken(step, &measure.fact, 0.0)?;
    let above = std::iter::once(limit * 1.01).chain(TRIED);
    above
        .filter(|volts| *volts > limit)
        .find(|volts| taken(step, &measure.fact, *volts) == Some(at_zero))
        .map(|volts| (volts * 100.0).round() / 100.0)
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
