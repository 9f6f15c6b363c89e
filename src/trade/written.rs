//! A quantity as a person writes it: `70F`, `208 V`, `1/15 hp`, `1-1/2 hp`, `1,550 rpm`.

use super::formula::CannotWorkOut;
use super::quantity::{Kind, Quantity, Unit};

/// The quantity of `kind` that `text` means.
///
/// # Errors
/// When the number or the unit is missing or cannot be read; the message shows an example.
pub fn quantity(kind: Kind, text: &str) -> Result<Quantity, CannotWorkOut> {
    let (number, unit) = split(text);
    let value = plain(number).ok_or_else(|| expected(kind, text))?;
    let unit = Unit::typed(kind, unit).ok_or_else(|| expected(kind, text))?;
    finite(unit.of(value), text)
}

/// The quantities of a list with commas between: `4.4 A, 3.2 A`, or `4.4, 3.2 A` in one unit.
///
/// # Errors
/// When one of them cannot be read.
pub fn quantities(kind: Kind, text: &str) -> Result<Vec<Quantity>, CannotWorkOut> {
    let parts: Vec<&str> = text.split(',').map(str::trim).collect();
    let (_, common) = split(parts.last().copied().unwrap_or_default());
    parts
        .iter()
        .map(|part| match split(part) {
            (number, "") => quantity(kind, &format!("{number} {common}")),
            _ => quantity(kind, part),
        })
        .collect()
}

/// A plain number: `0.5`, `-10`, `1/15`, `1-1/2`, `1 1/2`, `12,500`.
///
/// A comma counts as a separator of thousands and only where three digits follow each.
pub fn plain(text: &str) -> Option<f64> {
    let text = text.trim().replace('−', "-");
    let (sign, text) = match text.strip_prefix('-') {
        Some(rest) => (-1.0, rest.trim_start()),
        None => (1.0, text.strip_prefix('+').unwrap_or(&text)),
    };
    let number = match text.split_once('/') {
        None => decimal(text)?,
        Some((top, bottom)) => {
            let (whole, top) = match top.trim().rsplit_once([' ', '-']) {
                Some((whole, top)) => (digits(whole)?, digits(top)?),
                None => (0.0, digits(top)?),
            };
            let bottom = digits(bottom)?;
            if bottom == 0.0 {
                return None;
            }
            whole + top / bottom
        }
    };
    Some(sign * number)
}

fn decimal(text: &str) -> Option<f64> {
    let text = without_thousands(text.trim())?;
    let plain = |c: char| c.is_ascii_digit() || c == '.';
    let (mantissa, power) = text.split_once(['e', 'E']).unwrap_or((&text, "0"));
    if mantissa.is_empty() || !mantissa.chars().all(plain) {
        return None;
    }
    power.parse::<i16>().ok()?;
    text.parse::<f64>().ok().filter(|number| number.is_finite())
}

fn without_thousands(text: &str) -> Option<String> {
    let mut parts = text.split(',');
    let mut joined = parts.next()?.to_owned();
    for part in parts {
        let whole = part.split('.').next().unwrap_or_default();
        if joined.is_empty() || joined.contains('.') || whole.len() != 3 {
            return None;
        }
        joined.push_str(part);
    }
    Some(joined)
}

fn digits(text: &str) -> Option<f64> {
    let text = text.trim();
    let short = !text.is_empty() && text.len() <= 9;
    (short && text.chars().all(|c| c.is_ascii_digit())).then(|| text.parse().ok())?
}

/// The number and the unit of `text`, each possibly empty.
fn split(text: &str) -> (&str, &str) {
    let text = text.trim();
    let of_number = |c: char| c.is_ascii_digit() || " .,/+-−".contains(c);
    let mut end = text.find(|c| !of_number(c)).unwrap_or(text.len());
    // The exponent of `1e3 W`, but not the unit of `5 EER`.
    if let Some(rest) = text.get(end..)
        && let Some(power) = rest.strip_prefix(['e', 'E'])
    {
        let length = power
            .find(|c: char| !c.is_ascii_digit() && c != '-')
            .unwrap_or(power.len());
        if length > 0 {
            end += 1 + length;
        }
    }
    // The slash of `12 /kWh` belongs to the unit.
    let number = text[..end].trim_end();
    let number = number.strip_suffix('/').unwrap_or(number);
    (number.trim_end(), text[number.len()..].trim())
}

fn expected(kind: Kind, text: &str) -> CannotWorkOut {
    let units: Vec<&str> = kind.units().map(|unit| unit.symbol).collect();
    CannotWorkOut(format!(
        "\"{text}\" is not a {} with its unit; write a number and one of: {}.",
        kind.word(),
        units.join(", ")
    ))
}

fn finite(quantity: Quantity, text: &str) -> Result<Quantity, CannotWorkOut> {
    if quantity.si.is_finite() {
        Ok(quantity)
    } else {
        Err(expected(quantity.kind, text))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_read_as_people_write_them() {
        for (text, value) in [
            ("70", 70.0),
            ("-10", -10.0),
            ("−10", -10.0),
            ("1/15", 1.0 / 15.0),
            ("7-1/2", 7.5),
            ("1 1/2", 1.5),
            ("12,500", 12_500.0),
            ("1e3", 1000.0),
            (".5", 0.5),
        ] {
            assert_eq!(plain(text), Some(value), "{text}");
        }
        for text in [
            "", "two", "1/0", "1,55", "1.5,000", "nan", "inf", "--1", "1e999",
        ] {
            assert_eq!(plain(text), None, "{text}");
        }
    }

    #[test]
    fn quantities_are_read_with_their_units() {
        for (kind, text, si) in [
            (Kind::Voltage, "208 V", 208.0),
            (Kind::Temperature, "-10F", 249.816_666_666_666_66),
            (Kind::Power, "1/15 hp", 49.713_324_772_151_35),
            (Kind::Length, "14\"", 0.3556),
            (Kind::Power, "1e3 W", 1000.0),
            (Kind::EnergyPrice, "0.13 /kWh", 0.13 / 3.6e6),
            (Kind::AirFlow, "1 m**3/h", 1.0 / 3600.0),
            (Kind::CoolingEfficiency, "3.5 W/W", 3.5),
        ] {
            let got = quantity(kind, text).unwrap().si;
            assert!((got - si).abs() <= 1e-9 * si.abs(), "{text}: {got}");
        }
    }

    #[test]
    fn a_unit_of_another_kind_is_refused_with_the_units_that_fit() {
        let why = quantity(Kind::Voltage, "208 A").unwrap_err().to_string();
        assert_eq!(
            why,
            "\"208 A\" is not a voltage with its unit; write a number and one of: V, mV, kV."
        );
        assert!(quantity(Kind::Voltage, "208").is_err());
        assert!(quantity(Kind::Voltage, "V").is_err());
    }

    #[test]
    fn a_list_may_share_its_last_unit() {
        let amps = |text| -> Vec<f64> {
            quantities(Kind::Current, text)
                .unwrap()
                .iter()
                .map(|one| one.si)
                .collect()
        };
        assert_eq!(amps("4.4, 3.2 A"), [4.4, 3.2]);
        assert_eq!(amps("4.4 A,500 mA"), [4.4, 0.5]);
        assert!(quantities(Kind::Current, "4.4,,3 A").is_err());
    }
}
