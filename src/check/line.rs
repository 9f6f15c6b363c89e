//! Amounts that are a straight line in one fact: where two of them meet, and samples of the fact
//! on every side of it.

use std::cmp::Ordering;

use super::ground::Graph;
use crate::flow::expression::{Amount, Expression, Node, Term, Truth};
use crate::flow::model::{Act, FactType};
use crate::flow::name::FactName;
use crate::trade::quantity::{Quantity, nearly_equal, plain_number};

/// `slope × fact + constant`, in SI.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Line<'a> {
    pub(super) fact: Option<&'a FactName>,
    slope: f64,
    constant: f64,
}

impl Line<'_> {
    /// Whether it is below, at or above zero where the fact has this value; as the engine does,
    /// two amounts that differ by rounding alone count as equal.
    pub(super) fn sign_at(&self, value: f64) -> Ordering {
        let (one, other) = (self.slope * value, -self.constant);
        if nearly_equal(one, other) {
            return Ordering::Equal;
        }
        one.partial_cmp(&other).unwrap_or(Ordering::Equal)
    }

    /// Where it is zero.
    fn zero(&self) -> Option<f64> {
        let zero = -self.constant / self.slope;
        (self.slope != 0.0 && zero.is_finite()).then_some(zero)
    }
}

/// `left - right` as a straight line in at most one fact, where it is one.
pub(super) fn difference<'a>(left: &'a Amount, right: &'a Amount) -> Option<Line<'a>> {
    sum(of(left)?, of(right)?, -1.0)
}

/// A constant, or nothing.
pub(super) fn constant(expression: &Expression) -> Option<f64> {
    match expression.node() {
        Node::Amount(amount) => of(amount)
            .filter(|line| line.fact.is_none())
            .map(|line| line.constant),
        _ => None,
    }
}

fn sum<'a>(left: Line<'a>, right: Line<'a>, sign: f64) -> Option<Line<'a>> {
    let fact = match (left.fact, right.fact) {
        (Some(one), Some(other)) if one != other => return None,
        (one, other) => one.or(other),
    };
    Some(Line {
        fact,
        slope: left.slope + sign * right.slope,
        constant: left.constant + sign * right.constant,
    })
}

fn scaled<'a>(line: Line<'a>, factor: f64) -> Line<'a> {
    Line {
        fact: line.fact,
        slope: line.slope * factor,
        constant: line.constant * factor,
    }
}

fn of(amount: &Amount) -> Option<Line<'_>> {
    let flat = |constant| Line {
        fact: None,
        slope: 0.0,
        constant,
    };
    match amount.term.as_ref() {
        Term::Constant(si) | Term::Row { si, .. } => Some(flat(*si)),
        Term::Fact(fact) => Some(Line {
            fact: Some(fact),
            slope: 1.0,
            constant: 0.0,
        }),
        Term::Negative(inner) => Some(scaled(of(inner)?, -1.0)),
        Term::Sum(left, right) => sum(of(left)?, of(right)?, 1.0),
        Term::Difference(left, right) => sum(of(left)?, of(right)?, -1.0),
        Term::Product(left, right) => match (of(left)?, of(right)?) {
            (line, factor) | (factor, line) if factor.fact.is_none() => {
                Some(scaled(line, factor.constant))
            }
            _ => None,
        },
        Term::Quotient(left, right) => {
            let factor = of(right).filter(|line| line.fact.is_none())?;
            Some(scaled(of(left)?, 1.0 / factor.constant))
        }
        Term::Absolute(_) | Term::Least(_) | Term::Greatest(_) | Term::Choice { .. } => None,
    }
}

/// Samples of a fact: every place where a condition changes, one between each two of them, and
/// one beyond each end, within what the fact can be.
pub(super) fn samples(graph: &Graph<'_>, fact: &FactName, truths: &[&Truth]) -> Vec<f64> {
    let mut changes: Vec<f64> = Vec::new();
    for truth in truths {
        collect(truth, fact, &mut changes);
    }
    let (least, most, whole) = range(graph, fact);
    changes.extend([least, most].into_iter().filter(|end| end.is_finite()));
    changes.sort_by(f64::total_cmp);
    changes.dedup_by(|one, other| nearly_equal(*one, *other));
    let mut samples: Vec<f64> = changes.clone();
    samples.extend(
        changes
            .windows(2)
            .map(|pair| f64::midpoint(pair[0], pair[1])),
    );
    if let (Some(first), Some(last)) = (changes.first(), changes.last()) {
        samples.push(first - first.abs().max(1.0));
        samples.push(last + last.abs().max(1.0));
    } else {
        samples.push(0.0);
    }
    if whole {
        let around = samples
            .iter()
            .flat_map(|it| [it.floor() - 1.0, it.floor(), it.ceil(), it.ceil() + 1.0]);
        samples = around.collect();
    }
    samples.retain(|it| *it >= least && *it <= most);
    samples.sort_by(f64::total_cmp);
    samples.dedup();
    samples
}

fn collect(truth: &Truth, fact: &FactName, changes: &mut Vec<f64>) {
    match truth {
        Truth::Constant(_)
        | Truth::Known(_)
        | Truth::Is { .. }
        | Truth::OneOf { .. }
        | Truth::Has { .. } => {}
        Truth::Not(inner) => collect(inner, fact, changes),
        Truth::And(left, right) | Truth::Or(left, right) => {
            collect(left, fact, changes);
            collect(right, fact, changes);
        }
        Truth::Choice {
            when,
            then,
            otherwise,
        } => {
            for inner in [when, then, otherwise] {
                collect(inner, fact, changes);
            }
        }
        Truth::Compare { left, right, .. } => {
            let line = difference(left, right).filter(|line| line.fact == Some(fact));
            changes.extend(line.and_then(|line| line.zero()));
        }
    }
}

/// What a fact can be: its least, its most, and whether it is a whole number. A reading is
/// bounded by what every step that asks for it finds plausible.
fn range(graph: &Graph<'_>, fact: &FactName) -> (f64, f64, bool) {
    let free = (f64::NEG_INFINITY, f64::INFINITY, false);
    match graph.flow.facts.get(fact).map(|fact| &fact.holds) {
        Some(FactType::Counts { from, to, .. }) => (f64::from(*from), f64::from(*to), true),
        Some(_) if is_given(graph, fact) => free,
        Some(_) => {
            let asked = graph.steps.iter().filter_map(|step| match &step.act {
                Act::Measure(measure) if measure.fact == *fact => measure.plausible.as_ref(),
                _ => None,
            });
            let ends = asked.map(|range| {
                let least = constant(&range.from).unwrap_or(f64::NEG_INFINITY);
                let most = constant(&range.to).unwrap_or(f64::INFINITY);
                (least, most)
            });
            let joined = ends.reduce(|one, other| (one.0.min(other.0), one.1.max(other.1)));
            joined.map_or(free, |(least, most)| (least, most, false))
        }
        None => free,
    }
}

/// Whether a fact comes from somewhere else than a `measure` step of this flow.
fn is_given(graph: &Graph<'_>, fact: &FactName) -> bool {
    graph.flow.needs.iter().any(|need| need.it == *fact)
        || graph.steps.iter().any(|step| match &step.act {
            Act::WorkOut(work) => work.store.contains_key(fact),
            Act::Run(run) => run.take.contains_key(fact),
            _ => false,
        })
}

/// A value of a fact with its unit.
pub(super) fn shown(graph: &Graph<'_>, fact: &FactName, si: f64) -> String {
    match graph.flow.facts.get(fact).map(|fact| &fact.holds) {
        Some(FactType::Measures { kind, show_in }) => Quantity { kind: *kind, si }.show(show_in),
        Some(FactType::Counts { noun, .. } | FactType::Number { noun }) => {
            format!("{} {noun}", plain_number(si))
        }
        _ => plain_number(si),
    }
}
