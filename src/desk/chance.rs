//! The one place where ids and secrets are drawn.

use std::fmt;

use jiff::Timestamp;
use uuid::Uuid;

use super::error::DeskError;

/// Draws random bytes. A test or a simulation brings its own.
pub trait Chance: Send + Sync + fmt::Debug {
    /// Fills all of `bytes`.
    ///
    /// # Errors
    /// When the system has no randomness to give.
    fn fill(&self, bytes: &mut [u8]) -> Result<(), NoChance>;
}

/// The system gave no random bytes.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("The system gave no random bytes: {0}. Try again; if it stays so, restart the machine.")]
pub struct NoChance(pub String);

/// The randomness of the operating system.
#[derive(Clone, Copy, Debug, Default)]
pub struct SystemChance;

impl Chance for SystemChance {
    fn fill(&self, bytes: &mut [u8]) -> Result<(), NoChance> {
        getrandom::fill(bytes).map_err(|error| NoChance(error.to_string()))
    }
}

/// A new id that sorts by the time it was made, RFC 9562 version 7.
pub(super) fn new_id(chance: &dyn Chance, at: Timestamp) -> Result<Uuid, DeskError> {
    let mut random = [0; 10];
    chance.fill(&mut random)?;
    let millis = u64::try_from(at.as_millisecond()).unwrap_or_default();
    Ok(uuid::Builder::from_unix_timestamp_millis(millis, &random).into_uuid())
}

/// Random bytes for a secret.
pub(super) fn secret<const BYTES: usize>(chance: &dyn Chance) -> Result<[u8; BYTES], DeskError> {
    let mut bytes = [0; BYTES];
    chance.fill(&mut bytes)?;
    Ok(bytes)
}
