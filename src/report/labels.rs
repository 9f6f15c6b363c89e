//! Labels to be stuck on evaporators: what stands on one, and the code that is read aloud.

/// A label.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Label {
    /// What is read from afar: the tag, or the site where there is no tag.
    pub head: String,
    /// The rest of the evaporator's line.
    pub lines: Vec<String>,
    /// The short code.
    pub code: String,
    /// The short code to be read aloud.
    pub spelled: String,
    /// What the square code holds.
    pub link: String,
}

/// The words for letters: the radiotelephony alphabet of ICAO Annex 10, volume II, 5.2.1.3, in the
/// order of the letters.
const WORDS: [&str; 26] = [
    "Alfa", "Bravo", "Charlie", "Delta", "Echo", "Foxtrot", "Golf", "Hotel", "India", "Juliett",
    "Kilo", "Lima", "Mike", "November", "Oscar", "Papa", "Quebec", "Romeo", "Sierra", "Tango",
    "Uniform", "Victor", "Whiskey", "X-ray", "Yankee", "Zulu",
];

/// The words for figures, as they are spoken in plain English.
const FIGURES: [&str; 10] = [
    "Zero", "One", "Two", "Three", "Four", "Five", "Six", "Seven", "Eight", "Nine",
];

/// A code to be read aloud: `K7QXM` is `Kilo Seven Quebec X-ray Mike`. Other signs are left out.
pub fn spelled(code: &str) -> String {
    let word = |sign: char| match sign.to_ascii_uppercase() {
        letter @ 'A'..='Z' => WORDS.get(letter as usize - 'A' as usize),
        figure @ '0'..='9' => FIGURES.get(figure as usize - '0' as usize),
        _ => None,
    };
    let words: Vec<&str> = code.chars().filter_map(word).copied().collect();
    words.join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_code_is_spelled_by_the_radiotelephony_alphabet() {
        assert_eq!(spelled("K7QXM"), "Kilo Seven Quebec X-ray Mike");
        assert_eq!(spelled("a0z9"), "Alfa Zero Zulu Nine");
        assert_eq!(spelled("-"), "");
    }

    #[test]
    fn every_word_begins_with_its_letter() {
        for (word, letter) in WORDS.iter().zip('A'..='Z') {
            assert!(word.starts_with(letter), "{word}");
        }
    }
}
