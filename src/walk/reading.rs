//! What people type for a reading, a count or a number: `208`, `0,5 A`, `1 1/2 hp`, `−23 °C`.
//!
//! A reading that could mean two things is never guessed: `1,550` is 1550 or 1.55, and where
//! both could be true the person is asked.

mod figures;
mod folding;
mod trouble;

use crate::trade::quantity::{Kind, Quantity, Unit, is_within};
use figures::{Figures, leading_figures};
pub use folding::fits_a_sentence;
pub use trouble::{Trouble, refusal};

/// The most characters of a typed reading.
pub const READING_CHARACTERS_MAX: usize = 64;

/// What a reading must be.
#[derive(Clone, Debug)]
pub struct Wanted {
    /// What it measures.
    pub kind: Kind,
    /// The unit of a bare number.
    pub default_unit: &'static Unit,
    /// The units that are understood.
    pub units: Vec<&'static Unit>,
    /// The least and the most that can be true, in the SI unit of the kind, ends included.
    pub plausible: Option<(f64, f64)>,
    /// An example of what to type, such as `208 V`; without one a middle value is shown.
    pub example: Option<String>,
}

impl Wanted {
    /// A reading of `kind`; a bare number has the kind's usual unit.
    pub fn new(kind: Kind) -> Self {
        Self {
            kind,
            default_unit: kind.usual_unit(),
            units: kind.units().collect(),
            plausible: None,
            example: None,
        }
    }

    /// With the unit of a bare number. A unit of another kind changes nothing.
    #[must_use]
    pub fn shown_in(mut self, unit: &'static Unit) -> Self {
        if unit.kind == self.kind {
            self.default_unit = unit;
        }
        self
    }

    /// With an example of what to type, such as `208 V`.
    #[must_use]
    pub fn example(mut self, example: &str) -> Self {
        self.example = Some(example.to_owned());
        self
    }

    /// With the range, in SI units, outside which it cannot be true.
    #[must_use]
    pub fn plausible(mut self, least: f64, most: f64) -> Self {
        self.plausible = Some((least, most));
        self
    }
}

/// A reading as it was typed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Typed {
    /// What was read.
    pub quantity: Quantity,
    /// The unit that it was typed in, or the default one.
    pub unit: &'static Unit,
}

/// Reads a quantity.
///
/// # Errors
/// One sentence that says what is needed, with an example.
pub fn parse(text: &str, wanted: &Wanted) -> Result<Typed, Trouble> {
    let folded = folding::folded(text).ok_or_else(|| trouble::too_long(wanted))?;
    let (figures, rest) =
        leading_figures(&folded).ok_or_else(|| trouble::not_understood(text, wanted))?;
    if wanted.kind == Kind::Length
        && let Some(typed) = feet_and_inches(&figures, rest)
    {
        return plausible(typed, wanted).map_err(|_| trouble::not_plausible(&typed, wanted));
    }
    let unit = unit_of(rest, text, wanted)?;
    if figures.is_fraction && !takes_fractions(unit) {
        return Err(trouble::one_number(text, wanted));
    }
    choose(&figures, unit, wanted)
}

/// Of the two meanings of a comma, the one that can be true.
fn choose(figures: &Figures, unit: &'static Unit, wanted: &Wanted) -> Result<Typed, Trouble> {
    let typed = |value| Typed {
        quantity: unit.of(value),
        unit,
    };
    let first = typed(figures.value);
    let first_fits = plausible(first, wanted);
    let Some(as_decimal) = figures.as_decimal else {
        return first_fits.map_err(|_| trouble::not_plausible(&first, wanted));
    };
    match (first_fits, plausible(typed(as_decimal), wanted)) {
        (Ok(_), Ok(_)) => Err(Trouble::ambiguous(figures, unit.symbol)),
        (Ok(it), Err(_)) | (Err(_), Ok(it)) => Ok(it),
        (Err(_), Err(_)) => Err(trouble::not_plausible(&first, wanted)),
    }
}

/// A value that cannot be true.
struct Outside;

fn plausible(typed: Typed, wanted: &Wanted) -> Result<Typed, Outside> {
    let si = typed.quantity.si;
    let below_zero = wanted.kind == Kind::Temperature && si < 0.0;
    let within = wanted
        .plausible
        .is_none_or(|(least, most)| is_within(si, least, most));
    if si.is_finite() && within && !below_zero {
        Ok(typed)
    } else {
        Err(Outside)
    }
}

/// Fractions are taken only in units in which people use them: `208/230 V` and `50/60 Hz` are
/// two values, and not a fraction of a volt.
fn takes_fractions(unit: &Unit) -> bool {
    matches!(
        unit.literal,
        "horsepower" | "inch" | "foot" | "inch_water" | "hour" | "pound"
    )
}

/// The unit that stands behind the number.
fn unit_of(rest: &str, text: &str, wanted: &Wanted) -> Result<&'static Unit, Trouble> {
    let rest = rest.trim();
    let rest = rest.strip_suffix('.').unwrap_or(rest).trim_end();
    if rest.is_empty() {
        return Ok(wanted.default_unit);
    }
    match typed_unit(wanted.kind, rest) {
        Some(unit) if wanted.units.contains(&unit) => Ok(unit),
        Some(unit) => Err(trouble::unit_not_taken(unit, wanted)),
        None if Unit::typed_of_any_kind(rest).is_some() => {
            Err(trouble::wrong_unit(rest, text, wanted))
        }
        None if rest.contains(|c: char| c.is_ascii_digit()) => {
            Err(trouble::one_number(text, wanted))
        }
        None => Err(trouble::not_understood(text, wanted)),
    }
}

/// As [`Unit::typed`]; for temperatures a degree sign may stand on either side, or nowhere.
fn typed_unit(kind: Kind, text: &str) -> Option<&'static Unit> {
    Unit::typed(kind, text).or_else(|| match kind {
        Kind::Temperature | Kind::TemperatureDifference => {
            Unit::typed(kind, &text.replace('°', ""))
        }
        _ => None,
    })
}

/// `5' 6"`, `5 ft 6 1/2 in`; the inches may lack their sign.
fn feet_and_inches(feet: &Figures, rest: &str) -> Option<Typed> {
    let digit = rest.find(|c: char| c.is_ascii_digit())?;
    let (sign, inches) = rest.split_at_checked(digit)?;
    let foot = Unit::typed(Kind::Length, sign).filter(|unit| unit.literal == "foot")?;
    let (inches, unit) = leading_figures(inches)?;
    let inch = match unit.trim() {
        "" => Unit::of_literal("inch"),
        unit => Unit::typed(Kind::Length, unit).filter(|unit| unit.literal == "inch"),
    }?;
    let whole_feet = !feet.is_fraction && feet.value.fract() == 0.0 && feet.value >= 0.0;
    if !whole_feet || feet.as_decimal.is_some() || !(0.0..12.0).contains(&inches.value) {
        return None;
    }
    let quantity = Quantity {
        kind: Kind::Length,
        si: foot.of(feet.value).si + inch.of(inches.value).si,
    };
    let unit = inch;
    Some(Typed { quantity, unit })
}

/// Reads a whole number of `noun`, from `from` to `to`, ends included.
///
/// # Errors
/// One sentence that says what is needed, with an example.
pub fn parse_count(text: &str, noun: &str, from: u32, to: u32) -> Result<u32, Trouble> {
    let wrong = || trouble::count(text, noun, from, to);
    let folded = folding::folded(text).ok_or_else(wrong)?;
    let (figures, rest) = leading_figures(&folded).ok_or_else(wrong)?;
    let whole = figures.value.fract() == 0.0 && !figures.is_fraction;
    let within = (f64::from(from)..=f64::from(to)).contains(&figures.value);
    if !whole || !within || !is_noun(rest, noun) {
        return Err(wrong());
    }
    // Within two u32, so nothing is lost.
    Ok(figures.value as u32)
}

/// Reads a plain number of `noun`. Money may have its sign.
///
/// # Errors
/// One sentence that says what is needed, with an example.
pub fn parse_number(text: &str, noun: &str) -> Result<f64, Trouble> {
    parse_number_within(text, noun, None)
}

/// Reads a plain number of `noun` that must lie within `plausible`, ends included.
///
/// # Errors
/// As [`parse_number`].
pub fn parse_number_within(
    text: &str,
    noun: &str,
    plausible: Option<(f64, f64)>,
) -> Result<f64, Trouble> {
    const MONEY: [char; 3] = ['$', '€', '£'];
    let wrong = || trouble::number(text, noun, plausible);
    let fits = |value: f64| {
        let within = plausible.is_none_or(|(least, most)| is_within(value, least, most));
        value.is_finite() && within
    };
    let folded = folding::folded(text).ok_or_else(wrong)?;
    let bare = folded
        .trim()
        .trim_start_matches(MONEY)
        .trim_end_matches(MONEY);
    let (figures, rest) = leading_figures(bare).ok_or_else(wrong)?;
    if !is_noun(rest, noun) {
        return Err(wrong());
    }
    match (figures.value, figures.as_decimal) {
        (value, Some(other)) if fits(value) && fits(other) => Err(Trouble::ambiguous(&figures, "")),
        (value, _) if fits(value) => Ok(value),
        (_, Some(other)) if fits(other) => Ok(other),
        _ => Err(wrong()),
    }
}

/// Whether `rest` is nothing, or the noun in one of its two forms.
fn is_noun(rest: &str, noun: &str) -> bool {
    let rest = rest.trim().trim_end_matches('.').to_lowercase();
    let noun = noun.to_lowercase();
    rest.is_empty() || rest == noun || noun.strip_suffix('s') == Some(rest.as_str())
}
