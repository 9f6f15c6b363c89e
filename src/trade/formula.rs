//! What a named computation looks like to a flow and to the `work-out` command.
//!
//! Every topic of `trade` lists its [`Formula`]s; [`super::formulas`] is the one table of all.

use serde::{Deserialize, Serialize};

use super::goods::Goods;
use super::quantity::{Kind, Quantity};

/// A value that goes into a formula or comes out of it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Value {
    /// A number with its unit.
    Quantity(Quantity),
    /// A plain number: a count, a factor.
    Number(f64),
    /// One of a closed list of words, such as a verdict or a motor type.
    Word(String),
    /// Free text.
    Text(String),
    /// Several words of a closed list.
    Words(Vec<String>),
    /// Several numbers with units.
    Quantities(Vec<Quantity>),
}

impl Value {
    /// The value as a person reads it: `208 V`, `1.25`, `too low`.
    pub fn words(&self) -> String {
        let list = |parts: Vec<String>| parts.join(", ");
        match self {
            Value::Quantity(quantity) => quantity.to_string(),
            Value::Number(number) => super::quantity::plain_number(*number),
            Value::Word(word) => word.replace('_', " "),
            Value::Text(text) => text.clone(),
            Value::Words(words) => list(words.iter().map(|word| word.replace('_', " ")).collect()),
            Value::Quantities(all) => list(all.iter().map(ToString::to_string).collect()),
        }
    }
}

/// The type of a [`Value`], as formulas and flows declare it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum ValueType {
    /// A quantity of this kind.
    Quantity(Kind),
    /// A plain number.
    Number,
    /// One of these words.
    Word(&'static [&'static str]),
    /// Free text.
    Text,
    /// Several quantities of this kind.
    Quantities(Kind),
}

/// The two words of a truth, where a formula asks whether something is so.
pub const TRUTH: &[&str] = &["true", "false"];

/// One input of a formula.
#[derive(Clone, Debug)]
pub struct Parameter {
    /// Its key, in snake case.
    pub name: &'static str,
    /// Its type.
    pub takes: ValueType,
    /// `None` where it must be given, else what is assumed, in words: `sea level`.
    pub unless_given: Option<&'static str>,
    /// What it means, with its symbol and valid range.
    pub about: &'static str,
}

impl Parameter {
    /// A parameter that must be given.
    pub const fn needed(name: &'static str, takes: ValueType, about: &'static str) -> Self {
        Self {
            name,
            takes,
            unless_given: None,
            about,
        }
    }

    /// A parameter that may be left out; `assumed` says in words what then holds.
    pub const fn optional(
        name: &'static str,
        takes: ValueType,
        assumed: &'static str,
        about: &'static str,
    ) -> Self {
        Self {
            name,
            takes,
            unless_given: Some(assumed),
            about,
        }
    }
}

/// One result of a formula.
#[derive(Clone, Debug)]
pub struct Output {
    /// Its key, in snake case.
    pub name: &'static str,
    /// Its type.
    pub gives: ValueType,
    /// What it means.
    pub about: &'static str,
}

impl Output {
    /// A result called `name`.
    pub const fn of(name: &'static str, gives: ValueType, about: &'static str) -> Self {
        Self { name, gives, about }
    }
}

/// How sure a published value is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Confidence {
    /// Read in a public copy of the source.
    Seen,
    /// Computed with a named open library.
    Library,
    /// Arithmetic on a formula that was seen.
    Computed,
    /// From memory, to be confirmed by a person.
    FromMemory,
    /// Common practice, no source.
    CommonPractice,
}

impl Confidence {
    /// How it reads beside a source.
    pub fn phrase(self) -> &'static str {
        match self {
            Self::Seen => "read in a public copy",
            Self::Library => "computed with a named open library",
            Self::Computed => "arithmetic on a published formula",
            Self::FromMemory => "from memory, to be confirmed",
            Self::CommonPractice => "common practice, no source",
        }
    }
}

/// A named computation.
pub struct Formula {
    /// Its name in a flow's `work_out` and on the command line.
    pub name: &'static str,
    /// Raised when the same inputs may give another result.
    pub version: u16,
    /// One sentence: what it tells.
    pub about: &'static str,
    /// The formula itself, in symbols.
    pub symbols: &'static str,
    /// The published source, with its edition.
    pub source: &'static str,
    /// How sure the source is.
    pub confidence: Confidence,
    /// What it needs.
    pub takes: &'static [Parameter],
    /// What it returns; the first is the main result.
    pub gives: &'static [Output],
    /// The computation. It may look up the crew's goods; most ignore them.
    pub run: fn(&Arguments, &Goods<'_>) -> Result<Results, CannotWorkOut>,
}

impl Formula {
    /// Runs the computation, and refuses what no person should read: an input that the formula
    /// does not know, a result that is no number.
    ///
    /// # Errors
    /// As the computation; for an unknown input; when a result is not finite.
    pub fn work_out(
        &self,
        arguments: &Arguments,
        goods: &Goods<'_>,
    ) -> Result<Results, CannotWorkOut> {
        let known = |name: &str| self.takes.iter().any(|parameter| parameter.name == name);
        if let Some(name) = arguments.0.keys().find(|name| !known(name)) {
            let names: Vec<&str> = self.takes.iter().map(|parameter| parameter.name).collect();
            return Err(CannotWorkOut(format!(
                "{} does not use {name}; it uses {}.",
                self.name,
                if names.is_empty() {
                    "nothing".into()
                } else {
                    names.join(", ")
                }
            )));
        }
        let results = (self.run)(arguments, goods)?;
        match results.values.iter().find(|(_, value)| !value.is_finite()) {
            None => Ok(results),
            Some((name, _)) => Err(CannotWorkOut(format!(
                "{name} comes out as no real number; check what was entered."
            ))),
        }
    }
}

impl Value {
    /// Whether every number in it is finite.
    pub fn is_finite(&self) -> bool {
        match self {
            Self::Quantity(quantity) => quantity.si.is_finite(),
            Self::Number(number) => number.is_finite(),
            Self::Quantities(list) => list.iter().all(|quantity| quantity.si.is_finite()),
            Self::Word(_) | Self::Text(_) | Self::Words(_) => true,
        }
    }
}

/// The inputs of one run, by name.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Arguments(pub std::collections::BTreeMap<String, Value>);

/// What came out of one run, in the order of [`Formula::gives`].
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Results {
    /// Name and value of each result.
    pub values: Vec<(String, Value)>,
    /// What a careful person should know about this result: assumptions, spread, rule of thumb.
    pub warnings: Vec<String>,
    /// One plain sentence for the technician, where numbers alone do not say it.
    pub sentence: Option<String>,
}

/// Why no number came out: one sentence saying what is wrong and what is expected.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{0}")]
pub struct CannotWorkOut(pub String);

impl Arguments {
    /// The quantity of `kind` under `name`.
    ///
    /// # Errors
    /// When it is missing, of another kind or not finite.
    pub fn quantity(&self, name: &str, kind: Kind) -> Result<Quantity, CannotWorkOut> {
        match self.0.get(name) {
            Some(Value::Quantity(quantity)) if quantity.kind == kind && quantity.si.is_finite() => {
                Ok(*quantity)
            }
            Some(_) => Err(CannotWorkOut(format!(
                "{name} must be a {} such as {}.",
                kind.word(),
                kind.usual_unit().of(100.0)
            ))),
            None => Err(missing(name)),
        }
    }

    /// The SI value of the quantity of `kind` under `name`.
    ///
    /// # Errors
    /// As [`Arguments::quantity`].
    pub fn si(&self, name: &str, kind: Kind) -> Result<f64, CannotWorkOut> {
        Ok(self.quantity(name, kind)?.si)
    }

    /// The SI value under `name`, or `default` where it is not given.
    ///
    /// # Errors
    /// When it is given but of another kind or not finite.
    pub fn si_or(&self, name: &str, kind: Kind, default: f64) -> Result<f64, CannotWorkOut> {
        if self.0.contains_key(name) {
            self.si(name, kind)
        } else {
            Ok(default)
        }
    }

    /// The plain number under `name`.
    ///
    /// # Errors
    /// When it is missing, not a number or not finite.
    pub fn number(&self, name: &str) -> Result<f64, CannotWorkOut> {
        match self.0.get(name) {
            Some(Value::Number(number)) if number.is_finite() => Ok(*number),
            Some(_) => Err(CannotWorkOut(format!(
                "{name} must be a plain number such as 4."
            ))),
            None => Err(missing(name)),
        }
    }

    /// The word under `name`.
    ///
    /// # Errors
    /// When it is missing or not a word.
    pub fn word(&self, name: &str) -> Result<&str, CannotWorkOut> {
        match self.0.get(name) {
            Some(Value::Word(word) | Value::Text(word)) => Ok(word),
            Some(_) => Err(CannotWorkOut(format!("{name} must be a word."))),
            None => Err(missing(name)),
        }
    }

    /// The word under `name`, which must be one of `words`.
    ///
    /// # Errors
    /// When it is missing, not a word or not in the list.
    pub fn word_of(&self, name: &str, words: &[&'static str]) -> Result<&str, CannotWorkOut> {
        let word = self.word(name)?;
        if words.contains(&word) {
            return Ok(word);
        }
        let list = words.join(", ");
        Err(CannotWorkOut(format!(
            "{name} is {word}; it must be one of {list}."
        )))
    }

    /// The truth under `name`: the word `true` or `false`.
    ///
    /// # Errors
    /// When it is missing or another word.
    pub fn truth(&self, name: &str) -> Result<bool, CannotWorkOut> {
        Ok(self.word_of(name, TRUTH)? == "true")
    }

    /// The SI values of the quantities of `kind` under `name`; one quantity counts as a list.
    ///
    /// # Errors
    /// When they are missing, of another kind or not finite.
    pub fn si_list(&self, name: &str, kind: Kind) -> Result<Vec<f64>, CannotWorkOut> {
        match self.0.get(name) {
            Some(Value::Quantities(list))
                if list
                    .iter()
                    .all(|one| one.kind == kind && one.si.is_finite()) =>
            {
                Ok(list.iter().map(|one| one.si).collect())
            }
            Some(Value::Quantities(_)) => Err(CannotWorkOut(format!(
                "Every {name} must be a {} such as {}.",
                kind.word(),
                kind.usual_unit().of(100.0)
            ))),
            _ => Ok(vec![self.si(name, kind)?]),
        }
    }

    /// Whether `name` is given.
    pub fn has(&self, name: &str) -> bool {
        self.0.contains_key(name)
    }
}

fn missing(name: &str) -> CannotWorkOut {
    CannotWorkOut(format!(
        "{name} is missing; this cannot be worked out without it."
    ))
}

impl Results {
    /// Adds a result.
    #[must_use]
    pub fn with(mut self, name: &str, value: Value) -> Self {
        self.values.push((name.to_owned(), value));
        self
    }

    /// Adds a quantity given in the SI unit of its kind.
    #[must_use]
    pub fn with_si(self, name: &str, kind: Kind, si: f64) -> Self {
        self.with(name, Value::Quantity(Quantity { kind, si }))
    }

    /// Adds a warning.
    #[must_use]
    pub fn warn(mut self, sentence: impl Into<String>) -> Self {
        self.warnings.push(sentence.into());
        self
    }

    /// Sets the plain sentence.
    #[must_use]
    pub fn say(mut self, sentence: impl Into<String>) -> Self {
        self.sentence = Some(sentence.into());
        self
    }

    /// The value under `name`.
    pub fn get(&self, name: &str) -> Option<&Value> {
        self.values
            .iter()
            .find(|(key, _)| key == name)
            .map(|(_, value)| value)
    }
}
