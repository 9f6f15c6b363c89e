//! From one unit of measure to another of the same kind.

use super::formula::{
    Arguments, CannotWorkOut, Confidence, Formula, Output, Parameter, Results, Value, ValueType,
};
use super::goods::Goods;
use super::quantity::{Kind, Unit, plain_number};
use super::written;

/// The value of the quantity written in `from`, in the unit written in `to`.
///
/// Where the text may mean two kinds (°F is a temperature and a difference), the first kind that
/// has both units counts.
///
/// # Errors
/// When no kind of quantity has both units.
///
/// Source: NIST Special Publication 811 (2008), Appendix B.
pub fn convert(from: &str, to: &str) -> Result<f64, CannotWorkOut> {
    Kind::all()
        .iter()
        .find_map(|(kind, _)| {
            let unit = Unit::typed(*kind, to)?;
            let quantity = written::quantity(*kind, from).ok()?;
            Some(quantity.in_unit(unit))
        })
        .ok_or_else(|| {
            CannotWorkOut(format!(
                "\"{from}\" cannot be told in \"{to}\"; both must be units of one kind, such as \
                 from=\"1 psig\" to=kPag."
            ))
        })
}

/// The named formulas of this topic.
pub(crate) const FORMULAS: &[Formula] = &[Formula {
    name: "convert",
    version: 1,
    about: "A quantity in another unit of its kind.",
    symbols: "y = (x a + b − d) / c, by the factors and zeros of the two units",
    source: "NIST Special Publication 811 (2008), Appendix B",
    confidence: Confidence::Seen,
    takes: &[
        Parameter::needed("from", ValueType::Text, "the quantity with its unit: 1 cfm"),
        Parameter::needed("to", ValueType::Text, "the other unit: m3/h"),
    ],
    gives: &[Output::of(
        "number",
        ValueType::Number,
        "the value in the other unit",
    )],
    run,
}];

fn run(arguments: &Arguments, _: &Goods<'_>) -> Result<Results, CannotWorkOut> {
    let (from, to) = (arguments.word("from")?, arguments.word("to")?);
    let number = convert(from, to)?;
    Ok(Results::default()
        .with("number", Value::Number(number))
        .say(format!("{from} is {} {to}.", plain_number(number))))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn temperatures_keep_their_zero() {
        assert!((convert("32 F", "C").unwrap()).abs() < 1e-9);
        assert!((convert("-40 C", "F").unwrap() + 40.0).abs() < 1e-9);
    }

    #[test]
    fn units_of_two_kinds_are_refused() {
        assert!(convert("1 W", "VA").is_err());
        assert!(convert("1 V", "A").is_err());
    }
}
