//! Why the desk did not do something: one sentence for the person who asked.

use super::chance::NoChance;
use crate::store::{AppendError, StoreError};
use crate::walk::refusal::Refusal;

/// Why something was not done. The text is meant for the person; [`DeskError::for_the_log`]
/// says more.
#[derive(Clone, Debug, thiserror::Error)]
pub enum DeskError {
    /// It is not there, or belongs to another crew: the answer is the same.
    #[error("There is no such {0} in your crew. Open it from your list.")]
    NotFound(&'static str),
    /// The person may not do this.
    #[error("{0}")]
    NotAllowed(String),
    /// What was sent cannot be used.
    #[error("{0}")]
    NotUnderstood(String),
    /// A code that was never given, was used, was taken back or is too old.
    #[error("This code does not work: it was used already or is too old. Ask for a new one.")]
    BadCode,
    /// A login that nobody has, or not with this password: the answer is the same.
    #[error("This login and password do not fit together. Try again, or come in with a code.")]
    BadPassword,
    /// Nobody is signed in at this address.
    #[error("You are not signed in. Ask your supervisor for a code, or open the page again.")]
    NotSignedIn,
    /// The engine refused; the job stands where it stood.
    #[error(transparent)]
    Refused(#[from] Refusal),
    /// Many people did the same at once.
    #[error("Somebody changed this at the same moment. Look at it again, then try once more.")]
    Busy,
    /// More people sign in at once than passwords can be looked at.
    #[error("Very many people sign in at this moment. Wait a few seconds, then try again.")]
    Crowded,
    /// A part of the server has a fault that only its operator can mend.
    #[error(
        "The server has a fault and could not do this. What you sent last may not be kept. Tell \
         its operator."
    )]
    Fault(String),
    /// The store could not read or keep something.
    #[error(
        "The server could not keep or read this just now. What you sent last may not be kept: look \
         where it stands, then send it again."
    )]
    Store(StoreError),
    /// There is no room on the server's disk. It goes on by itself once there is.
    #[error(
        "The server's disk is full, so this was not kept. Nothing before it is lost. Tell its \
         operator, then send it again."
    )]
    NoRoom(StoreError),
    /// The store keeps nothing any more before a restart.
    #[error(
        "The server takes no more work until it is restarted. What you saw confirmed is kept. Tell \
         its operator."
    )]
    Stopped(StoreError),
    /// The store cannot tell whether the input was kept.
    #[error("The server stopped in the middle of this. Look at the job again in a minute.")]
    Unsure(StoreError),
}

impl DeskError {
    /// What the operator should read, where that differs from the sentence for the person.
    pub fn for_the_log(&self) -> String {
        match self {
            DeskError::Fault(detail) => detail.clone(),
            DeskError::Store(error)
            | DeskError::NoRoom(error)
            | DeskError::Stopped(error)
            | DeskError::Unsure(error) => error.to_string(),
            other => other.to_string(),
        }
    }

    /// Whether it stays so however often it is tried: what was kept cannot be read or used.
    pub(super) fn is_lasting(&self) -> bool {
        match self {
            DeskError::Fault(_) | DeskError::NotFound(_) => true,
            DeskError::Store(error) => matches!(error, StoreError::Damaged { .. }),
            _ => false,
        }
    }

    /// Whether this is a fault of the server and not an answer to the person.
    pub fn is_fault(&self) -> bool {
        matches!(
            self,
            DeskError::Fault(_)
                | DeskError::Store(_)
                | DeskError::NoRoom(_)
                | DeskError::Stopped(_)
                | DeskError::Unsure(_)
        )
    }
}

impl From<StoreError> for DeskError {
    fn from(error: StoreError) -> Self {
        match error {
            StoreError::ForeignCursor => DeskError::NotUnderstood(error.to_string()),
            error if error.is_no_room() => DeskError::NoRoom(error),
            error if error.is_stopped() => DeskError::Stopped(error),
            other => DeskError::Store(other),
        }
    }
}

impl From<AppendError> for DeskError {
    fn from(error: AppendError) -> Self {
        match error {
            AppendError::Conflict { .. } => DeskError::Busy,
            AppendError::Failed(error) => error.into(),
            AppendError::Unsure(error) => DeskError::Unsure(error),
            AppendError::TooLong { .. } => DeskError::NotUnderstood(error.to_string()),
            AppendError::AlreadyHandled { .. } | AppendError::StreamNamedTwice { .. } => {
                DeskError::Fault(error.to_string())
            }
        }
    }
}

impl From<NoChance> for DeskError {
    fn from(error: NoChance) -> Self {
        DeskError::Fault(error.to_string())
    }
}
