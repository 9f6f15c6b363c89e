//! Dressed text, split to the platform's lengths and written as its HTML.

/// The most UTF-16 units of a message, which is how the platform counts.
pub const TEXT_UNITS_MAX: usize = 4096;

/// The most UTF-16 units under a picture.
pub const CAPTION_UNITS_MAX: usize = 1024;

/// How a piece of text looks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Style {
    /// As it is.
    Plain,
    /// Bold.
    Bold,
    /// Italic.
    Italic,
}

/// Dressed text.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Rich {
    letters: Vec<(char, Style)>,
}

impl Rich {
    /// Undressed text.
    pub fn plain(text: &str) -> Rich {
        let mut rich = Rich::default();
        rich.push(Style::Plain, text);
        rich
    }

    /// Adds text to the end.
    pub fn push(&mut self, style: Style, text: &str) {
        self.letters
            .extend(text.chars().map(|letter| (letter, style)));
    }

    /// Adds a paragraph of its own, after an empty line if it is not the first.
    pub fn paragraph(&mut self, style: Style, text: &str) {
        if !self.letters.is_empty() {
            self.push(Style::Plain, "\n\n");
        }
        self.push(style, text);
    }

    /// Adds a line of its own.
    pub fn line(&mut self, style: Style, text: &str) {
        if !self.letters.is_empty() {
            self.push(Style::Plain, "\n");
        }
        self.push(style, text);
    }

    /// Adds all of another text, after an empty line.
    pub(super) fn follow(&mut self, other: Rich) {
        self.push(Style::Plain, "\n\n");
        self.letters.extend(other.letters);
    }

    /// How long it is for the platform.
    pub fn units(&self) -> usize {
        self.letters
            .iter()
            .map(|(letter, _)| letter.len_utf16())
            .sum()
    }

    /// HTML texts of at most `units_max` units each that are the whole together; cut between
    /// paragraphs, lines or words where possible. Nothing for an empty text.
    pub fn parts(&self, units_max: usize) -> Vec<String> {
        let mut parts = Vec::new();
        let mut rest = trimmed(&self.letters);
        while !rest.is_empty() {
            let (part, after) = rest.split_at(cut(rest, units_max));
            parts.push(html(trimmed(part)));
            rest = trimmed(after);
        }
        parts
    }
}

/// Where to cut so that at most `units_max` units come before it; at least one letter does.
fn cut(letters: &[(char, Style)], units_max: usize) -> usize {
    let mut units = 0;
    let fits = letters
        .iter()
        .take_while(|(letter, _)| {
            units += letter.len_utf16();
            units <= units_max
        })
        .count()
        .max(1);
    if fits >= letters.len() {
        return letters.len();
    }
    let is = |at: usize, wanted: char| letters.get(at).is_some_and(|(letter, _)| *letter == wanted);
    let last = |test: &dyn Fn(usize) -> bool| (1..=fits).rev().find(|at| test(*at));
    // A part that is nearly empty looks worse than a cut in the middle of a paragraph.
    let enough = |at: &usize| *at > fits / 4;
    last(&|at| is(at, '\n') && is(at + 1, '\n'))
        .filter(enough)
        .or_else(|| last(&|at| is(at, '\n')).filter(enough))
        .or_else(|| last(&|at| is(at, ' ')).filter(enough))
        .unwrap_or(fits)
}

fn trimmed(mut letters: &[(char, Style)]) -> &[(char, Style)] {
    while let [(letter, _), rest @ ..] = letters
        && letter.is_whitespace()
    {
        letters = rest;
    }
    while let [rest @ .., (letter, _)] = letters
        && letter.is_whitespace()
    {
        letters = rest;
    }
    letters
}

fn html(letters: &[(char, Style)]) -> String {
    let mut text = String::with_capacity(letters.len() + 16);
    let mut open = Style::Plain;
    for (letter, style) in letters {
        if *style != open {
            text.push_str(end(open));
            text.push_str(begin(*style));
            open = *style;
        }
        match letter {
            '&' => text.push_str("&amp;"),
            '<' => text.push_str("&lt;"),
            '>' => text.push_str("&gt;"),
            '\0' => {}
            other => text.push(*other),
        }
    }
    text.push_str(end(open));
    text
}

fn begin(style: Style) -> &'static str {
    match style {
        Style::Plain => "",
        Style::Bold => "<b>",
        Style::Italic => "<i>",
    }
}

fn end(style: Style) -> &'static str {
    match style {
        Style::Plain => "",
        Style::Bold => "</b>",
        Style::Italic => "</i>",
    }
}

/// The beginning of a text, at most so many UTF-16 units with the mark that something is missing.
pub fn beginning(text: &str, units_max: usize) -> String {
    if text.encode_utf16().count() <= units_max {
        return text.to_owned();
    }
    let mut units = 1;
    let mut kept: String = text
        .chars()
        .take_while(|letter| {
            units += letter.len_utf16();
            units <= units_max
        })
        .collect();
    kept.push('…');
    kept
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn read(html: &str) -> String {
        ["<b>", "</b>", "<i>", "</i>"]
            .iter()
            .fold(html.to_owned(), |text, tag| text.replace(tag, ""))
            .replace("&lt;", "<")
            .replace("&gt;", ">")
            .replace("&amp;", "&")
    }

    proptest! {
        #[test]
        fn parts_fit_and_lose_nothing_but_space(
            words in prop::collection::vec(("[a-z&<>ü🧊]{1,30}[ \n]{1,3}", any::<bool>()), 0..60),
            units_max in 8usize..200,
        ) {
            let mut rich = Rich::default();
            for (word, bold) in &words {
                rich.push(if *bold { Style::Bold } else { Style::Plain }, word);
            }
            let parts = rich.parts(units_max);
            let mut all = String::new();
            for part in &parts {
                let text = read(part);
                prop_assert!((1..=units_max).contains(&text.encode_utf16().count()));
                all.push_str(&text);
            }
            let bare = |text: &str| text.replace([' ', '\n'], "");
            let said: String = words.iter().map(|(word, _)| word.as_str()).collect();
            prop_assert_eq!(bare(&all), bare(&said));
        }
    }

    #[test]
    fn a_cut_falls_between_paragraphs_if_it_can() {
        let rich = Rich::plain("First of all.\n\nThen the second thing.");
        assert_eq!(rich.parts(30), ["First of all.", "Then the second thing."]);
        assert!(Rich::plain(" \n ").parts(30).is_empty());
    }

    #[test]
    fn marks_of_html_are_written_so_that_they_are_read() {
        let mut rich = Rich::default();
        rich.push(Style::Bold, "R < 5 & more");
        rich.line(Style::Italic, "<b>");
        assert_eq!(
            rich.parts(100),
            ["<b>R &lt; 5 &amp; more</b>\n<i>&lt;b&gt;</i>"]
        );
    }

    #[test]
    fn a_beginning_says_that_more_is_missing() {
        assert_eq!(beginning("short", 10), "short");
        assert_eq!(beginning("abcdefgh", 5), "abcd…");
    }
}
