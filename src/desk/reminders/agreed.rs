//! The day that people agreed on, out of their own words: `Friday, noon`, `tomorrow`.

use jiff::civil::{Date, Weekday};
use jiff::{ToSpan, ZonedDateTime};

/// What the words of a weekday begin with, from Monday on.
const WEEKDAYS: [(&str, Weekday); 7] = [
    ("mon", Weekday::Monday),
    ("tue", Weekday::Tuesday),
    ("wed", Weekday::Wednesday),
    ("thu", Weekday::Thursday),
    ("fri", Weekday::Friday),
    ("sat", Weekday::Saturday),
    ("sun", Weekday::Sunday),
];

/// The ends that such a beginning may have in a word that means the day.
const ENDS: [&str; 8] = ["", "s", "day", "sday", "nesday", "rsday", "urday", "rs"];

/// The day that these words name, said at this moment; none where they name none.
///
/// A weekday is the next one, today included. Nothing else is guessed: whoever writes a day in
/// another way is reminded by the usual time.
pub(super) fn day(words: &str, said: &ZonedDateTime) -> Option<Date> {
    let today = said.date();
    let lower = words.to_lowercase();
    let apart = |letter: char| !letter.is_alphanumeric() && letter != '-';
    let words: Vec<&str> = lower.split(apart).filter(|word| !word.is_empty()).collect();
    let in_days = |days: i64| today.checked_add(days.days()).ok();
    for (at, word) in words.iter().enumerate() {
        let found = match *word {
            "today" | "tonight" => Some(today),
            "tomorrow" => {
                let is_after = words[..at].ends_with(&["day", "after"]);
                in_days(if is_after { 2 } else { 1 })
            }
            _ => weekday(word)
                .and_then(|day| in_days(days_until(today, day)))
                .or_else(|| word.parse().ok()),
        };
        if found.is_some() {
            return found;
        }
    }
    match words.iter().position(|word| *word == "in") {
        Some(at) => match words.get(at + 1..at + 3) {
            Some([number, "day" | "days"]) => in_days(number.parse().ok()?),
            _ => None,
        },
        None => None,
    }
}

fn weekday(word: &str) -> Option<Weekday> {
    WEEKDAYS.into_iter().find_map(|(begins, day)| {
        let end = word.strip_prefix(begins)?;
        ENDS.contains(&end).then_some(day)
    })
}

fn days_until(today: Date, day: Weekday) -> i64 {
    i64::from(today.weekday().until(day))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Said on Sunday 4 May 2031, and the day that is meant; `-` where none is understood.
    const SAID: [(&str, &str); 16] = [
        ("Friday, noon", "2031-05-09"),
        ("Thursday, 3 in the afternoon", "2031-05-08"),
        ("thurs 8 am", "2031-05-08"),
        ("wednesday", "2031-05-07"),
        ("Sat.", "2031-05-10"),
        ("Sunday evening", "2031-05-04"),
        ("tomorrow at ten in the morning", "2031-05-05"),
        ("the day after tomorrow", "2031-05-06"),
        ("today", "2031-05-04"),
        ("by 2031-05-20", "2031-05-20"),
        ("in 3 days", "2031-05-07"),
        ("next week", "-"),
        ("money permitting", "-"),
        ("when the part is here", "-"),
        ("in a hurry", "-"),
        ("", "-"),
    ];

    #[test]
    fn a_day_is_understood_as_people_say_it_or_not_at_all() {
        let said: ZonedDateTime = "2031-05-04T15:00[America/Chicago]".parse().unwrap();
        for (words, meant) in SAID {
            let understood = day(words, &said).map_or("-".to_owned(), |day| day.to_string());
            assert_eq!(understood, meant, "{words}");
        }
    }
}
