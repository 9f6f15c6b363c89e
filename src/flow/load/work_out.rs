//! Reading a `work_out` step: the formula, its inputs and where its results go.

use indexmap::IndexMap;

use super::super::expression::{Expression, Type};
use super::super::model::{Act, FactType, Located, WorkOut};
use super::super::name::{FactName, StepName};
use super::super::tree::Tree;
use super::act::type_word;
use super::fields::{Fields, Report, did_you_mean};
use super::header::expression;
use super::step::Head;
use crate::trade::formula::{Formula, TRUTH, ValueType};
use crate::trade::{formula_named, formulas};

pub(super) fn work_out(
    report: &mut Report<'_>,
    head: &Head<'_>,
    fields: &mut Fields<'_>,
    tree: &Tree,
) -> Option<Act> {
    let name = report.text(tree, "The formula")?;
    let with_tree = fields.take("with");
    let store_tree = fields.take("store");
    let unable = fields.require(report, "unable").and_then(|tree| {
        report.text(tree, "`unable`").map(|it| Located {
            at: tree.at,
            it: StepName::from(it),
        })
    });
    let Some(formula) = formula_named(&name) else {
        report.add(
            tree.at,
            format!("There is no formula `{name}`."),
            did_you_mean(&name, formulas().map(|formula| formula.name)),
        );
        return None;
    };
    let with = with_tree
        .map(|tree| inputs(report, head, tree, formula))
        .unwrap_or_default();
    for parameter in formula.takes {
        if parameter.unless_given.is_none() && !with.contains_key(parameter.name) {
            report.add(
                tree.at,
                format!("The formula `{name}` needs `{}`.", parameter.name),
                format!("Add it under `with`: {}", parameter.about),
            );
        }
    }
    let store = store_tree
        .map(|tree| stored(report, head, tree, formula))
        .unwrap_or_default();
    Some(Act::WorkOut(Box::new(WorkOut {
        formula,
        with,
        store,
        unable: unable?,
    })))
}

fn inputs(
    report: &mut Report<'_>,
    head: &Head<'_>,
    tree: &Tree,
    formula: &Formula,
) -> IndexMap<String, Expression> {
    let mut with = IndexMap::new();
    for (name, value) in report.map(tree, "`with`") {
        let Some(parameter) = formula.takes.iter().find(|takes| takes.name == name.it) else {
            report.add(
                name.at,
                format!("The formula `{}` takes no `{}`.", formula.name, name.it),
                did_you_mean(&name.it, formula.takes.iter().map(|takes| takes.name)),
            );
            continue;
        };
        let Some(expression) = expression(report, value, &head.scope()) else {
            continue;
        };
        if fits(&expression, &parameter.takes) {
            with.insert(name.it.clone(), expression);
        } else {
            report.add(
                value.at,
                format!(
                    "`{}` is {}; the formula wants {}.",
                    name.it,
                    type_word(&expression.gives),
                    value_type_word(&parameter.takes)
                ),
                parameter.about,
            );
        }
    }
    with
}

/// Whether what an expression gives may go into a formula's input.
fn fits(expression: &Expression, takes: &ValueType) -> bool {
    match (&expression.gives, takes) {
        (Type::Quantity(kind), ValueType::Quantity(wanted)) => kind == wanted,
        (Type::Quantity(kind), ValueType::Quantities(wanted)) => kind == wanted,
        (Type::Quantities(kind), ValueType::Quantities(wanted)) => kind == wanted,
        (Type::Number, ValueType::Number) => true,
        (Type::Word(keys), ValueType::Word(words)) => {
            keys.iter().all(|key| words.contains(&key.as_str()))
        }
        (Type::Word(_) | Type::Text, ValueType::Text) => true,
        (Type::Bool, ValueType::Word(words)) => *words == TRUTH,
        _ => false,
    }
}

fn value_type_word(takes: &ValueType) -> String {
    match takes {
        ValueType::Quantity(kind) => format!("a {}", kind.word()),
        ValueType::Quantities(kind) => format!("a list of {}", kind.word()),
        ValueType::Number => "a plain number".to_owned(),
        ValueType::Word(words) => format!("one of {}", words.join(", ")),
        ValueType::Text => "text".to_owned(),
    }
}

fn stored(
    report: &mut Report<'_>,
    head: &Head<'_>,
    tree: &Tree,
    formula: &Formula,
) -> IndexMap<FactName, String> {
    let mut store = IndexMap::new();
    for (fact, result) in report.map(tree, "`store`") {
        let Some(declared) = head.facts.get(fact.it.as_str()) else {
            report.add(
                fact.at,
                format!("`{}` is not declared under `facts`.", fact.it),
                did_you_mean(&fact.it, head.facts.keys().map(FactName::as_str)),
            );
            continue;
        };
        let Some(name) = report.text(result, "The result") else {
            continue;
        };
        let Some(output) = formula.gives.iter().find(|gives| gives.name == name) else {
            report.add(
                result.at,
                format!("The formula `{}` gives no `{name}`.", formula.name),
                did_you_mean(&name, formula.gives.iter().map(|gives| gives.name)),
            );
            continue;
        };
        if holds(&declared.holds, &output.gives) {
            store.insert(FactName::from(fact.it.as_str()), name);
        } else {
            report.add(
                fact.at,
                format!(
                    "The fact `{}` cannot hold `{name}`, which is {}.",
                    fact.it,
                    value_type_word(&output.gives)
                ),
                "Declare the fact to hold exactly that.",
            );
        }
    }
    store
}

fn holds(fact: &FactType, gives: &ValueType) -> bool {
    match (fact, gives) {
        (FactType::Measures { kind, .. }, ValueType::Quantity(given)) => kind == given,
        (FactType::Number { .. } | FactType::Counts { .. }, ValueType::Number) => true,
        (FactType::OneOf(choices), ValueType::Word(words)) => {
            words.iter().all(|word| choices.contains_key(*word))
        }
        (FactType::Text { .. }, ValueType::Text | ValueType::Word(_)) => true,
        _ => false,
    }
}
