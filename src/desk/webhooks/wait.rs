//! How long a failed call waits before it is tried again. Pure.

use jiff::SignedDuration;

/// The waits after the first try, the second, and so on: seconds at first, then hours, a bit more
/// than three days in all. The schedule that the Standard Webhooks specification gives as an
/// example (standardwebhooks.com, "Deliverability and reliability"), from memory.
const WAITS: [SignedDuration; 9] = [
    SignedDuration::from_secs(5),
    SignedDuration::from_mins(5),
    SignedDuration::from_mins(30),
    SignedDuration::from_hours(2),
    SignedDuration::from_hours(5),
    SignedDuration::from_hours(10),
    SignedDuration::from_hours(14),
    SignedDuration::from_hours(20),
    SignedDuration::from_hours(24),
];

/// How often a call is tried before it is given up.
pub const TRIES_MAX: usize = WAITS.len() + 1;

/// The wait after so many failed tries; none when that was the last.
///
/// `drawn` is any byte: up to a fifth is added by it, so that calls which failed together do not
/// all come back together.
pub(super) fn after(failed: u32, drawn: u8) -> Option<SignedDuration> {
    let at = usize::try_from(failed).ok()?.checked_sub(1)?;
    let wait = *WAITS.get(at)?;
    let more = wait.as_millis().saturating_mul(i128::from(drawn)) / (5 * 255);
    Some(wait + SignedDuration::from_millis(i64::try_from(more).unwrap_or_default()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn waits_grow_to_days_and_then_end() {
        let waits: Vec<_> = (1..).map_while(|failed| after(failed, 0)).collect();
        assert_eq!(waits, WAITS);
        assert!(waits.is_sorted());
        let all: SignedDuration = waits.iter().sum();
        assert!(all > SignedDuration::from_hours(72), "{all:?}");
        assert_eq!(after(u32::try_from(TRIES_MAX).unwrap(), 0), None);
        assert_eq!(after(0, 0), None);
    }

    #[test]
    fn a_wait_is_stretched_by_a_fifth_at_most() {
        for drawn in 0..=255 {
            let wait = after(2, drawn).unwrap();
            assert!(wait >= WAITS[1] && wait <= WAITS[1] * 6 / 5, "{drawn}");
        }
        assert_eq!(after(2, 255), Some(WAITS[1] * 6 / 5));
    }
}
