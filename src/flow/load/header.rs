//! Reading the head of a flow: its facts, its energy sources, its outcomes.

use indexmap::IndexMap;

use super::super::expression::{Expression, Type};
use super::super::heading::Heading;
use super::super::model::{
    Competence, Fact, FactType, Located, LookAgain, Role, Source, SourceKind, Stays,
};
use super::super::name::{ChoiceKey, CompetenceName, FactName, FlowName, OutcomeName, SourceName};
use super::super::tree::{Shape, Tree};
use super::fields::{Fields, Report, did_you_mean};
use super::scope::FlowScope;
use super::step::{role, seconds};
use super::tables::{HEADINGS, SOURCE_KINDS, STAYS};
use crate::trade::quantity::{Kind, Unit};

/// Words that YAML or the expression language takes for something else.
const RESERVED: &[&str] = &[
    "on", "off", "yes", "no", "true", "false", "null", "known", "row", "min", "max", "abs", "in",
    "outcome",
];

/// Whether `text` may be the name of a fact, source, step, outcome or choice.
pub(super) fn plain_name(report: &mut Report<'_>, name: &Located<String>, what: &str) -> bool {
    let first_is_letter = name.it.starts_with(|c: char| c.is_ascii_lowercase());
    let plain = name
        .it
        .chars()
        .all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '_');
    let good = first_is_letter && plain && name.it.len() <= 48;
    if !good {
        report.add(
            name.at,
            format!("`{}` cannot be the name of {what}.", name.it),
            "Use small letters, digits and _, at most 48, beginning with a letter.",
        );
        return false;
    }
    if RESERVED.contains(&name.it.as_str()) {
        report.add(
            name.at,
            format!(
                "`{}` is a reserved word and cannot be the name of {what}.",
                name.it
            ),
            "Choose another name.",
        );
        return false;
    }
    true
}

pub(super) fn outcomes(report: &mut Report<'_>, tree: &Tree) -> IndexMap<OutcomeName, String> {
    let mut outcomes = IndexMap::new();
    for (name, label) in report.map(tree, "outcomes") {
        if plain_name(report, name, "an outcome")
            && let Some(label) = report.text(label, "The outcome's label")
        {
            outcomes.insert(OutcomeName::from(name.it.as_str()), label);
        }
    }
    outcomes
}

pub(super) fn competences(
    report: &mut Report<'_>,
    tree: Option<&Tree>,
) -> IndexMap<CompetenceName, Competence> {
    let mut competences = IndexMap::new();
    let Some(tree) = tree else { return competences };
    for (name, label) in report.map(tree, "competences") {
        if plain_name(report, name, "a competence")
            && let Some(label) = report.text(label, "The competence's label")
        {
            let competence = Competence { at: name.at, label };
            competences.insert(CompetenceName::from(name.it.as_str()), competence);
        }
    }
    competences
}

/// Where somebody is to be asked whether they are all right.
pub(super) fn check_ins(
    report: &mut Report<'_>,
    tree: Option<&Tree>,
    facts: &IndexMap<FactName, Fact>,
) -> Option<Expression> {
    let scope = FlowScope {
        facts,
        outcome: None,
    };
    condition(report, tree?, &scope)
}

pub(super) fn facts(report: &mut Report<'_>, tree: &Tree) -> IndexMap<FactName, Fact> {
    let mut facts = IndexMap::new();
    for (name, declared) in report.map(tree, "facts") {
        if plain_name(report, name, "a fact")
            && let Some(fact) = fact(report, name, declared)
        {
            facts.insert(FactName::from(name.it.as_str()), fact);
        }
    }
    facts
}

fn fact(report: &mut Report<'_>, name: &Located<String>, tree: &Tree) -> Option<Fact> {
    let mut fields = Fields::of(report, tree, "The fact");
    let label = fields
        .take("label")
        .and_then(|label| report.text(label, "The label"))
        .unwrap_or_else(|| name.it.replace('_', " "));
    let holds = fact_type(report, &mut fields);
    if holds.is_none() {
        report.add(
            tree.at,
            format!("The fact `{}` does not say what it holds.", name.it),
            "Say one of `one_of`, `some_of`, `measures`, `counts`, `number`, `text`, `photo`.",
        );
    }
    let held = fields
        .take("held")
        .map(|tree| held(report, tree, holds.as_ref()))
        .unwrap_or_default();
    let stays = fields.take("stays").and_then(|tree| stays(report, tree));
    let first_page = fields
        .take("first_page")
        .and_then(|tree| first_page(report, tree, holds.as_ref()));
    fields.finish(report);
    Some(Fact {
        at: name.at,
        label,
        holds: holds?,
        held,
        stays,
        first_page,
    })
}

fn stays(report: &mut Report<'_>, tree: &Tree) -> Option<Stays> {
    let said = report.text(tree, "`stays`")?;
    let found = STAYS.iter().find(|(word, _)| *word == said);
    if found.is_none() {
        let words: Vec<&str> = STAYS.iter().map(|(word, _)| *word).collect();
        report.add(
            tree.at,
            format!("A fact cannot stay as `{said}`: {} can.", words.join(", ")),
            did_you_mean(&said, words.iter().copied()),
        );
    }
    found.map(|(_, stays)| *stays)
}

/// The heading on the report's first page.
fn first_page(report: &mut Report<'_>, tree: &Tree, holds: Option<&FactType>) -> Option<Heading> {
    let said = report.text(tree, "`first_page`")?;
    let heading = HEADINGS.iter().find(|(word, _)| *word == said);
    if heading.is_none() {
        report.add(
            tree.at,
            format!("`{said}` is no heading of the report's first page."),
            "It can be `found`, `done`, `gained` or `open`.",
        );
    }
    if matches!(holds, Some(FactType::Photo { .. })) {
        report.add(
            tree.at,
            "A photo does not stand on the report's first page.",
            "Photos follow behind it by themselves.",
        );
    }
    heading.map(|(_, heading)| *heading)
}

/// Keys with the role that has to release what follows.
fn held(
    report: &mut Report<'_>,
    tree: &Tree,
    holds: Option<&FactType>,
) -> Vec<(Located<ChoiceKey>, Role)> {
    let mut held = Vec::new();
    let Some(FactType::OneOf(choices)) = holds else {
        report.add(
            tree.at,
            "Only a fact with `one_of` has keys that are held.",
            "",
        );
        return held;
    };
    for (key, said) in report.map(tree, "`held`") {
        if !choices.contains_key(key.it.as_str()) {
            let keys = choices.keys().map(ChoiceKey::as_str);
            let mend = did_you_mean(&key.it, keys);
            report.add(
                key.at,
                format!("`{}` is no choice of this fact.", key.it),
                mend,
            );
            continue;
        }
        let role = report.text(said, "The role").and_then(|it| {
            let said = Located { at: said.at, it };
            role(report, &said)
        });
        if let Some(role) = role {
            let key = Located {
                at: key.at,
                it: ChoiceKey::from(key.it.as_str()),
            };
            held.push((key, role));
        }
    }
    held
}

fn fact_type(report: &mut Report<'_>, fields: &mut Fields<'_>) -> Option<FactType> {
    if let Some(tree) = fields.take("one_of") {
        return Some(FactType::OneOf(choices(report, tree)));
    }
    if let Some(tree) = fields.take("some_of") {
        return Some(FactType::SomeOf(choices(report, tree)));
    }
    if let Some(tree) = fields.take("measures") {
        return measures(report, tree, fields.take("show_in"));
    }
    if let Some(tree) = fields.take("counts") {
        let noun = report.text(tree, "The noun")?;
        let from = fields
            .take("from")
            .and_then(|tree| report.whole(tree, "`from`"))
            .unwrap_or(0);
        let to = fields
            .take("to")
            .and_then(|tree| report.whole(tree, "`to`"))
            .unwrap_or(1000);
        return Some(FactType::Counts { noun, from, to });
    }
    if let Some(tree) = fields.take("number") {
        return Some(FactType::Number {
            noun: report.text(tree, "The noun")?,
        });
    }
    if let Some(tree) = fields.take("text") {
        return Some(FactType::Text {
            characters_max: report.whole(tree, "`text`")?,
        });
    }
    let tree = fields.take("photo")?;
    Some(FactType::Photo {
        of: report.text(tree, "What the photo shows")?,
    })
}

fn measures(report: &mut Report<'_>, tree: &Tree, show_in: Option<&Tree>) -> Option<FactType> {
    let word = report.text(tree, "The kind")?;
    let Some(kind) = Kind::named(&word) else {
        let words: Vec<String> = Kind::all()
            .iter()
            .map(|(_, word)| word.replace(' ', "_"))
            .collect();
        report.add(
            tree.at,
            format!("`{word}` is not a kind of quantity."),
            did_you_mean(&word, words.iter().map(String::as_str)),
        );
        return None;
    };
    let shown = show_in.and_then(|tree| {
        let symbol = report.text(tree, "The unit")?;
        let unit = kind
            .units()
            .find(|unit| unit.symbol == symbol)
            .or_else(|| Unit::typed(kind, &symbol));
        if unit.is_none() {
            report.add(
                tree.at,
                format!("`{symbol}` is not a unit of {}.", kind.word()),
                did_you_mean(&symbol, kind.units().map(|unit| unit.symbol)),
            );
        }
        unit
    });
    Some(FactType::Measures {
        kind,
        show_in: shown.unwrap_or_else(|| kind.usual_unit()),
    })
}

fn choices(report: &mut Report<'_>, tree: &Tree) -> IndexMap<ChoiceKey, String> {
    let mut choices = IndexMap::new();
    for (key, label) in report.map(tree, "The choices") {
        if plain_name(report, key, "a choice")
            && let Some(label) = report.text(label, "The choice's label")
        {
            choices.insert(ChoiceKey::from(key.it.as_str()), label);
        }
    }
    if choices.is_empty() {
        report.add(
            tree.at,
            "There is nothing to choose from.",
            "Name at least two choices.",
        );
    }
    choices
}

/// Names in `needs` and `gives`, each of which must be a declared fact.
pub(super) fn fact_names(
    report: &mut Report<'_>,
    tree: Option<&Tree>,
    facts: &IndexMap<FactName, Fact>,
    key: &str,
) -> Vec<Located<FactName>> {
    let Some(tree) = tree else { return Vec::new() };
    if matches!(tree.shape, Shape::Empty) {
        return Vec::new();
    }
    let mut names = Vec::new();
    for name in report.texts(tree, key) {
        if facts.contains_key(name.it.as_str()) {
            names.push(Located {
                at: name.at,
                it: FactName::from(name.it.as_str()),
            });
        } else {
            report.add(
                name.at,
                format!(
                    "`{key}` names `{}`, which is not declared under `facts`.",
                    name.it
                ),
                did_you_mean(&name.it, facts.keys().map(FactName::as_str)),
            );
        }
    }
    names
}

/// Who looks again, and when.
pub(super) fn look_again(
    report: &mut Report<'_>,
    tree: &Tree,
    facts: &IndexMap<FactName, Fact>,
) -> Option<LookAgain> {
    let mut fields = Fields::of(report, tree, "`look_again`");
    let after = fields.require(report, "after");
    let after_seconds = after.and_then(|tree| seconds(report, tree));
    let mut text_of = |report: &mut Report<'_>, key| {
        let tree = fields.require(report, key)?;
        let name = report.text(tree, "The fact")?;
        match facts.get(name.as_str()).map(|fact| &fact.holds) {
            Some(FactType::Text { .. }) => return Some(FactName::from(name)),
            Some(_) => report.add(
                tree.at,
                format!("`{name}` is no text, and `{key}` is said in words."),
                "Name a fact declared with `text`.",
            ),
            None => report.add(
                tree.at,
                format!("`{key}` names `{name}`, which is not declared under `facts`."),
                did_you_mean(&name, facts.keys().map(FactName::as_str)),
            ),
        }
        None
    };
    let owner = text_of(report, "owner");
    let date = text_of(report, "date");
    fields.finish(report);
    Some(LookAgain {
        after_seconds: after_seconds?,
        owner: owner?,
        date: date?,
    })
}

pub(super) fn energy(
    report: &mut Report<'_>,
    tree: &Tree,
    facts: &IndexMap<FactName, Fact>,
) -> IndexMap<SourceName, Source> {
    let mut sources = IndexMap::new();
    for (name, declared) in report.map(tree, "energy") {
        if plain_name(report, name, "an energy source")
            && let Some(source) = source(report, name, declared, facts)
        {
            sources.insert(SourceName::from(name.it.as_str()), source);
        }
    }
    for source in sources.values() {
        if let Some(feeder) = &source.fed_by
            && !sources.contains_key(feeder)
        {
            report.add(
                source.at,
                format!("`fed_by` names `{feeder}`, which is not declared under `energy`."),
                did_you_mean(feeder.as_str(), sources.keys().map(SourceName::as_str)),
            );
        }
    }
    sources
}

fn source(
    report: &mut Report<'_>,
    name: &Located<String>,
    tree: &Tree,
    facts: &IndexMap<FactName, Fact>,
) -> Option<Source> {
    let mut fields = Fields::of(report, tree, "The energy source");
    let kind = fields
        .require(report, "kind")
        .and_then(|tree| source_kind(report, tree));
    let label = fields
        .require(report, "label")
        .and_then(|tree| report.text(tree, "The label"));
    let fed_by = fields
        .take("fed_by")
        .and_then(|tree| report.text(tree, "`fed_by`"))
        .map(SourceName::from);
    let proved_by = fields
        .take("proved_by")
        .and_then(|tree| report.text(tree, "`proved_by`"))
        .map(FlowName::from);
    let scope = FlowScope {
        facts,
        outcome: None,
    };
    let exists_when = fields
        .take("exists_when")
        .and_then(|tree| condition(report, tree, &scope));
    fields.finish(report);
    Some(Source {
        at: name.at,
        kind: kind?,
        label: label?,
        fed_by,
        proved_by,
        exists_when,
    })
}

fn source_kind(report: &mut Report<'_>, tree: &Tree) -> Option<SourceKind> {
    let word = report.text(tree, "The kind")?;
    let found = SOURCE_KINDS.iter().find(|(kind, _)| *kind == word);
    if found.is_none() {
        report.add(
            tree.at,
            format!("`{word}` is not a kind of energy source."),
            "It can be `electrical`, `charge` or `motion`.",
        );
    }
    found.map(|(_, kind)| *kind)
}

/// An expression of any type.
pub(super) fn expression(
    report: &mut Report<'_>,
    tree: &Tree,
    scope: &FlowScope<'_>,
) -> Option<Expression> {
    let text = report.text(tree, "The expression")?;
    match Expression::compile(&text, tree.at, scope) {
        Ok(expression) => Some(expression),
        Err(faults) => {
            report.add_faults(tree, faults);
            None
        }
    }
}

/// An expression that is true or false.
pub(super) fn condition(
    report: &mut Report<'_>,
    tree: &Tree,
    scope: &FlowScope<'_>,
) -> Option<Expression> {
    let expression = expression(report, tree, scope)?;
    if expression.gives != Type::Bool {
        report.add(
            tree.at,
            "A condition must be true or false.",
            "Compare something, as in `supply < 0.9 * rated`.",
        );
        return None;
    }
    Some(expression)
}
