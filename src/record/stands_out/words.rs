//! The wording that several rules share.

use jiff::SignedDuration;

/// The most characters of a question in a finding; the whole question stands in the record.
const ASKED_CHARACTERS_MAX: usize = 70;

/// A length of time as people say it: `4 s`, `25 min`, `3 h 5 min`, `2 d 4 h`.
pub fn span(time: SignedDuration) -> String {
    let seconds = time.as_secs().max(0);
    let (minutes, hours, days) = (seconds / 60, seconds / 3_600, seconds / 86_400);
    let with = |whole: i64, unit: &str, rest: i64, small: &str| match rest {
        0 => format!("{whole} {unit}"),
        rest => format!("{whole} {unit} {rest} {small}"),
    };
    if minutes < 2 {
        format!("{seconds} s")
    } else if hours < 1 {
        format!("{minutes} min")
    } else if days < 1 {
        with(hours, "h", minutes % 60, "min")
    } else {
        with(days, "d", hours % 24, "h")
    }
}

/// How many things stand out, as one sentence; none where nothing does.
pub fn count(findings: usize) -> Option<String> {
    match findings {
        0 => None,
        1 => Some("1 thing stands out.".to_owned()),
        more => Some(format!("{more} things stand out.")),
    }
}

/// A question in quotes, cut between words where it is long.
pub(super) fn quoted(asked: &str) -> String {
    let asked = asked.trim();
    if asked.chars().count() <= ASKED_CHARACTERS_MAX {
        return format!("“{asked}”");
    }
    let mut short = String::new();
    let mut long = 0;
    for word in asked.split_whitespace() {
        let with_word = long + word.chars().count() + 1;
        if with_word > ASKED_CHARACTERS_MAX && !short.is_empty() {
            break;
        }
        short.push_str(word);
        short.push(' ');
        long = with_word;
    }
    format!("“{} …”", short.trim_end())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_read_as_people_say_them() {
        for (seconds, words) in [
            (0, "0 s"),
            (119, "119 s"),
            (120, "2 min"),
            (3_600, "1 h"),
            (11_100, "3 h 5 min"),
            (187_200, "2 d 4 h"),
        ] {
            assert_eq!(span(SignedDuration::from_secs(seconds)), words);
        }
    }

    #[test]
    fn a_long_question_is_cut_between_words() {
        let asked = "Hold the new plug against the old socket. Does it fit, does it lock, and is \
            it dry?";
        assert_eq!(
            quoted(asked),
            "“Hold the new plug against the old socket. Does it fit, does it lock, …”"
        );
        assert_eq!(quoted(" Short? "), "“Short?”");
    }
}
