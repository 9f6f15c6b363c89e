//! "Did you mean": the nearest of the names that exist.

/// The most edits between a name and what was probably meant.
const EDITS_MAX: usize = 2;

/// The candidate nearest to `word`, when it is at most two typing slips away.
///
/// A slip is a missing, an extra or a wrong letter. A word of one or two letters is never
/// guessed: everything short is near to it.
pub fn nearest<'a>(word: &str, candidates: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let allowed = EDITS_MAX.min(word.chars().count() / 2);
    candidates
        .into_iter()
        .map(|candidate| (strsim::levenshtein(word, candidate), candidate))
        .filter(|(slips, _)| *slips <= allowed)
        .min()
        .map(|(_, candidate)| candidate)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_slip_or_two_is_guessed_and_more_is_not() {
        let names = ["supply", "lead", "ice_pattern"];
        assert_eq!(nearest("suply", names), Some("supply"));
        assert_eq!(nearest("lead_", names), Some("lead"));
        assert_eq!(nearest("ice_patern", names), Some("ice_pattern"));
        assert_eq!(nearest("voltage", names), None);
        assert_eq!(nearest("x", names), None);
        assert_eq!(nearest("", names), None);
    }

    #[test]
    fn slips_are_counted_in_letters() {
        assert_eq!(strsim::levenshtein("kitten", "sitting"), 3);
        assert_eq!(strsim::levenshtein("", "fan"), 3);
        assert_eq!(strsim::levenshtein("Kälte", "Kalte"), 1);
    }
}
