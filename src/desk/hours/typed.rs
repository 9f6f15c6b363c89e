//! Quiet hours and time zones as people type them.

use jiff::civil::Time;
use jiff::tz::TimeZone;
use serde::{Deserialize, Serialize};

use super::quiet::QuietHours;
use crate::desk::error::DeskError;

/// How a wish for quiet hours may look, for every sentence that has to say it.
const LIKE: &str = "Write two times like 21:00 06:30, or `none`; a time zone like \
                    America/Chicago may follow.";

/// The name of a time zone that is known here: `America/Chicago`.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Zone(String);

impl Zone {
    /// The time zone that somebody typed, by its name in the time zone database of the IANA.
    ///
    /// # Errors
    /// When there is none of this name; the sentence says how names look.
    pub fn typed(text: &str) -> Result<Zone, DeskError> {
        let text = text.trim().replace(' ', "_");
        let zone = TimeZone::get(&text).ok();
        let name = zone.as_ref().and_then(TimeZone::iana_name);
        name.map(|name| Zone(name.to_owned())).ok_or_else(|| {
            let shown: String = text.chars().take(60).collect();
            DeskError::NotUnderstood(format!(
                "There is no time zone “{shown}”. Write its name with continent and city, like \
                 America/Chicago or Europe/Berlin."
            ))
        })
    }

    /// Its name.
    pub fn name(&self) -> &str {
        &self.0
    }

    /// Its clocks; none where this program knows fewer zones than the one that kept it.
    pub(in crate::desk) fn clocks(&self) -> Option<TimeZone> {
        TimeZone::get(&self.0).ok()
    }
}

/// What a person wishes: a part that is not there stays as it is.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Wish {
    /// Other quiet hours, or none at all.
    pub quiet: Option<Option<QuietHours>>,
    /// A time zone of their own, or that of the crew again.
    pub zone: Option<Option<Zone>>,
}

impl Wish {
    /// The wish that somebody typed: `21:00 06:30`, `none`, `9pm 6am Europe/Berlin`.
    ///
    /// # Errors
    /// When it cannot be understood; the sentence says how it may look.
    pub fn typed(text: &str) -> Result<Wish, DeskError> {
        let mut wish = Wish::default();
        let mut times = Vec::new();
        for word in text.split_whitespace() {
            let bare = word.trim_end_matches(',').to_lowercase();
            match bare.as_str() {
                "none" => wish.quiet = Some(None),
                "crew" => wish.zone = Some(None),
                "from" | "to" | "and" | "-" | "–" => {}
                _ if bare.starts_with(|first: char| first.is_ascii_digit()) => {
                    times.push(time_typed(&bare)?);
                }
                _ => wish.zone = Some(Some(Zone::typed(word)?)),
            }
        }
        match times[..] {
            [] => {}
            [from, to] => wish.quiet = Some(Some(quiet(from, to)?)),
            _ => {
                return Err(DeskError::NotUnderstood(format!(
                    "Two times are needed. {LIKE}"
                )));
            }
        }
        if wish == Wish::default() {
            return Err(DeskError::NotUnderstood(format!(
                "That says nothing. {LIKE}"
            )));
        }
        Ok(wish)
    }

    /// The wish of a form: two times, or none, and the name of a zone, or nothing for the crew's.
    ///
    /// # Errors
    /// When a field cannot be understood; the sentence says how it may look.
    pub fn filled_in((from, to): (&str, &str), none: bool, zone: &str) -> Result<Wish, DeskError> {
        let quiet = if none {
            None
        } else {
            Some(quiet(time_typed(from)?, time_typed(to)?)?)
        };
        let zone = match zone.trim() {
            "" => None,
            name => Some(Zone::typed(name)?),
        };
        Ok(Wish {
            quiet: Some(quiet),
            zone: Some(zone),
        })
    }
}

fn quiet(from: Time, to: Time) -> Result<QuietHours, DeskError> {
    QuietHours::new(from, to).map_err(|error| DeskError::NotUnderstood(error.to_string()))
}

/// A time of the day: `21:00`, `6.30`, `9pm`, `6`.
fn time_typed(text: &str) -> Result<Time, DeskError> {
    let text = text.trim().to_lowercase();
    let wrong = || {
        let shown: String = text.chars().take(20).collect();
        DeskError::NotUnderstood(format!("“{shown}” is no time of the day. {LIKE}"))
    };
    let half = text.trim_end_matches("am").trim_end_matches("pm").len();
    let (clock, half_of_day) = text.split_at(half);
    let (hour, minute) = clock.split_once([':', '.']).unwrap_or((clock, "0"));
    let number = |text: &str| text.trim().parse::<i8>().map_err(|_| wrong());
    let (hour, minute) = (number(hour)?, number(minute)?);
    let hour = match (half_of_day, hour) {
        ("", hour) => hour,
        ("am", 12) => 0,
        ("pm", 12) => 12,
        ("am", 1..12) => hour,
        ("pm", 1..12) => hour + 12,
        _ => return Err(wrong()),
    };
    Time::new(hour, minute, 0, 0).map_err(|_| wrong())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What is typed, and what is understood: quiet hours and zone, `=` where it stays.
    const UNDERSTOOD: [(&str, &str, &str); 9] = [
        ("21:00 06:30", "21:00-06:30", "="),
        ("from 21:00 to 6", "21:00-06:00", "="),
        ("9pm 6am", "21:00-06:00", "="),
        ("12am 12pm", "00:00-12:00", "="),
        ("22.15 - 5.45 Europe/Berlin", "22:15-05:45", "Europe/Berlin"),
        ("none", "none", "="),
        ("america/chicago", "=", "America/Chicago"),
        ("none crew", "none", "crew"),
        ("20:00, 06:00 UTC", "20:00-06:00", "UTC"),
    ];

    #[test]
    fn wishes_are_understood_as_people_type_them() {
        for (text, quiet, zone) in UNDERSTOOD {
            let wish = Wish::typed(text).unwrap_or_else(|error| panic!("{text}: {error}"));
            let quiet_of = |quiet: QuietHours| format!("{}-{}", quiet.from(), quiet.to());
            let understood = match wish.quiet {
                None => "=".to_owned(),
                Some(hours) => hours.map_or("none".to_owned(), quiet_of),
            };
            assert_eq!(understood, quiet, "{text}");
            let understood = match &wish.zone {
                None => "=",
                Some(zone) => zone.as_ref().map_or("crew", Zone::name),
            };
            assert_eq!(understood, zone, "{text}");
        }
    }

    #[test]
    fn what_cannot_be_understood_gets_one_sentence() {
        for (text, says) in [
            ("", "That says nothing"),
            ("21:00", "Two times are needed"),
            ("1 2 3", "Two times are needed"),
            ("25:00 06:00", "“25:00” is no time"),
            ("13pm 6am", "“13pm” is no time"),
            ("21:00 06:61", "“06:61” is no time"),
            ("Middle/Nowhere", "no time zone “Middle/Nowhere”"),
            ("7:00 6:00", "less than two hours"),
        ] {
            let told = Wish::typed(text).unwrap_err().to_string();
            assert!(told.contains(says), "{text}: {told}");
        }
    }

    #[test]
    fn a_form_says_everything_at_once() {
        let wish = Wish::filled_in(("22:00", "05:00"), false, "").unwrap();
        assert_eq!(wish.zone, Some(None));
        assert_eq!(wish.quiet.unwrap().unwrap().from(), "22:00");
        let wish = Wish::filled_in(("", ""), true, "Asia/Tokyo").unwrap();
        assert_eq!(wish.quiet, Some(None));
        assert!(Wish::filled_in(("", "05:00"), false, "").is_err());
    }
}
