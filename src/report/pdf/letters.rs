//! Texts of people, made fit for paper without a change of what they say.

use std::sync::LazyLock;

use skrifa::{FontRef, MetadataProvider};

use crate::report::picture::FONTS;

/// What stands for a sign that the typeface of the report does not have.
pub(super) const UNKNOWN: char = '□';

/// A place to break a line; it has no width.
const BREAK: char = '\u{200b}';

/// A run without spaces gets a place to break after so many signs.
const RUN: usize = 16;

/// Signs up to here are looked up; beyond are none in the typefaces that paper needs.
const TABLE: u32 = 0x1_0000;

/// Whether both weights of the typeface have a sign.
static DRAWN: LazyLock<Vec<bool>> = LazyLock::new(|| {
    let fonts: Vec<FontRef<'_>> = FONTS
        .iter()
        .filter_map(|font| FontRef::new(font).ok())
        .collect();
    let maps: Vec<_> = fonts.iter().map(MetadataProvider::charmap).collect();
    (0..TABLE)
        .map(|code| {
            maps.iter()
                .all(|map| map.map(code).is_some_and(|it| it.to_u32() != 0))
        })
        .collect()
});

/// Whether a sign can be put on paper as itself.
fn is_drawn(sign: char) -> bool {
    match sign {
        '\n' => true,
        // Marks that turn the direction of text could make a record read otherwise than it says.
        '\u{200b}'..='\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2060}'..='\u{206f}' => false,
        // Private signs mean nothing to a reader, and archives may not hold them.
        '\u{e000}'..='\u{f8ff}'
        | '\u{fe00}'..='\u{fe0f}'
        | '\u{feff}'
        | '\u{fff0}'..='\u{ffff}' => false,
        control if control.is_control() => false,
        sign => DRAWN.get(sign as usize).copied().unwrap_or(false),
    }
}

/// The text with a box for each sign that cannot be shown, and with places to break long runs.
pub(super) fn fit(text: &str) -> String {
    let mut fit = String::with_capacity(text.len());
    let mut run = 0;
    for sign in text.chars().filter_map(shown_as) {
        run = if sign.is_whitespace() { 0 } else { run + 1 };
        if run > RUN && joins_nothing(sign) {
            fit.push(BREAK);
            run = 1;
        }
        fit.push(sign);
    }
    fit
}

/// The same without places to break, for what stands in a picture.
pub(super) fn fit_picture(text: &str) -> String {
    text.chars().filter_map(shown_as).collect()
}

/// What a sign is on paper, if it is anything.
fn shown_as(sign: char) -> Option<char> {
    match sign {
        '\t' | '\u{a0}' => Some(' '),
        '\r' => None,
        sign if is_drawn(sign) => Some(sign),
        _ => Some(UNKNOWN),
    }
}

/// Whether a line may end before this sign: not before a mark that belongs to the sign before it.
fn joins_nothing(sign: char) -> bool {
    sign.is_alphanumeric() || sign.is_ascii_punctuation() || sign == UNKNOWN
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_the_typeface_has_stays_as_it_is() {
        let texts = [
            "#let x = [*bold*] $y$ @z <a> \\ \"",
            "µF Ω °F 1/2″ é ß Ж ש ع",
            "two\nlines",
        ];
        for text in texts {
            assert_eq!(fit(text).replace(BREAK, ""), text);
        }
    }

    #[test]
    fn a_sign_that_cannot_be_shown_is_a_box_and_no_sign_turns_the_text() {
        for text in [
            "a漢b",
            "a\u{202e}b",
            "a\u{0}b",
            "a\u{e000}b",
            "a\u{1f600}b",
            "a\u{feff}b",
        ] {
            assert_eq!(fit(text), "a□b", "{text:?}");
        }
    }

    #[test]
    fn a_long_run_gets_places_to_break() {
        let fit = fit(&"a".repeat(100));
        assert_eq!(fit.matches(BREAK).count(), 6);
        assert!(fit.split(BREAK).all(|run| run.len() <= RUN));
    }
}
