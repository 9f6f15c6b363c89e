//! What a reminder says: what waits, since when, and for whom.

use jiff::Timestamp;
use jiff::tz::TimeZone;

use super::matter::Matter;
use crate::flow::model::Role;

/// So many matters are told one by one in a message; the others are counted.
pub const LINES_MAX: usize = 8;

/// So much of a remark is repeated where other matters are told too.
const REMARK_CHARACTERS_MAX: usize = 80;

/// What there is to say of one matter to one person.
pub(super) struct Line<'a> {
    /// The evaporator, in one line.
    pub(super) evaporator: &'a str,
    pub(super) matter: &'a Matter,
    pub(super) since: Timestamp,
    /// Whose job it is; none if it is the job of whoever reads this.
    pub(super) holder: Option<&'a str>,
    /// Nobody of the crew may review it.
    pub(super) nobody_to_review: bool,
}

/// A moment by the clocks of whoever reads it: `Sun 4 May, 15:05`.
fn moment(at: Timestamp, clocks: &TimeZone) -> String {
    let at = at.to_zoned_datetime(clocks.clone());
    at.strftime("%a %-d %b, %H:%M").to_string()
}

impl Line<'_> {
    fn sentence(&self, clocks: &TimeZone, is_alone: bool) -> String {
        let evaporator = self.evaporator;
        let since = moment(self.since, clocks);
        match self.matter {
            Matter::Hold(roles) => {
                let roles: Vec<&str> = roles.iter().map(|role| Role::with_article(*role)).collect();
                let roles = roles.join(" or ");
                format!("{evaporator} waits for {roles}, since {since}.")
            }
            Matter::LockedOut(promise) => {
                let promise = promise.as_ref().map_or(String::new(), |promise| {
                    let (owner, date) = (said(&promise.owner), said(&promise.date));
                    format!(" Owner: {owner}. Looked at again: {date}.")
                });
                format!("{evaporator} is left locked out, since {since}.{promise}")
            }
            Matter::SentBack(remark) => {
                let to = self.holder.map_or("you", |holder| holder);
                let remark = match is_alone {
                    true => remark.clone(),
                    false => beginning(remark),
                };
                format!(
                    "The job at {evaporator} was sent back to {to} on {since} and is not taken \
                     up: {remark}"
                )
            }
            Matter::LookAgain(promise) => {
                let (owner, date) = (said(&promise.owner), said(&promise.date));
                format!(
                    "{evaporator} was to be looked at again after the job of {since}. Promised \
                     by {owner}: {date}. No later job there is done."
                )
            }
            Matter::ToReview => {
                let nobody = if self.nobody_to_review {
                    " Nobody of the crew may review it: make somebody else a supervisor."
                } else {
                    ""
                };
                format!("The job at {evaporator} waits for review, since {since}.{nobody}")
            }
        }
    }
}

/// Words of somebody without the full stop that follows anyway.
fn said(words: &str) -> &str {
    words.trim().trim_end_matches('.')
}

fn beginning(text: &str) -> String {
    match text.char_indices().nth(REMARK_CHARACTERS_MAX) {
        Some((end, _)) => format!("{}…", &text[..end]),
        None => text.to_owned(),
    }
}

/// One message of everything that waits for a person, and where it lists several things, each of
/// them by itself.
pub(super) fn message(lines: &[Line<'_>], clocks: &TimeZone) -> (String, Vec<String>) {
    if let [line] = lines {
        let sentence = format!("Reminder: {}", line.sentence(clocks, true));
        return (sentence, Vec::new());
    }
    let each: Vec<String> = lines
        .iter()
        .map(|line| line.sentence(clocks, false))
        .collect();
    let mut message = format!("Reminder: {} things wait for you.", lines.len());
    for line in each.iter().take(LINES_MAX) {
        message.push_str("\n• ");
        message.push_str(line);
    }
    let left = lines.len().saturating_sub(LINES_MAX);
    if left > 0 {
        message.push_str(&format!("\n{left} more are in the lists of jobs."));
    }
    (message, each)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn more_matters_than_fit_are_counted() {
        let line = || Line {
            evaporator: "Corner Market · EV-3",
            matter: &Matter::ToReview,
            since: "2031-05-04T20:05:00Z".parse().unwrap(),
            holder: None,
            nobody_to_review: false,
        };
        let lines: Vec<Line<'_>> = (0..11).map(|_| line()).collect();
        let (message, each) = message(&lines, &TimeZone::get("America/Chicago").unwrap());
        assert_eq!(each.len(), 11);
        let told: Vec<&str> = message.lines().collect();
        assert_eq!(told[0], "Reminder: 11 things wait for you.");
        assert_eq!(
            told[1],
            "• The job at Corner Market · EV-3 waits for review, since Sun 4 May, 15:05."
        );
        assert_eq!(told[9], "3 more are in the lists of jobs.");
        assert_eq!(told.len(), 10);
    }
}
