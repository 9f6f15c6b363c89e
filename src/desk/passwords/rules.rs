//! What a password has to be: long enough, and none of those that everybody tries first.
//!
//! NIST SP 800-63B-4, section 3.1.1.2: at least 15 characters where nothing else is asked for, no
//! rules of composition, room for long ones, spaces and every script allowed, and a comparison
//! with common passwords, the service's name and the person's own.

/// The least characters of a password: NIST SP 800-63B-4 for a password that stands alone.
pub const PASSWORD_CHARACTERS_MIN: usize = 15;

/// The most characters; more is no safer and takes longer to hash.
pub const PASSWORD_CHARACTERS_MAX: usize = 128;

/// Passwords and pieces of them that lists of leaked ones have in their first places, one a line.
const COMMON: &str = include_str!("common.txt");

/// Says what is wrong with a password; nothing if it can be used. `own` are words that belong to
/// the person, like their login.
pub(super) fn trouble(password: &str, own: &[&str]) -> Option<String> {
    let characters = password.chars().count();
    if characters < PASSWORD_CHARACTERS_MIN {
        return Some(format!(
            "That password has {characters} characters, and {PASSWORD_CHARACTERS_MIN} are needed. \
             Four or five words in a row are easy to keep in mind."
        ));
    }
    if characters > PASSWORD_CHARACTERS_MAX {
        return Some(format!(
            "That password has {characters} characters, and {PASSWORD_CHARACTERS_MAX} fit. Choose \
             a shorter one."
        ));
    }
    if is_made_of_common(password, own) {
        return Some(
            "That password is put together from ones that everybody tries first. Choose other \
             words."
                .to_owned(),
        );
    }
    None
}

/// Whether nothing is left of a password when common pieces, and repeated or counted up letters,
/// are taken out of it.
fn is_made_of_common(password: &str, own: &[&str]) -> bool {
    let folded: Vec<char> = password.to_lowercase().chars().collect();
    let own: Vec<String> = own
        .iter()
        .flat_map(|text| text.split_whitespace())
        .map(str::to_lowercase)
        .filter(|word| word.chars().count() >= 3)
        .collect();
    let common = COMMON.lines().filter(|line| !line.starts_with('#'));
    let pieces = common.chain(own.iter().map(String::as_str));
    let pieces: Vec<Vec<char>> = pieces.map(|piece| piece.chars().collect()).collect();
    // Whether what stands before each place is made of such pieces alone.
    let mut reached = vec![false; folded.len() + 1];
    reached[0] = true;
    for at in 0..folded.len() {
        if !reached[at] {
            continue;
        }
        let rest = &folded[at..];
        for piece in &pieces {
            if !piece.is_empty() && rest.starts_with(piece) {
                reached[at + piece.len()] = true;
            }
        }
        for length in 1..=run(rest) {
            reached[at + length] = true;
        }
        if !rest[0].is_alphanumeric() {
            reached[at + 1] = true;
        }
    }
    reached[folded.len()]
}

/// How many characters at the beginning are the same, or count up or down; none if under three.
fn run(text: &[char]) -> usize {
    let longest = [-1_i64, 0, 1].map(|step| {
        let follows =
            |pair: &&[char]| i64::from(pair[1] as u32) - i64::from(pair[0] as u32) == step;
        1 + text.windows(2).take_while(follows).count()
    });
    let longest = longest.into_iter().max().unwrap_or_default();
    if longest < 3 { 0 } else { longest }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn what_everybody_tries_first_is_refused_however_long() {
        for password in [
            "passwordpassword",
            "Password123456789",
            "123456789012345",
            "aaaaaaaaaaaaaaaaaaaa",
            "qwertyuiopasdfghjkl",
            "Welcome-2024-Welcome!",
            "fanwrightfanwright",
            "Tilly Technician K7QM3XTP",
            "abcdefghijklmnopq",
        ] {
            let told = trouble(password, &["K7QM3XTP", "Tilly Technician"]);
            assert!(
                told.is_some_and(|told| told.contains("tries first")),
                "{password}"
            );
        }
    }

    #[test]
    fn words_in_a_row_are_taken_without_any_rule_for_signs() {
        for password in [
            "coil drips on my boots",
            "drei kleine Lüfterflügel",
            "風扇在冷庫裡轉動得很慢而且很吵啊",
            "password of the yellow van",
        ] {
            assert_eq!(
                trouble(password, &["K7QM3XTP", "Tilly"]),
                None,
                "{password}"
            );
        }
        assert!(
            trouble("coil drips now", &[])
                .unwrap()
                .contains("14 characters")
        );
        let long = "coil drips ".repeat(20);
        assert!(trouble(&long, &[]).unwrap().contains("128 fit"));
    }

    proptest! {
        #[test]
        fn any_text_gets_an_answer(password in "\\PC{0,200}", own in "\\PC{0,20}") {
            let told = trouble(&password, &[&own]);
            let characters = password.chars().count();
            let fits = (PASSWORD_CHARACTERS_MIN..=PASSWORD_CHARACTERS_MAX).contains(&characters);
            prop_assert!(fits || told.is_some());
        }
    }
}
