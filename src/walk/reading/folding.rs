//! One sign for every sign that means the same, and a harmless echo of what was sent.

use super::READING_CHARACTERS_MAX;

/// The most characters of what a person sent that are shown back.
const ECHO_CHARACTERS_MAX: usize = 40;

/// The text with one kind of minus, quote, space and digit; nothing when it is too long.
pub(super) fn folded(text: &str) -> Option<String> {
    let text = text.trim();
    if text.chars().count() > READING_CHARACTERS_MAX {
        return None;
    }
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        fold(c, &mut out);
    }
    Some(out.replace("''", "\"").trim().to_owned())
}

fn fold(c: char, out: &mut String) {
    match c {
        '−' | '–' | '—' | '‐' | '‑' | '‒' | '﹣' => out.push('-'),
        '’' | '‘' | '′' => out.push('\''),
        '“' | '”' | '„' | '″' => out.push('"'),
        'º' | '˚' => out.push('°'),
        '℃' => out.push_str("°C"),
        '℉' => out.push_str("°F"),
        '⁄' => out.push('/'),
        // The full-width copies of the printable ASCII signs.
        '！'..='～' => out.extend(char::from_u32(u32::from(c) - 0xFEE0)),
        _ if is_unseen(c) => {}
        _ if c.is_whitespace() => out.push(' '),
        _ => match vulgar_fraction(c) {
            Some(fraction) => {
                out.push(' ');
                out.push_str(fraction);
            }
            None => out.push(c),
        },
    }
}

fn vulgar_fraction(c: char) -> Option<&'static str> {
    Some(match c {
        '½' => "1/2",
        '⅓' => "1/3",
        '⅔' => "2/3",
        '¼' => "1/4",
        '¾' => "3/4",
        '⅕' => "1/5",
        '⅙' => "1/6",
        '⅛' => "1/8",
        '⅜' => "3/8",
        '⅝' => "5/8",
        '⅞' => "7/8",
        '⅒' => "1/10",
        _ => return None,
    })
}

/// Marks that steer text or take no room: they could make an echo read otherwise than sent.
fn is_unseen(c: char) -> bool {
    matches!(c, '\u{200B}'..='\u{200F}' | '\u{202A}'..='\u{202E}' | '\u{2060}'..='\u{206F}')
        || matches!(c, '\u{FEFF}' | '\u{00AD}' | '\u{061C}')
        || (c.is_control() && !c.is_whitespace())
}

/// Whether this may stand in a sentence that repeats a name or a remark: no control character, and
/// no mark that would turn the rest of the sentence around.
pub fn fits_a_sentence(c: char) -> bool {
    !c.is_control() && !turns_direction(c)
}

/// Whether this is a mark that turns the direction of what stands after it.
fn turns_direction(c: char) -> bool {
    matches!(c, '\u{200E}' | '\u{200F}' | '\u{061C}')
        || matches!(c, '\u{202A}'..='\u{202E}' | '\u{2066}'..='\u{2069}')
}

/// `You sent “…”.`, short and on one line; nothing when there is nothing to show.
pub(super) fn you_sent(text: &str) -> String {
    match echo(text).as_str() {
        "“”" => String::new(),
        echo => format!(" You sent {echo}."),
    }
}

/// What was sent, short and in quotes.
fn echo(text: &str) -> String {
    let clean: String = text.chars().filter(|c| !is_unseen(*c)).collect();
    let words: Vec<&str> = clean.split_whitespace().collect();
    let line = words.join(" ");
    if line.chars().count() <= ECHO_CHARACTERS_MAX {
        return format!("“{line}”");
    }
    let short: String = line.chars().take(ECHO_CHARACTERS_MAX - 1).collect();
    format!("“{}…”", short.trim_end())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn signs_that_mean_the_same_become_one() {
        for (text, expected) in [
            ("−23 ℃", "-23 °C"),
            ("２０８Ｖ", "208V"),
            ("12″", "12\""),
            ("5’ 6''", "5' 6\""),
            ("1½ hp", "1 1/2 hp"),
            ("¾", "3/4"),
            ("208\u{a0}\u{200b}V", "208 V"),
            ("38 ºF", "38 °F"),
        ] {
            assert_eq!(folded(text).as_deref(), Some(expected));
        }
        assert_eq!(folded(&"1".repeat(65)), None);
    }

    #[test]
    fn an_echo_is_short_and_on_one_line() {
        assert_eq!(echo("two\n\thundred\u{7}"), "“two hundred”");
        assert_eq!(echo("a\u{202e}b"), "“ab”");
        let long = echo(&"no ".repeat(40));
        assert!(long.chars().count() <= ECHO_CHARACTERS_MAX + 2);
        assert!(long.ends_with("…”"));
    }
}
