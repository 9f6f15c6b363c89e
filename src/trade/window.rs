//! Whether a coil looks like one that an assembly's sheet says it suits.

use std::ops::RangeInclusive;

use uom::si::f64::{Length, LinearNumberDensity};

use super::coil::Coil;
use super::formula::CannotWorkOut;
use super::quantity::{plain_number, shown};

/// The coils that an assembly's sheet states; what the sheet leaves open is `None`.
///
/// All limits belong to the range.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct CoilWindow {
    /// Fins per length.
    pub fins: Option<RangeInclusive<LinearNumberDensity>>,
    /// Depth in the direction of the air.
    pub depth: Option<RangeInclusive<Length>>,
    /// Tube rows in the direction of the air.
    pub rows: Option<RangeInclusive<u32>>,
    /// Fin height.
    pub height: Option<RangeInclusive<Length>>,
}

/// What the comparison of a coil with a window says.
#[derive(Clone, Debug, PartialEq)]
pub enum Plausible {
    /// Every stated limit is met.
    Inside,
    /// The sheet states no window at all; nothing was compared.
    NotStated,
    /// At least one limit is not met; one sentence for each. The right answer is a closer look,
    /// not a refusal: the coil may be measured wrong, or the maker may know it.
    Outside(Vec<String>),
}

/// Half the smallest step a tape measure or fin gauge shows, so that a value typed as its limit
/// is inside.
const ROUNDING: f64 = 1e-6;

impl CoilWindow {
    /// Compares `coil` with the window.
    ///
    /// # Errors
    /// When a range is upside down or not made of numbers.
    pub fn compare(&self, coil: &Coil) -> Result<Plausible, CannotWorkOut> {
        let fins = self
            .fins
            .as_ref()
            .map(|range| (range.start().value, range.end().value));
        let span = |range: &Option<RangeInclusive<Length>>| {
            range
                .as_ref()
                .map(|range| (range.start().value, range.end().value))
        };
        let rows = self
            .rows
            .as_ref()
            .map(|range| (f64::from(*range.start()), f64::from(*range.end())));
        let checks = [
            ("fin pitch", "fins_per_inch", fins, coil.fins().value),
            ("coil depth", "inch", span(&self.depth), coil.depth().value),
            (
                "fin height",
                "inch",
                span(&self.height),
                coil.height().value,
            ),
            ("number of tube rows", "", rows, f64::from(coil.rows())),
        ];
        let mut outside = Vec::new();
        let mut compared = false;
        for (what, unit, range, value) in checks {
            let Some((low, high)) = range else { continue };
            if !low.is_finite() || !high.is_finite() || low > high {
                return Err(CannotWorkOut(format!(
                    "The assembly's range of {what} is upside down: \
                     give the lower limit first."
                )));
            }
            compared = true;
            if value < low * (1.0 - ROUNDING) || value > high * (1.0 + ROUNDING) {
                let text = |si| {
                    if unit.is_empty() {
                        plain_number(si)
                    } else {
                        shown(unit, si)
                    }
                };
                outside.push(format!(
                    "The {what} is {}, and the assembly's sheet says {} to {}.",
                    text(value),
                    text(low),
                    text(high)
                ));
            }
        }
        Ok(match (outside.is_empty(), compared) {
            (false, _) => Plausible::Outside(outside),
            (true, true) => Plausible::Inside,
            (true, false) => Plausible::NotStated,
        })
    }
}

impl Plausible {
    /// What to tell the technician.
    pub fn sentence(&self) -> String {
        match self {
            Self::Inside => "The coil is one that the assembly's sheet says it suits.".into(),
            Self::NotStated => {
                "The assembly's sheet does not say which coils it suits: compare the air it \
                 moves with the air this coil needs."
                    .into()
            }
            Self::Outside(reasons) => format!(
                "{} This needs a closer look: measure again. If it stays so, stop and ask the \
                 supervisor or the maker before mounting it.",
                reasons.join(" ")
            ),
        }
    }
}
