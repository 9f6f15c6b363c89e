//! Texts with expressions in braces: `Supply: {supply}. Good is {0.9 * rated} or more.`
//!
//! `{{` and `}}` stand for the braces themselves.

use super::expression::{Expression, Facts, Fault, Scope, Type};
use super::model::At;
use super::name::{ChoiceKey, FactName};
use crate::trade::formula::Value;
use crate::trade::quantity::{Kind, Quantity, Unit, plain_number};

/// What is shown for a value that is not known.
pub const NOT_KNOWN: &str = "not known";

/// The most characters of a number as it is shown, for [`Template::longest`].
pub const NUMBER_CHARACTERS_MAX: usize = 12;
/// The most characters of a text whose flow declares no limit, for [`Template::longest`].
const TEXT_CHARACTERS_MAX: u32 = 4_000;
/// The most readings of a list, for [`Template::longest`].
const READINGS_MAX: usize = 20;

/// A text whose braces are typed expressions.
#[derive(Clone, Debug)]
pub struct Template {
    /// As the file says it.
    pub source: String,
    parts: Vec<Part>,
}

#[derive(Clone, Debug)]
enum Part {
    Text(String),
    Shown(Box<Shown>),
}

/// An expression with what it needs to be shown: units and labels are settled at load.
#[derive(Clone, Debug)]
struct Shown {
    expression: Expression,
    unit: Option<&'static Unit>,
    labels: Vec<(ChoiceKey, String)>,
    characters_max: u32,
}

impl Template {
    /// Reads and types `text`, whose first character stands at `at`.
    ///
    /// # Errors
    /// Everything that is wrong with its braces and the expressions in them.
    pub fn compile(text: &str, at: At, scope: &dyn Scope) -> Result<Self, Vec<Fault>> {
        let mut parts = Vec::new();
        let mut faults = Vec::new();
        for piece in pieces(text, at) {
            match piece {
                Ok(Piece::Text(text)) => parts.push(Part::Text(text)),
                Ok(Piece::Braces { inside, at }) => match Shown::compile(inside, at, scope) {
                    Ok(shown) => parts.push(Part::Shown(Box::new(shown))),
                    Err(more) => faults.extend(more),
                },
                Err(fault) => faults.push(fault),
            }
        }
        if faults.is_empty() {
            let source = text.to_owned();
            Ok(Self { source, parts })
        } else {
            Err(faults)
        }
    }

    /// The text with every brace filled; what is not known is shown as [`NOT_KNOWN`].
    pub fn fill(&self, facts: &dyn Facts) -> String {
        self.build(|shown| match shown.expression.eval(facts) {
            Ok(value) => shown.show(&value),
            Err(_) => NOT_KNOWN.to_owned(),
        })
    }

    /// A text as long as the longest that it can give, for limits of channels.
    pub fn longest(&self) -> String {
        self.build(Shown::longest)
    }

    /// The expressions in its braces, in the order of the text.
    pub fn expressions(&self) -> impl Iterator<Item = &Expression> {
        self.parts.iter().filter_map(|part| match part {
            Part::Text(_) => None,
            Part::Shown(shown) => Some(&shown.expression),
        })
    }

    /// The facts whose values it reads, each once, in the order of the text.
    pub fn facts(&self) -> Vec<&FactName> {
        let mut facts = Vec::new();
        for fact in self.expressions().flat_map(Expression::facts) {
            if !facts.contains(&fact) {
                facts.push(fact);
            }
        }
        facts
    }

    fn build(&self, show: impl Fn(&Shown) -> String) -> String {
        self.parts
            .iter()
            .map(|part| match part {
                Part::Text(text) => text.clone(),
                Part::Shown(shown) => show(shown),
            })
            .collect()
    }
}

/// A stretch of a template's text.
enum Piece<'a> {
    /// Text, with doubled braces made single.
    Text(String),
    /// What stands between braces, and where.
    Braces { inside: &'a str, at: At },
}

fn pieces(text: &str, at: At) -> Vec<Result<Piece<'_>, Fault>> {
    let mut pieces = Vec::new();
    let mut plain = String::new();
    let mut rest = text;
    while let Some(brace) = rest.find(['{', '}']) {
        let (before, from) = rest.split_at(brace);
        plain.push_str(before);
        let offset = text.len() - from.len();
        if let Some(after) = from.strip_prefix("{{") {
            plain.push('{');
            rest = after;
        } else if let Some(after) = from.strip_prefix("}}") {
            plain.push('}');
            rest = after;
        } else if let Some(after) = from.strip_prefix('}') {
            pieces.push(Err(Fault {
                at: place(text, at, offset),
                wrong: "A brace closes here that was never opened.".to_owned(),
                mend: "Write }} for a brace that is shown.".to_owned(),
            }));
            rest = after;
        } else if let Some((inside, after)) = from.get(1..).and_then(|it| it.split_once('}')) {
            pieces.push(Ok(Piece::Text(std::mem::take(&mut plain))));
            let at = place(text, at, offset + 1);
            pieces.push(Ok(Piece::Braces { inside, at }));
            rest = after;
        } else {
            pieces.push(Err(Fault {
                at: place(text, at, offset),
                wrong: "A brace opens here that is never closed.".to_owned(),
                mend: "Close it with }, or write {{ for a brace that is shown.".to_owned(),
            }));
            rest = "";
        }
    }
    plain.push_str(rest);
    pieces.push(Ok(Piece::Text(plain)));
    pieces.retain(|piece| !matches!(piece, Ok(Piece::Text(text)) if text.is_empty()));
    pieces
}

/// Where a byte of the text stands; inside several lines only the beginning is certain,
/// because YAML may have folded them.
fn place(text: &str, at: At, offset: usize) -> At {
    if text.contains('\n') {
        return at;
    }
    let before = text
        .get(..offset)
        .map_or(0, |before| before.chars().count());
    At {
        line: at.line,
        column: at.column.saturating_add(u32::try_from(before).unwrap_or(0)),
    }
}

impl Shown {
    fn compile(inside: &str, at: At, scope: &dyn Scope) -> Result<Self, Vec<Fault>> {
        let expression = Expression::compile(inside, at, scope)?;
        let (mut unit, mut labels, mut characters_max) = (None, Vec::new(), TEXT_CHARACTERS_MAX);
        match &expression.gives {
            Type::Quantity(kind) | Type::Quantities(kind) => {
                unit = Some(unit_for(&expression, *kind, scope));
            }
            Type::Word(keys) | Type::Words(keys) => {
                labels = keys
                    .iter()
                    .map(|key| (key.clone(), label_of(&expression, key, scope)))
                    .collect();
            }
            Type::Text => {
                let fact = expression.bare_fact();
                let declared = fact.and_then(|fact| scope.characters_max(fact.as_str()));
                characters_max = declared.unwrap_or(TEXT_CHARACTERS_MAX);
            }
            Type::Number => {}
            Type::Bool | Type::Photo => {
                return Err(vec![Fault {
                    at,
                    wrong: "A condition can't be shown in a text.".to_owned(),
                    mend: "Write {condition ? \"word\" : \"other\"}, or branch to another step."
                        .to_owned(),
                }]);
            }
        }
        Ok(Self {
            expression,
            unit,
            labels,
            characters_max,
        })
    }

    fn show(&self, value: &Value) -> String {
        match value {
            Value::Quantity(quantity) => self.show_quantity(quantity),
            Value::Quantities(list) => {
                let shown: Vec<String> = list.iter().map(|one| self.show_quantity(one)).collect();
                list_or_none(&shown)
            }
            Value::Number(number) => plain_number(*number),
            Value::Word(word) => self.label(word),
            Value::Words(words) => {
                let shown: Vec<String> = words.iter().map(|word| self.label(word)).collect();
                list_or_none(&shown)
            }
            Value::Text(text) => text.clone(),
        }
    }

    fn show_quantity(&self, quantity: &Quantity) -> String {
        quantity.show(self.unit.unwrap_or_else(|| quantity.kind.usual_unit()))
    }

    fn label(&self, word: &str) -> String {
        self.labels
            .iter()
            .find(|(key, _)| key.as_str() == word)
            .map_or_else(|| spaced(word), |(_, label)| label.clone())
    }

    fn longest(&self) -> String {
        let number = "0".repeat(NUMBER_CHARACTERS_MAX);
        let quantity = || match self.unit {
            Some(unit) => format!("{number} {}", unit.symbol),
            None => number.clone(),
        };
        let longest = match &self.expression.gives {
            Type::Quantity(_) => quantity(),
            Type::Quantities(_) => vec![quantity(); READINGS_MAX].join(", "),
            Type::Number => number.clone(),
            Type::Text => "W".repeat(usize::try_from(self.characters_max).unwrap_or(0)),
            Type::Word(_) => {
                let labels = self.labels.iter().map(|(_, label)| label.clone());
                labels
                    .max_by_key(|label| label.chars().count())
                    .unwrap_or_default()
            }
            Type::Words(_) => {
                let labels: Vec<String> =
                    self.labels.iter().map(|(_, label)| label.clone()).collect();
                labels.join(", ")
            }
            Type::Bool | Type::Photo => String::new(),
        };
        if longest.chars().count() < NOT_KNOWN.len() {
            NOT_KNOWN.to_owned()
        } else {
            longest
        }
    }
}

fn list_or_none(shown: &[String]) -> String {
    if shown.is_empty() {
        "none".to_owned()
    } else {
        shown.join(", ")
    }
}

fn spaced(key: &str) -> String {
    key.replace('_', " ")
}

/// The label of a key in the first fact of the expression that has one for it.
fn label_of(expression: &Expression, key: &ChoiceKey, scope: &dyn Scope) -> String {
    expression
        .facts()
        .into_iter()
        .find_map(|fact| scope.label(fact.as_str(), key.as_str()))
        .unwrap_or_else(|| spaced(key.as_str()))
}

/// The unit of the first fact of the same kind, so that a limit stands beside its reading in
/// the same unit; else the kind's usual one.
fn unit_for(expression: &Expression, kind: Kind, scope: &dyn Scope) -> &'static Unit {
    let unit_of = |of: Kind| {
        let facts = expression.facts();
        let mut alike = facts.into_iter().map(FactName::as_str).filter(|name| {
            let holds = scope.fact(name);
            holds == Some(Type::Quantity(of)) || holds == Some(Type::Quantities(of))
        });
        alike.find_map(|name| scope.shown_in(name))
    };
    let unit = unit_of(kind).filter(|unit| unit.kind == kind);
    // A difference of two temperatures in degrees Celsius is read in kelvin.
    let by_temperature = || match kind {
        Kind::TemperatureDifference => {
            let temperature = unit_of(Kind::Temperature)?;
            kind.units().find(|unit| unit.scale == temperature.scale)
        }
        _ => None,
    };
    unit.or_else(by_temperature)
        .unwrap_or_else(|| kind.usual_unit())
}
