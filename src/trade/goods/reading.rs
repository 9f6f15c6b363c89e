//! Reading a crew's YAML files strictly: positions, quantities as text, ranges as text.

use std::fmt;

use serde::de::DeserializeOwned;
use serde_yaml::Spanned;

use crate::trade::quantity::Kind;
use crate::trade::written;

/// What is wrong with a crew's file, and where: `12:18: …` (line and column).
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub struct Problem {
    /// Line, counted from one; zero where no place is known.
    pub line: u64,
    /// Column, counted from one.
    pub column: u64,
    /// One sentence: what is wrong and what is expected.
    pub what: String,
}

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.line == 0 {
            f.write_str(&self.what)
        } else {
            write!(f, "{}:{}: {}", self.line, self.column, self.what)
        }
    }
}

/// A range of a quantity, both ends included: `187 V to 253 V`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Window<T> {
    /// The lowest value inside.
    pub from: T,
    /// The highest value inside.
    pub to: T,
}

impl<T: Copy + PartialOrd> Window<T> {
    /// Whether `value` lies inside.
    pub fn holds(&self, value: T) -> bool {
        self.from <= value && value <= self.to
    }
}

/// Parses the YAML `text`; unknown keys and duplicate keys are refused.
///
/// # Errors
/// With the place of the first thing that is not as it should be.
pub(crate) fn parse<T: DeserializeOwned>(text: &str) -> Result<T, Problem> {
    serde_yaml::from_str(text).map_err(|why| {
        let place = why.location();
        Problem {
            line: place.map_or(0, |place| place.line()),
            column: place.map_or(0, |place| place.column()),
            what: one_sentence(&why),
        }
    })
}

/// What is wrong in one sentence of ours, or in the parser's own words without the place.
fn one_sentence(why: &serde_yaml::Error) -> String {
    match why.without_snippet() {
        serde_yaml::Error::DuplicateMappingKey { key: Some(key), .. } => {
            format!("\"{key}\" is a duplicate key here; keep one of them.")
        }
        serde_yaml::Error::SerdeUnknownField {
            field, expected, ..
        } => {
            let near = expected
                .iter()
                .map(|known| (strsim::osa_distance(field, known), known))
                .filter(|(distance, _)| *distance <= 2)
                .min();
            match near {
                Some((_, near)) => {
                    format!("\"{field}\" is an unknown key here; did you mean \"{near}\"?")
                }
                None => format!(
                    "\"{field}\" is an unknown key here; there may be {}.",
                    expected.join(", ")
                ),
            }
        }
        serde_yaml::Error::SerdeMissingField { field, .. } => {
            format!("The key \"{field}\" is missing here.")
        }
        serde_yaml::Error::InvalidScalar { .. } => "A whole number is expected here.".into(),
        other => {
            let words = other.to_string();
            let first = words.lines().next().unwrap_or_default();
            let first = first.split(" at line ").next().unwrap_or(first);
            let first = first.strip_prefix("error: ").unwrap_or(first);
            format!("{}.", first.trim_end_matches('.'))
        }
    }
}

/// Reads a text of the file as something typed, or says where it cannot.
pub(crate) trait Reader {
    /// A problem at this place.
    fn problem(&self, what: impl Into<String>) -> Problem;

    /// The quantity of `kind`, made from its SI value by `make`.
    fn quantity<T>(&self, kind: Kind, make: fn(f64) -> T) -> Result<T, Problem>;

    /// The quantity of `kind`, which must be above zero.
    fn above_zero<T>(&self, kind: Kind, make: fn(f64) -> T) -> Result<T, Problem>;

    /// A range such as `187 V to 253 V`.
    fn window<T: Copy + PartialOrd>(
        &self,
        kind: Kind,
        make: fn(f64) -> T,
    ) -> Result<Window<T>, Problem>;

    /// One of `words`.
    fn word<T: Copy>(&self, words: &[(&str, T)]) -> Result<T, Problem>;

    /// The text itself, which must not be empty.
    fn some_text(&self, what: &str) -> Result<String, Problem>;
}

impl Reader for Spanned<String> {
    fn problem(&self, what: impl Into<String>) -> Problem {
        Problem {
            line: self.referenced.line(),
            column: self.referenced.column(),
            what: what.into(),
        }
    }

    fn quantity<T>(&self, kind: Kind, make: fn(f64) -> T) -> Result<T, Problem> {
        written::quantity(kind, &self.value)
            .map(|quantity| make(quantity.si))
            .map_err(|why| self.problem(why.to_string()))
    }

    fn above_zero<T>(&self, kind: Kind, make: fn(f64) -> T) -> Result<T, Problem> {
        let quantity =
            written::quantity(kind, &self.value).map_err(|why| self.problem(why.to_string()))?;
        if quantity.si > 0.0 {
            Ok(make(quantity.si))
        } else {
            Err(self.problem(format!("\"{}\" must be above zero.", self.value)))
        }
    }

    fn window<T: Copy + PartialOrd>(
        &self,
        kind: Kind,
        make: fn(f64) -> T,
    ) -> Result<Window<T>, Problem> {
        let example = || {
            self.problem(format!(
                "\"{}\" is not a range; write both ends with their unit and \"to\" between, such \
                 as 1 {unit} to 2 {unit}.",
                self.value,
                unit = kind.usual_unit().symbol
            ))
        };
        let (from, to) = self.value.split_once(" to ").ok_or_else(example)?;
        let end = |text: &str| {
            written::quantity(kind, text)
                .map(|quantity| make(quantity.si))
                .map_err(|why| self.problem(why.to_string()))
        };
        let window = Window {
            from: end(from)?,
            to: end(to)?,
        };
        if window.from <= window.to {
            Ok(window)
        } else {
            Err(example())
        }
    }

    fn word<T: Copy>(&self, words: &[(&str, T)]) -> Result<T, Problem> {
        let found = words
            .iter()
            .find(|(word, _)| *word == self.value)
            .map(|(_, value)| *value);
        found.ok_or_else(|| {
            let list: Vec<&str> = words.iter().map(|(word, _)| *word).collect();
            self.problem(format!(
                "\"{}\" must be one of {}.",
                self.value,
                list.join(", ")
            ))
        })
    }

    fn some_text(&self, what: &str) -> Result<String, Problem> {
        let text = self.value.trim();
        if text.is_empty() {
            Err(self.problem(format!("{what} must not be empty.")))
        } else {
            Ok(text.to_owned())
        }
    }
}
