//! Every sentence about a reading that is not taken.

use super::figures::Figures;
use super::folding::you_sent;
use super::{Typed, Wanted};
use crate::trade::quantity::{Kind, Unit, plain_number};
use crate::walk::refusal::Refusal;

/// Why a text is no answer: one sentence or two, with an example.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Trouble {
    /// It is not a reading of what is asked.
    #[error("{0}")]
    NotUnderstood(String),
    /// It cannot be true.
    #[error("{0}")]
    NotPlausible(String),
    /// Its comma may mean thousands or decimals, and both could be true.
    #[error("Do you mean {} or {}? Please send it again like that.", readings[0], readings[1])]
    Ambiguous {
        /// Both meanings, each as it can be sent again without doubt.
        readings: [String; 2],
    },
}

impl Trouble {
    /// Both meanings of a comma, in the unit with this symbol.
    pub(super) fn ambiguous(figures: &Figures, symbol: &str) -> Self {
        let with_unit = |number: String| format!("{number} {symbol}").trim_end().to_owned();
        Self::Ambiguous {
            readings: [
                with_unit(figures.typed.replace(',', "")),
                with_unit(figures.typed.replace(',', ".")),
            ],
        }
    }
}

impl From<Trouble> for Refusal {
    fn from(trouble: Trouble) -> Self {
        let sentence = trouble.to_string();
        match trouble {
            Trouble::NotUnderstood(_) => Refusal::NotUnderstood(sentence),
            Trouble::NotPlausible(_) => Refusal::NotPlausible(sentence),
            Trouble::Ambiguous { .. } => Refusal::Ambiguous(sentence),
        }
    }
}

/// The refusal that tells a person about the trouble.
pub fn refusal(trouble: Trouble) -> Refusal {
    trouble.into()
}

pub(super) fn too_long(wanted: &Wanted) -> Trouble {
    Trouble::NotUnderstood(format!("That is too long for a reading. {}", need(wanted)))
}

pub(super) fn not_understood(text: &str, wanted: &Wanted) -> Trouble {
    Trouble::NotUnderstood(format!("{}{}", need(wanted), you_sent(text)))
}

pub(super) fn one_number(text: &str, wanted: &Wanted) -> Trouble {
    let need = need(wanted);
    Trouble::NotUnderstood(format!("Send one reading only. {need}{}", you_sent(text)))
}

/// A known unit, but of something else.
pub(super) fn wrong_unit(unit: &str, text: &str, wanted: &Wanted) -> Trouble {
    let mut kinds: Vec<Kind> = Kind::all()
        .iter()
        .map(|(kind, _)| *kind)
        .filter(|kind| Unit::typed(*kind, unit).is_some())
        .collect();
    if kinds.contains(&Kind::Temperature) {
        kinds.retain(|kind| *kind != Kind::TemperatureDifference);
    }
    match kinds.as_slice() {
        [kind] => Trouble::NotUnderstood(format!(
            "That is {}. {}",
            with_article(kind.word()),
            need(wanted)
        )),
        [one, other] => Trouble::NotUnderstood(format!(
            "That is {} or {}. {}",
            with_article(one.word()),
            with_article(other.word()),
            need(wanted)
        )),
        _ => not_understood(text, wanted),
    }
}

/// A unit of the right kind that this step does not take.
pub(super) fn unit_not_taken(unit: &Unit, wanted: &Wanted) -> Trouble {
    Trouble::NotUnderstood(format!(
        "This reading is not taken in {}. {}",
        unit.symbol,
        need(wanted)
    ))
}

pub(super) fn not_plausible(typed: &Typed, wanted: &Wanted) -> Trouble {
    let read = typed.quantity.show(typed.unit);
    let range = match wanted.plausible {
        Some((least, most)) => {
            let show = |si| {
                let kind = wanted.kind;
                crate::trade::quantity::Quantity { kind, si }.show(wanted.default_unit)
            };
            format!(
                "Between {} and {} is possible here.",
                show(least),
                show(most)
            )
        }
        None => need(wanted),
    };
    Trouble::NotPlausible(format!(
        "{read} can't be right. {range} Look again and send what you read."
    ))
}

pub(super) fn count(text: &str, noun: &str, from: u32, to: u32) -> Trouble {
    let example = from + (to.saturating_sub(from)) / 3;
    Trouble::NotUnderstood(format!(
        "I need a whole number of {noun} from {from} to {to}, like {example}.{}",
        you_sent(text)
    ))
}

pub(super) fn number(text: &str, noun: &str, plausible: Option<(f64, f64)>) -> Trouble {
    let need = match plausible {
        Some((least, most)) => format!(
            "I need a number for {noun} from {} to {}, like {}.",
            plain_number(least),
            plain_number(most),
            plain_number(middle(least, most))
        ),
        None => format!("I need a number for {noun}, like 1.5."),
    };
    Trouble::NotUnderstood(format!("{need}{}", you_sent(text)))
}

/// `I need volts here, like 208 V.`
fn need(wanted: &Wanted) -> String {
    let what =
        plural(wanted.default_unit).map_or_else(|| with_article(wanted.kind.word()), str::to_owned);
    let example = match (&wanted.example, wanted.plausible) {
        (Some(example), _) => example.clone(),
        (None, Some((least, most))) => {
            let unit = wanted.default_unit;
            let in_unit = |si: f64| (si - unit.offset) / unit.scale;
            let number = plain_number(middle(in_unit(least), in_unit(most)));
            with_bare(&number.replace(',', ""), unit)
        }
        (None, None) => with_bare("10", wanted.default_unit),
    };
    format!("I need {what} here, like {example}.")
}

/// `350 or 350 V`
fn with_bare(number: &str, unit: &Unit) -> String {
    format!("{number} or {number} {}", unit.symbol)
}

/// A round value within two ends, to serve as an example.
fn middle(least: f64, most: f64) -> f64 {
    let middle = least / 2.0 + most / 2.0;
    if middle == 0.0 || !middle.is_finite() {
        return if middle.is_finite() { middle } else { 0.0 };
    }
    let step = 10_f64.powf(middle.abs().log10().floor() - 1.0);
    let round = (middle / step).round() * step;
    if (least..=most).contains(&round) {
        round
    } else {
        middle
    }
}

fn with_article(word: &str) -> String {
    let article = if word.starts_with(['a', 'e', 'i', 'o', 'u']) {
        "an"
    } else {
        "a"
    };
    format!("{article} {word}")
}

/// What people call several of the unit, for the usual ones.
fn plural(unit: &Unit) -> Option<&'static str> {
    Some(match unit.literal {
        "volt" => "volts",
        "amp" => "amps",
        "milliamp" => "milliamps",
        "watt" => "watts",
        "horsepower" => "horsepower",
        "volt_amp" => "volt-amperes",
        "ohm" => "ohms",
        "megohm" => "megohms",
        "microfarad" => "microfarads",
        "hertz" => "hertz",
        "rpm" => "rpm",
        "inch" => "inches",
        "foot" => "feet",
        "millimetre" => "millimetres",
        "cfm" => "cfm",
        "fpm" => "feet per minute",
        "deg_f" => "degrees Fahrenheit",
        "deg_c" => "degrees Celsius",
        "minute" => "minutes",
        "second" => "seconds",
        "hour" => "hours",
        "pound" => "pounds",
        "degree" => "degrees",
        "fins_per_inch" => "fins per inch",
        "percent" => "percent",
        _ => return None,
    })
}
