//! How wide text is, by the letters that come with the program.

use std::sync::OnceLock;

use skrifa::instance::{LocationRef, Size};
use skrifa::{FontRef, MetadataProvider};

use crate::report::picture::FONTS;

/// How heavy letters are.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Weight {
    /// As running text.
    Plain,
    /// As headings.
    Bold,
}

/// Letters up to here are looked up in a table; there is none beyond in the flows of the shipped
/// languages.
const TABLE: u32 = 0x3000;

/// The width of `text` in letters of `size`; the letters are the same in every viewer, because a
/// line also tells its length.
pub fn width(text: &str, size: f32, weight: Weight) -> f32 {
    static LETTERS: OnceLock<[Vec<f32>; 2]> = OnceLock::new();
    let [plain, bold] = LETTERS.get_or_init(|| FONTS.map(advances));
    let ems = match weight {
        Weight::Plain => plain,
        Weight::Bold => bold,
    };
    let em = |letter: char| ems.get(letter as usize).copied().unwrap_or(1.0);
    size * text.chars().map(em).sum::<f32>()
}

/// How far each letter goes, in ems; one em where the font has none.
fn advances(font: &[u8]) -> Vec<f32> {
    let Ok(font) = FontRef::new(font) else {
        // The fonts are part of the program, so this is never reached; an em is wide enough.
        return Vec::new();
    };
    let glyphs = font.charmap();
    let metrics = font.glyph_metrics(Size::new(1.0), LocationRef::default());
    let advance = |code| metrics.advance_width(glyphs.map(code)?);
    (0..TABLE)
        .map(|code| advance(code).unwrap_or(1.0))
        .collect()
}

/// `text` in lines of at most `room`, broken between words, and inside a word that is longer
/// than a line.
pub(super) fn wrap(text: &str, room: f32, size: f32, weight: Weight) -> Vec<String> {
    let fits = |line: &str| width(line, size, weight) <= room;
    let mut lines = Vec::new();
    let mut line = String::new();
    for word in text.split_whitespace() {
        let before = line.len();
        if !line.is_empty() {
            line.push(' ');
        }
        line.push_str(word);
        if fits(&line) {
            continue;
        }
        line.truncate(before);
        if !line.is_empty() {
            lines.push(std::mem::take(&mut line));
        }
        for letter in word.chars() {
            line.push(letter);
            if !fits(&line) && line.chars().count() > 1 {
                line.pop();
                lines.push(std::mem::replace(&mut line, letter.to_string()));
            }
        }
    }
    if !line.is_empty() {
        lines.push(line);
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_is_never_wider_than_its_room() {
        let text = "Hold the new plug against the old socket. Supercalifragilisticexpialidocious?";
        for room in [40.0, 90.0, 300.0] {
            let lines = wrap(text, room, 12.0, Weight::Plain);
            for line in &lines {
                assert!(width(line, 12.0, Weight::Plain) <= room, "{line}");
            }
            let joined: String = lines.concat().split_whitespace().collect();
            assert_eq!(joined, text.split_whitespace().collect::<String>());
        }
    }

    #[test]
    fn letters_have_their_own_widths() {
        // Units of the font's em, as its own `hmtx` table says: i 569, W 2025, of 2048.
        assert!((width("i", 2048.0, Weight::Plain) - 569.0).abs() < 0.5);
        assert!((width("W", 2048.0, Weight::Plain) - 2025.0).abs() < 0.5);
        assert!(width("Lock", 12.0, Weight::Bold) > width("Lock", 12.0, Weight::Plain));
    }
}
