//! Finding the model that somebody typed with cold hands.

use super::SpeedRow;

/// At most this many suggestions are made.
const SUGGESTIONS_MAX: usize = 5;

/// What a typed model led to.
#[derive(Clone, Debug, PartialEq)]
pub enum Found<'a> {
    /// The model itself; only case, dashes and blanks may differ.
    Exactly(&'a SpeedRow),
    /// Not in the book, but these are near, nearest first: a person decides.
    Near(Vec<&'a SpeedRow>),
    /// Nothing like it is in the book.
    Nothing,
}

impl Found<'_> {
    /// One sentence for a person where it was not found exactly.
    pub fn sentence(&self, typed: &str) -> Option<String> {
        match self {
            Found::Exactly(_) => None,
            Found::Near(rows) => {
                let models: Vec<&str> = rows.iter().map(|row| row.model.as_str()).collect();
                Some(format!(
                    "{typed} is not in the speed book; did you mean {}?",
                    models.join(" or ")
                ))
            }
            Found::Nothing => Some(format!(
                "{typed} is not in the speed book, nor anything like it."
            )),
        }
    }
}

/// A model in lower case with nothing but letters and digits.
pub(super) fn folded(model: &str) -> String {
    model
        .chars()
        .filter(|c| c.is_alphanumeric())
        .flat_map(char::to_lowercase)
        .collect()
}

pub(super) fn look_up<'a>(rows: &'a [SpeedRow], typed: &str) -> Found<'a> {
    let wanted = folded(typed);
    if wanted.is_empty() {
        return Found::Nothing;
    }
    // A quarter of the letters may be wrong, two at least and four at most.
    let allowed = (wanted.chars().count() / 4).clamp(2, 4);
    let mut near = Vec::new();
    for row in rows {
        let model = folded(&row.model);
        if model == wanted {
            return Found::Exactly(row);
        }
        let distance = distance(&wanted, &model);
        // A short model with everything changed is another model.
        if distance <= allowed && distance < wanted.chars().count().div_ceil(2) {
            near.push((distance, row));
        }
    }
    near.sort_by(|a, b| (a.0, &a.1.model).cmp(&(b.0, &b.1.model)));
    near.truncate(SUGGESTIONS_MAX);
    if near.is_empty() {
        Found::Nothing
    } else {
        Found::Near(near.into_iter().map(|(_, row)| row).collect())
    }
}

/// Edit distance with swapped neighbours as one edit; letters that look alike cost nothing.
fn distance(a: &str, b: &str) -> usize {
    strsim::osa_distance(&alike(a), &alike(b)).min(strsim::osa_distance(a, b))
}

/// Letters that a frosted label shows as digits: O as 0, I and L as 1, S as 5, B as 8.
fn alike(model: &str) -> String {
    model
        .chars()
        .map(|c| match c {
            'o' => '0',
            'i' | 'l' => '1',
            's' => '5',
            'b' => '8',
            c => c,
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::trade::speed_book::{Need, RowSource};
    use uom::si::angular_velocity::revolution_per_minute;
    use uom::si::f64::AngularVelocity;

    fn rows() -> Vec<SpeedRow> {
        ["NQ-LP-2060", "NQ-LP-2080", "NQ-HV-4120"]
            .into_iter()
            .map(|model| SpeedRow {
                model: model.into(),
                need: Need::Speed(AngularVelocity::new::<revolution_per_minute>(1550.0)),
                static_pressure: None,
                blade_diameter: None,
                source: RowSource::EquipmentLabel,
                noted: "invented".into(),
            })
            .collect()
    }

    fn models(typed: &str) -> Vec<String> {
        let rows = rows();
        match look_up(&rows, typed) {
            Found::Exactly(row) => vec![format!("={}", row.model)],
            Found::Near(rows) => rows.iter().map(|row| row.model.clone()).collect(),
            Found::Nothing => Vec::new(),
        }
    }

    #[test]
    fn case_dashes_and_blanks_do_not_matter() {
        assert_eq!(models(" nq lp–2060"), ["=NQ-LP-2060"]);
    }

    #[test]
    fn a_typing_error_only_suggests() {
        assert_eq!(models("NQ-LP-2O60")[0], "NQ-LP-2060");
        assert_eq!(models("NQ-PL-4120"), ["NQ-HV-4120"]);
        assert_eq!(models("NQ-HV-4210"), ["NQ-HV-4120"]);
    }

    #[test]
    fn something_else_finds_nothing() {
        assert!(models("walk-in cooler").is_empty());
        assert!(models("--").is_empty());
        assert!(models("42").is_empty());
    }
}
