//! The number at the beginning of a text: decimals, thousands, fractions.

/// The largest numerator that is a fraction: rulers end at 63/64, and `208/230` is two numbers.
const NUMERATOR_MAX: f64 = 63.0;

/// A number as it was typed.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Figures {
    /// Its value.
    pub(super) value: f64,
    /// What it means where the comma is a decimal one: for `1,550`, 1.55.
    pub(super) as_decimal: Option<f64>,
    /// Whether it was typed with a fraction bar.
    pub(super) is_fraction: bool,
    /// The digits with their sign, comma and point as typed.
    pub(super) typed: String,
}

/// The number at the beginning of folded text, and what stands behind it.
pub(super) fn leading_figures(text: &str) -> Option<(Figures, &str)> {
    let text = text.trim_start();
    let (sign, unsigned) = match text.strip_prefix(['-', '+']) {
        Some(rest) if text.starts_with('-') => (-1.0, rest.trim_start()),
        Some(rest) => (1.0, rest.trim_start()),
        None => (1.0, text),
    };
    let (token, rest) = split_while(unsigned, |c| c.is_ascii_digit() || matches!(c, '.' | ','));
    // A full stop at the very end closes the sentence and is no part of the number.
    let token = match token.strip_suffix('.') {
        Some(number) if rest.is_empty() => number,
        _ => token,
    };
    let (figures, rest) = match fraction(token, rest) {
        Some((value, rest)) => (Figures::plain(value, token, true), rest),
        None => (decimal(token)?, rest),
    };
    let minus = if sign < 0.0 { "-" } else { "" };
    let signed = Figures {
        value: sign * figures.value,
        as_decimal: figures.as_decimal.map(|value| sign * value),
        is_fraction: figures.is_fraction,
        typed: format!("{minus}{}", figures.typed),
    };
    Some((signed, rest))
}

impl Figures {
    fn plain(value: f64, typed: &str, is_fraction: bool) -> Self {
        Self {
            value,
            as_decimal: None,
            is_fraction,
            typed: typed.to_owned(),
        }
    }
}

fn split_while(text: &str, keep: impl Fn(char) -> bool) -> (&str, &str) {
    text.split_at(text.find(|c| !keep(c)).unwrap_or(text.len()))
}

/// `1/15`, `1 1/2`, `1-1/2`: `token` is what was read up to the first other sign.
fn fraction<'a>(token: &str, rest: &'a str) -> Option<(f64, &'a str)> {
    let first = whole(token)?;
    if let Some(below) = rest.trim_start().strip_prefix('/') {
        return proper(first, below);
    }
    let inner = rest.strip_prefix([' ', '-'])?.trim_start();
    let (above, rest) = split_while(inner, |c| c.is_ascii_digit());
    let (part, rest) = proper(whole(above)?, rest.trim_start().strip_prefix('/')?)?;
    Some((first + part, rest))
}

fn proper(above: f64, below: &str) -> Option<(f64, &str)> {
    let (below, rest) = split_while(below.trim_start(), |c| c.is_ascii_digit());
    let below = whole(below)?;
    let is_proper = (1.0..=NUMERATOR_MAX).contains(&above) && above < below;
    is_proper.then(|| (above / below, rest))
}

fn whole(digits: &str) -> Option<f64> {
    let only_digits = !digits.is_empty() && digits.bytes().all(|b| b.is_ascii_digit());
    only_digits.then(|| digits.parse().ok()).flatten()
}

fn decimal(token: &str) -> Option<Figures> {
    let plain = |text: &str| Some(Figures::plain(value(text)?, token, false));
    let (dots, commas) = (token.matches('.').count(), token.matches(',').count());
    match (dots, commas) {
        (0 | 1, 0) => plain(token),
        (0, 1) => one_comma(token),
        (0, _) => plain(&ungrouped(token, ',')?),
        (1, 1) if token.find('.') < token.find(',') => {
            let (thousands, decimals) = token.split_once(',')?;
            plain(&format!("{}.{decimals}", ungrouped(thousands, '.')?))
        }
        (1, _) => {
            let (thousands, decimals) = token.split_once('.')?;
            plain(&format!("{}.{decimals}", ungrouped(thousands, ',')?))
        }
        (_, 0) => plain(&ungrouped(token, '.')?),
        (_, 1) => {
            let (thousands, decimals) = token.split_once(',')?;
            plain(&format!("{}.{decimals}", ungrouped(thousands, '.')?))
        }
        _ => None,
    }
}

/// A comma before exactly three digits, after 1 to 999, means thousands or decimals.
fn one_comma(token: &str) -> Option<Figures> {
    let (before, after) = token.split_once(',')?;
    if after.is_empty() {
        return None;
    }
    let as_decimal = value(&format!("{before}.{after}"))?;
    match ungrouped(token, ',') {
        Some(thousands) => Some(Figures {
            value: value(&thousands)?,
            as_decimal: Some(as_decimal),
            is_fraction: false,
            typed: token.to_owned(),
        }),
        None => Some(Figures::plain(as_decimal, token, false)),
    }
}

/// The digits of `1,234,567` without their separators, if each stands where thousands end.
fn ungrouped(text: &str, separator: char) -> Option<String> {
    let mut groups = text.split(separator);
    let first = groups.next()?;
    let leads = (1..=3).contains(&first.len()) && !first.starts_with('0');
    let digits = |group: &str| group.bytes().all(|b| b.is_ascii_digit());
    let well = leads && digits(first) && groups.all(|group| group.len() == 3 && digits(group));
    well.then(|| text.replace(separator, ""))
}

/// The value of digits with at most one point.
fn value(text: &str) -> Option<f64> {
    let has_digit = text.bytes().any(|b| b.is_ascii_digit());
    let plain = text.bytes().all(|b| b.is_ascii_digit() || b == b'.');
    (has_digit && plain).then(|| text.parse().ok()).flatten()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> Option<(f64, Option<f64>, &str)> {
        leading_figures(text).map(|(figures, rest)| (figures.value, figures.as_decimal, rest))
    }

    #[test]
    fn numbers_are_read_as_people_write_them() {
        for (text, value, as_decimal, rest) in [
            ("208", 208.0, None, ""),
            ("208.", 208.0, None, ""),
            ("0.5a", 0.5, None, "a"),
            ("0,5 A", 0.5, None, " A"),
            (",5", 0.5, None, ""),
            (".5", 0.5, None, ""),
            ("+ 3", 3.0, None, ""),
            ("- 3", -3.0, None, ""),
            ("1,550 rpm", 1550.0, Some(1.55), " rpm"),
            ("-1,550", -1550.0, Some(-1.55), ""),
            ("0,550", 0.55, None, ""),
            ("1550,5", 1550.5, None, ""),
            ("1,550.5", 1550.5, None, ""),
            ("1.550,5", 1550.5, None, ""),
            ("1,234,567", 1_234_567.0, None, ""),
            ("1.234.567,8", 1_234_567.8, None, ""),
            ("1/15 hp", 1.0 / 15.0, None, " hp"),
            ("1 1/2 hp", 1.5, None, " hp"),
            ("1-1/2hp", 1.5, None, "hp"),
            ("1550 1/min", 1550.0, None, " 1/min"),
            ("208-230", 208.0, None, "-230"),
            ("208/230", 208.0, None, "/230"),
            ("1e9", 1.0, None, "e9"),
        ] {
            assert_eq!(read(text), Some((value, as_decimal, rest)), "{text}");
        }
    }

    #[test]
    fn what_is_no_number_is_not_read() {
        for text in [
            "",
            "V",
            "about 208",
            "--5",
            "-",
            ".",
            ",",
            "1,",
            "1,23,456",
            "1.2.3",
            "1,2.3.4",
            "NaN",
            "inf",
            "-inf",
            "∞",
            "/2",
        ] {
            assert_eq!(read(text), None, "{text}");
        }
    }
}
