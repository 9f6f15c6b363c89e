//! Reading what a step's kind asks of the person.

use super::super::expression::{Expression, Type};
use super::super::model::{Act, FactType, Located, Measure, Range};
use super::super::name::{FactName, OutcomeName};
use super::super::tree::Tree;
use super::fields::{Fields, Report, did_you_mean};
use super::header::expression;
use super::scope::type_of;
use super::step::{Head, role, truth};
use super::tables::KINDS;
use super::{proof, run, work_out};
use crate::trade::quantity::Kind;

/// The kind of a step: exactly one of [`KINDS`].
pub(super) fn act(
    report: &mut Report<'_>,
    head: &Head<'_>,
    fields: &mut Fields<'_>,
) -> Option<Act> {
    let at = fields.at();
    let mut found: Vec<(&'static str, &Tree)> = Vec::new();
    for kind in KINDS {
        if let Some((key, value)) = fields.take_entry(kind) {
            if !found.is_empty() {
                report.add(
                    key.at,
                    format!("A step has one kind; this one is already `{}`.", found[0].0),
                    "Make two steps of it.",
                );
            }
            found.push((kind, value));
        }
    }
    let Some((kind, tree)) = found.first().copied() else {
        report.add(
            at,
            "The step does not say what the person does.",
            "Add one of `tell`, `confirm`, `choose`, `measure`, `photo`, `write`, `wait`, \
             `work_out`, `prove_dead`, `hold`, `run`, `finish`.",
        );
        return None;
    };
    match kind {
        "tell" => Some(Act::Tell {
            button: report.text(tree, "The button")?,
        }),
        "confirm" => Some(Act::Confirm {
            button: report.text(tree, "The button")?,
        }),
        "choose" => {
            let wanted =
                |holds: &FactType| matches!(holds, FactType::OneOf(_) | FactType::SomeOf(_));
            Some(Act::Choose {
                fact: fact_for(report, head, tree, wanted, "choices")?,
            })
        }
        "measure" => measure(report, head, fields, tree),
        "photo" => {
            let wanted = |holds: &FactType| matches!(holds, FactType::Photo { .. });
            Some(Act::Photo {
                fact: fact_for(report, head, tree, wanted, "a photo")?,
            })
        }
        "write" => {
            let wanted = |holds: &FactType| matches!(holds, FactType::Text { .. });
            Some(Act::Write {
                fact: fact_for(report, head, tree, wanted, "text")?,
            })
        }
        "wait" => wait(report, head, fields, tree),
        "work_out" => work_out::work_out(report, head, fields, tree),
        "prove_dead" => proof::prove_dead(report, head, fields, tree),
        "hold" => hold(report, fields, tree),
        "run" => run::run(report, head, fields, tree),
        _ => finish(report, head, tree),
    }
}

/// The declared fact that `tree` names, if it holds what is wanted.
fn fact_for(
    report: &mut Report<'_>,
    head: &Head<'_>,
    tree: &Tree,
    wanted: impl Fn(&FactType) -> bool,
    what: &str,
) -> Option<FactName> {
    let name = report.text(tree, "The fact")?;
    match head.facts.get(name.as_str()) {
        Some(fact) if wanted(&fact.holds) => Some(FactName::from(name)),
        Some(_) => {
            report.add(
                tree.at,
                format!("The fact `{name}` does not hold {what}."),
                "",
            );
            None
        }
        None => {
            report.add(
                tree.at,
                format!("`{name}` is not declared under `facts`."),
                did_you_mean(&name, head.facts.keys().map(FactName::as_str)),
            );
            None
        }
    }
}

fn measure(
    report: &mut Report<'_>,
    head: &Head<'_>,
    fields: &mut Fields<'_>,
    tree: &Tree,
) -> Option<Act> {
    let wanted = |holds: &FactType| {
        matches!(
            holds,
            FactType::Measures { .. } | FactType::Counts { .. } | FactType::Number { .. }
        )
    };
    let fact = fact_for(report, head, tree, wanted, "a reading or a number")?;
    let kind = type_of(&head.facts.get(&fact)?.holds);
    let plausible = fields
        .take("plausible")
        .and_then(|tree| range(report, head, tree, &kind));
    let expect = fields
        .take("expect")
        .and_then(|tree| range(report, head, tree, &kind));
    if plausible.is_none() && matches!(kind, Type::Quantity(_)) {
        report.add(
            tree.at,
            "A reading needs a plausible range.",
            "Add `plausible: { from: 'volt(0)', to: 'volt(700)' }` with this reading's unit.",
        );
    }
    let instrument = fields
        .take("instrument")
        .and_then(|tree| report.text(tree, "`instrument`"));
    let example = fields
        .take("example")
        .and_then(|tree| report.text(tree, "`example`"));
    Some(Act::Measure(Box::new(Measure {
        fact,
        plausible,
        expect,
        instrument,
        example,
    })))
}

fn range(report: &mut Report<'_>, head: &Head<'_>, tree: &Tree, kind: &Type) -> Option<Range> {
    let mut fields = Fields::of(report, tree, "The range");
    let from = fields.require(report, "from");
    let to = fields.require(report, "to");
    fields.finish(report);
    let from = typed(report, head, from?, kind);
    let to = typed(report, head, to?, kind);
    Some(Range {
        from: from?,
        to: to?,
    })
}

/// An expression that must be of type `wanted`.
fn typed(
    report: &mut Report<'_>,
    head: &Head<'_>,
    tree: &Tree,
    wanted: &Type,
) -> Option<Expression> {
    let expression = expression(report, tree, &head.scope())?;
    if expression.gives == *wanted {
        return Some(expression);
    }
    report.add(
        tree.at,
        format!(
            "This is {}; {} is expected here.",
            type_word(&expression.gives),
            type_word(wanted)
        ),
        "",
    );
    None
}

fn wait(
    report: &mut Report<'_>,
    head: &Head<'_>,
    fields: &mut Fields<'_>,
    tree: &Tree,
) -> Option<Act> {
    let long = typed(report, head, tree, &Type::Quantity(Kind::Duration))?;
    let safety = fields
        .take("safety")
        .is_some_and(|tree| truth(report, tree, "`safety`"));
    Some(Act::Wait { long, safety })
}

fn hold(report: &mut Report<'_>, fields: &mut Fields<'_>, tree: &Tree) -> Option<Act> {
    let said = Located {
        at: tree.at,
        it: report.text(tree, "The role")?,
    };
    let role = role(report, &said);
    let release = fields
        .require(report, "release")
        .and_then(|tree| report.text(tree, "`release`"));
    Some(Act::Hold {
        role: role?,
        release: release?,
    })
}

fn finish(report: &mut Report<'_>, head: &Head<'_>, tree: &Tree) -> Option<Act> {
    let name = report.text(tree, "The outcome")?;
    if !head.outcomes.contains_key(name.as_str()) {
        report.add(
            tree.at,
            format!("`{name}` is not declared under `outcomes`."),
            did_you_mean(&name, head.outcomes.keys().map(OutcomeName::as_str)),
        );
        return None;
    }
    Some(Act::Finish {
        outcome: OutcomeName::from(name),
    })
}

/// A type in words: `a voltage`.
pub(super) fn type_word(of: &Type) -> String {
    match of {
        Type::Bool => "true or false".to_owned(),
        Type::Number => "a plain number".to_owned(),
        Type::Quantity(kind) => format!("a {}", kind.word()),
        Type::Word(_) => "one choice".to_owned(),
        Type::Words(_) => "several choices".to_owned(),
        Type::Text => "text".to_owned(),
        Type::Quantities(kind) => format!("a list of {}", kind.word()),
        Type::Photo => "a photo".to_owned(),
    }
}
