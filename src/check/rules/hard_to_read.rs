//! A tired person understands every sentence at once.

use super::super::finding::Grade;
use super::Rule;

pub(super) const RULE: Rule = Rule {
    name: "hard_to_read",
    grade: Grade::Advice,
    page: include_str!("../pages/hard_to_read.md"),
    run: |rule, ground| {
        let mut findings = Vec::new();
        for (place, step) in ground.places() {
            let texts = [Some(&step.say), step.caution.as_ref()];
            let hardest = texts
                .into_iter()
                .flatten()
                .filter_map(|text| grade(&text.source));
            let Some(grade) = hardest.reduce(f64::max).filter(|it| *it > GRADE_MAX) else {
                continue;
            };
            let told = format!(
                "`{}` reads like school grade {grade:.0}; {GRADE_MAX:.0} is the most.",
                step.name
            );
            let mend = "Shorter sentences, shorter words.";
            findings.push(ground.finding(rule, place.flow, step.at, (told, mend)));
        }
        findings
    },
};

/// The hardest text that is left alone, as a school grade.
const GRADE_MAX: f64 = 10.0;
/// Shorter texts give no grade that means anything.
const WORDS_MIN: usize = 12;

/// The Flesch-Kincaid grade of a text: J. P. Kincaid and others, "Derivation of new readability
/// formulas for Navy enlisted personnel", Research Branch Report 8-75, 1975.
pub(super) fn grade(text: &str) -> Option<f64> {
    let plain = without_braces(text);
    let words: Vec<&str> = plain
        .split(|c: char| !c.is_alphanumeric() && c != '\'')
        .filter(|word| word.chars().any(char::is_alphabetic))
        .collect();
    if words.len() < WORDS_MIN {
        return None;
    }
    let is_sentence = |part: &&str| part.split_whitespace().count() > 1;
    let sentences = plain.split(['.', '?', '!', ':']).filter(is_sentence);
    let sentences = sentences.count().max(1);
    let syllables: usize = words.iter().map(|word| syllables(word)).sum();
    let count = |number: usize| f64::from(u32::try_from(number).unwrap_or(u32::MAX));
    let (words, sentences) = (count(words.len()), count(sentences));
    Some(0.39 * words / sentences + 11.8 * count(syllables) / words - 15.59)
}

fn without_braces(text: &str) -> String {
    let mut plain = String::new();
    let mut inside = false;
    for c in text.chars() {
        match c {
            '{' => inside = true,
            '}' => inside = false,
            _ if inside => {}
            _ => plain.push(c),
        }
    }
    plain
}

/// The syllables of an English word, as groups of vowels; a silent e at the end is none.
fn syllables(word: &str) -> usize {
    let word = word.to_lowercase();
    let is_vowel = |c: char| "aeiouy".contains(c);
    let mut count = 0;
    let mut before = false;
    for c in word.chars() {
        let vowel = is_vowel(c);
        count += usize::from(vowel && !before);
        before = vowel;
    }
    let silent = word.ends_with('e') && !word.ends_with("le") && count > 1;
    (count - usize::from(silent)).max(1)
}
