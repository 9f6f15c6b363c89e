//! Whole numbers from instruments that show decimals.
//!
//! That an instrument shows decimals is known from the example of its step.

use super::answers::Given;
use super::words::quoted;
use super::{Finding, Look, Rule};

/// So many readings, all of them whole.
const WHOLE_MIN: usize = 4;

pub(super) fn look(look: &Look<'_>) -> Vec<Finding> {
    let standing = look.standing();
    let shows_decimals = |given: &&Given<'_>| {
        let example = given
            .measured()
            .and_then(|(_, measure)| measure.example.as_deref());
        example.is_some_and(has_decimals)
    };
    let readings: Vec<&Given<'_>> = standing.iter().filter(shows_decimals).collect();
    let is_whole = |given: &&&Given<'_>| {
        let reading = given.measured();
        reading.is_some_and(|(reading, _)| !has_decimals(&reading.typed))
    };
    let whole = readings.iter().filter(is_whole).count();
    let (Some(first), true) = (readings.first(), whole == readings.len()) else {
        return Vec::new();
    };
    if whole < WHOLE_MIN {
        return Vec::new();
    }
    let sentence = format!(
        "All {whole} readings from instruments that show decimals are whole numbers, from {} on.",
        quoted(&first.place.asked)
    );
    let entries = readings.iter().map(|given| given.seq).collect();
    vec![Finding::new(Rule::RoundNumbers, entries, sentence)]
}

/// Whether a number is written with a decimal sign between two digits.
fn has_decimals(text: &str) -> bool {
    let signs: Vec<char> = text.chars().collect();
    signs.windows(3).any(|part| {
        part[0].is_ascii_digit() && matches!(part[1], '.' | ',') && part[2].is_ascii_digit()
    }) || text.trim_start().starts_with('.')
}
