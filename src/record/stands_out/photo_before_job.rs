//! A photo that says it was taken before the job began.
//!
//! A camera's clock knows no time zone. The earliest zone is 14 h ahead of UTC and the latest 12 h
//! behind it, so a photo counts only when it is earlier whichever zone the camera was set to.

use jiff::civil::DateTime;
use jiff::tz::TimeZone;
use jiff::{SignedDuration, Timestamp};

use super::super::entry::{Answer, PhotoRef, What};
use super::words::quoted;
use super::{Finding, Look, Moment, Rule};

/// The zone that is furthest behind UTC.
const BEHIND_UTC_MAX: SignedDuration = SignedDuration::from_hours(12);

pub(super) fn look(look: &Look<'_>) -> Vec<Finding> {
    let Some(began) = look.moments.first().map(|moment| moment.entry.at) else {
        return Vec::new();
    };
    let find = |moment: &Moment<'_>| {
        let photo = photo(moment)?;
        let taken = photo.taken.as_deref()?;
        let at_the_latest = latest(taken)?;
        if at_the_latest >= began {
            return None;
        }
        let what = match &moment.place {
            Some(place) => format!("The photo for {}", quoted(&place.asked)),
            None => "A photo".to_owned(),
        };
        let sentence = format!(
            "{what} says it was taken {taken} by its camera. The job began {}. The clock of the \
             camera may be wrong.",
            began.strftime("%Y-%m-%d %H:%M UTC")
        );
        Some(Finding::new(
            Rule::PhotoBeforeJob,
            vec![moment.seq],
            sentence,
        ))
    };
    look.moments.iter().filter_map(find).collect()
}

/// The photo that an entry brought.
pub(super) fn photo<'a>(moment: &Moment<'a>) -> Option<&'a PhotoRef> {
    match &moment.entry.what {
        What::Answered {
            answer: Answer::Photo { photo },
            ..
        }
        | What::ProofPart {
            answer: Answer::Photo { photo },
            ..
        } => Some(photo),
        _ => None,
    }
}

/// The latest moment that a camera's time can stand for.
fn latest(taken: &str) -> Option<Timestamp> {
    let by_camera = DateTime::strptime("%Y-%m-%d %H:%M:%S", taken.get(..19)?).ok()?;
    let as_utc = TimeZone::UTC.to_timestamp(by_camera).ok()?;
    as_utc.checked_add(BEHIND_UTC_MAX).ok()
}
