//! What of a record a reviewer looks at twice.

use crate::record::check_in::{CheckIn, Stage};
use crate::record::entry::{Answer, VoidReason, What};

/// Whether a reviewer looks at this twice: a reading outside its band, a proof that did not pass
/// or that became void before the return to service, stopped work, a lock left or taken off.
pub fn looks_twice(what: &What) -> bool {
    match what {
        What::Answered {
            answer: Answer::Reading { reading },
            band: Some(band),
            ..
        } => !band.holds(reading.value),
        // Every return to service ends the proofs that it no longer needs.
        What::ProofVoided { why, .. } => {
            !matches!(why, VoidReason::Reenergised | VoidReason::LockOff)
        }
        What::CheckIn { of } => matches!(
            of,
            CheckIn::Asked {
                stage: Stage::Alarm,
                ..
            }
        ),
        What::ReadAgain { .. }
        | What::ProofFailed { .. }
        | What::Stopped
        | What::Emergency
        | What::LeftLockedOut { .. }
        | What::LockTakenOff { .. } => true,
        _ => false,
    }
}
