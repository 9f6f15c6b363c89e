//! Time: waits that end, and what a start or a jump of the clock means for them.

use jiff::Timestamp;

use super::error::DeskError;
use super::{Desk, todo_body};

impl Desk {
    /// What has to be done once before the first input: safety waits begin again, and people
    /// whose job is neither paused nor quiet for 30 minutes get their screen again.
    ///
    /// # Errors
    /// When the store cannot be read or kept to.
    pub async fn start(&self) -> Result<(), DeskError> {
        todo_body()
    }

    /// Ends every wait whose time has come; late or twice is harmless. Returns when the next
    /// wait ends. Call it at that time, after every [`super::Change`], and at least every few
    /// seconds, so that it notices a clock that jumped.
    ///
    /// # Errors
    /// When the store cannot be read or kept to.
    pub async fn end_waits(&self) -> Result<Option<Timestamp>, DeskError> {
        todo_body()
    }
}
