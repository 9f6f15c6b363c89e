//! Reading a `run` step: which flow, and how its facts and sources bind to the runner's.

use indexmap::IndexMap;

use super::super::model::{Act, Located, Run};
use super::super::name::{ChoiceKey, FactName, FlowName, SourceName};
use super::super::tree::Tree;
use super::fields::{Fields, Report, did_you_mean};
use super::header::expression;
use super::step::{Head, source_name};

pub(super) fn run(
    report: &mut Report<'_>,
    head: &Head<'_>,
    fields: &mut Fields<'_>,
    tree: &Tree,
) -> Option<Act> {
    let flow = Located {
        at: tree.at,
        it: FlowName::from(report.text(tree, "The flow")?),
    };
    if (head.outcomes_of)(&flow.it).is_none() {
        report.add(
            flow.at,
            format!("There is no flow `{}` to run.", flow.it),
            "Write it, or correct the name.",
        );
    }
    let mut with = IndexMap::new();
    if let Some(tree) = fields.take("with") {
        for (need, value) in report.map(tree, "`with`") {
            if let Some(expression) = expression(report, value, &head.scope()) {
                with.insert(FactName::from(need.it.as_str()), expression);
            }
        }
    }
    let mut take = IndexMap::new();
    if let Some(tree) = fields.take("take") {
        for (own, given) in report.map(tree, "`take`") {
            let known = head.facts.contains_key(own.it.as_str());
            if !known {
                report.add(
                    own.at,
                    format!("`{}` is not declared under `facts`.", own.it),
                    did_you_mean(&own.it, head.facts.keys().map(FactName::as_str)),
                );
            }
            if let (true, Some(given)) = (known, report.text(given, "The given fact")) {
                take.insert(FactName::from(own.it.as_str()), FactName::from(given));
            }
        }
    }
    let mut energy = IndexMap::new();
    if let Some(tree) = fields.take("energy") {
        for (its, own) in report.map(tree, "`energy`") {
            let Some(own_name) = report.text(own, "The source") else {
                continue;
            };
            let own = Located {
                at: own.at,
                it: own_name,
            };
            if let Some(own) = source_name(report, head, &own) {
                energy.insert(SourceName::from(its.it.as_str()), own.it);
            }
        }
    }
    Some(Act::Run(Box::new(Run {
        flow,
        with,
        take,
        energy,
    })))
}

/// The outcome words that the branches of a `run` step may ask for.
pub(super) fn outcomes(head: &Head<'_>, act: Option<&Act>) -> Option<Vec<ChoiceKey>> {
    let Some(Act::Run(run)) = act else {
        return None;
    };
    Some((head.outcomes_of)(&run.flow.it).unwrap_or_default())
}
