//! Quiet hours: the part of a day in which nobody is reminded of anything.

use jiff::civil::Time;
use jiff::tz::TimeZone;
use jiff::{SignedDuration, Timestamp, ZonedDateTime};
use serde::{Deserialize, Serialize};

/// So many minutes of a day stay open at least, or no reminder would ever get through.
const OPEN_MINUTES_MIN: i64 = 120;

/// The minutes of a day without a change of the clock.
const DAY_MINUTES: i64 = 24 * 60;

/// A clock that is put back at the end of the quiet hours makes them begin once more; never
/// oftener than this.
const TIMES_MORE: usize = 3;

/// From one time of the day to another, perhaps over midnight.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(try_from = "Written", into = "Written")]
pub struct QuietHours {
    from: Time,
    to: Time,
}

/// Quiet hours as they are kept.
#[derive(Serialize, Deserialize)]
struct Written {
    from: Time,
    to: Time,
}

impl From<QuietHours> for Written {
    fn from(QuietHours { from, to }: QuietHours) -> Written {
        Written { from, to }
    }
}

impl TryFrom<Written> for QuietHours {
    type Error = TooQuiet;

    fn try_from(written: Written) -> Result<QuietHours, TooQuiet> {
        QuietHours::new(written.from, written.to)
    }
}

/// The quiet hours leave too little of the day.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error(
    "Quiet hours from {from} to {to} leave less than two hours of the day for reminders. Choose \
     other times, or none at all.",
    from = minute(*.0), to = minute(*.1)
)]
pub struct TooQuiet(Time, Time);

impl QuietHours {
    /// What holds for everybody who chose nothing: 20:00 to 06:00.
    pub const USUAL: QuietHours = QuietHours {
        from: Time::constant(20, 0, 0, 0),
        to: Time::constant(6, 0, 0, 0),
    };

    /// Quiet hours between these times of the day.
    ///
    /// # Errors
    /// When less than two hours of the day stay open.
    pub fn new(from: Time, to: Time) -> Result<QuietHours, TooQuiet> {
        let of_day = |time: Time| i64::from(time.hour()) * 60 + i64::from(time.minute());
        let open = (of_day(from) - of_day(to)).rem_euclid(DAY_MINUTES);
        if open < OPEN_MINUTES_MIN {
            return Err(TooQuiet(from, to));
        }
        Ok(QuietHours { from, to })
    }

    /// When they begin: `20:00`.
    pub fn from(&self) -> String {
        minute(self.from)
    }

    /// When they are over: `06:00`.
    pub fn to(&self) -> String {
        minute(self.to)
    }

    /// Whether it is quiet at this moment by the clocks of this zone.
    pub fn hold(&self, at: Timestamp, zone: &TimeZone) -> bool {
        let time = at.to_zoned_datetime(zone.clone()).time();
        if self.from <= self.to {
            self.from <= time && time < self.to
        } else {
            self.from <= time || time < self.to
        }
    }

    /// When they are over, from `at` on; `at` itself where it is not quiet.
    pub fn over_at(&self, at: Timestamp, zone: &TimeZone) -> Timestamp {
        let mut at = at;
        for _ in 0..TIMES_MORE {
            if !self.hold(at, zone) {
                break;
            }
            at = self.next_end(&at.to_zoned_datetime(zone.clone()));
        }
        at
    }

    fn next_end(&self, now: &ZonedDateTime) -> Timestamp {
        let today = now.date();
        let day = if now.time() < self.to {
            Ok(today)
        } else {
            today.tomorrow()
        };
        let end = day.and_then(|day| {
            let end = now
                .time_zone()
                .to_ambiguous_zoned_datetime(day.to_datetime(self.to));
            let first = end.clone().compatible()?;
            // A clock that was put back strikes the hour twice.
            if first.timestamp() > now.timestamp() {
                Ok(first)
            } else {
                end.later()
            }
        });
        let later = now.timestamp() + SignedDuration::from_mins(1);
        end.map_or(later, |end| end.timestamp().max(later))
    }
}

/// `06:00`.
fn minute(time: Time) -> String {
    format!("{:02}:{:02}", time.hour(), time.minute())
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn zone(name: &str) -> TimeZone {
        TimeZone::get(name).unwrap()
    }

    /// Zones with a change of the clock by an hour and by half an hour, one at the far side of
    /// the date line, one with a quarter of an hour.
    const ZONES: [&str; 6] = [
        "UTC",
        "America/Chicago",
        "Europe/Berlin",
        "Australia/Lord_Howe",
        "Pacific/Kiritimati",
        "Asia/Kathmandu",
    ];

    #[test]
    fn a_night_goes_over_midnight() {
        let chicago = zone("America/Chicago");
        let quiet = |text: &str| QuietHours::USUAL.hold(text.parse().unwrap(), &chicago);
        // In May Chicago is five hours behind.
        assert!(!quiet("2031-05-05T00:59:59Z"), "19:59");
        assert!(quiet("2031-05-05T01:00:00Z"), "20:00");
        assert!(quiet("2031-05-05T10:59:59Z"), "05:59");
        assert!(!quiet("2031-05-05T11:00:00Z"), "06:00");
        let over = QuietHours::USUAL.over_at("2031-05-05T03:00:00Z".parse().unwrap(), &chicago);
        assert_eq!(over.to_string(), "2031-05-05T11:00:00Z");
    }

    #[test]
    fn an_hour_that_is_left_out_or_comes_twice_does_not_confuse_them() {
        // Berlin, 2031: the clock goes from 02:00 to 03:00 on 30 March, and back from 03:00 to
        // 02:00 on 26 October, as Directive 2000/84/EC has it: last Sundays, 01:00 UTC.
        let berlin = zone("Europe/Berlin");
        let quiet = QuietHours::new(Time::constant(22, 0, 0, 0), Time::constant(2, 30, 0, 0));
        let quiet = quiet.unwrap();
        let over = |text: &str| quiet.over_at(text.parse().unwrap(), &berlin).to_string();
        assert_eq!(over("2031-03-30T00:30:00Z"), "2031-03-30T01:30:00Z");
        // 02:30 is reached, then the clock goes back to 02:00 half an hour later.
        assert_eq!(over("2031-10-25T23:00:00Z"), "2031-10-26T00:30:00Z");
        assert_eq!(over("2031-10-26T01:10:00Z"), "2031-10-26T01:30:00Z");
    }

    #[test]
    fn quiet_hours_that_leave_nothing_are_refused() {
        let times = |from: i8, to: i8| {
            QuietHours::new(Time::constant(from, 0, 0, 0), Time::constant(to, 0, 0, 0))
        };
        assert!(times(8, 8).is_err());
        assert!(times(7, 6).is_err());
        assert!(times(8, 6).is_ok());
        let told = times(7, 6).unwrap_err().to_string();
        assert!(told.contains("from 07:00 to 06:00"), "{told}");
    }

    proptest! {
        #[test]
        fn their_end_is_not_quiet_not_before_and_never_more_than_a_day_off(
            (from, open) in (0i64..DAY_MINUTES, OPEN_MINUTES_MIN..DAY_MINUTES),
            second in 1_900_000_000i64..2_000_000_000,
            place in 0..ZONES.len(),
        ) {
            let time = |minute: i64| {
                let minute = minute.rem_euclid(DAY_MINUTES);
                Time::constant((minute / 60) as i8, (minute % 60) as i8, 0, 0)
            };
            let quiet = QuietHours::new(time(from), time(from - open)).unwrap();
            let zone = zone(ZONES[place]);
            let at = Timestamp::from_second(second).unwrap();
            let over = quiet.over_at(at, &zone);
            prop_assert!(over >= at);
            prop_assert!(!quiet.hold(over, &zone));
            prop_assert_eq!(over == at, !quiet.hold(at, &zone));
            prop_assert!(over.duration_since(at) <= SignedDuration::from_hours(25));
        }
    }
}
