//! Quiet hours, asked for and chosen in a chat.

use super::talk::Turn;
use super::words;
use crate::desk::DeskError;
use crate::desk::hours::typed::Wish;

impl Turn<'_> {
    /// Says when the person is not reminded of anything, after granting what they wish.
    pub(super) async fn quiet(&self, wish: &str) -> Result<(), DeskError> {
        let Some(actor) = self.actor().await? else {
            return Ok(());
        };
        let desk = &self.talk.desk;
        let hours = match wish {
            "" => desk.hours(&actor).await?,
            wish => desk.set_hours(&actor, Wish::typed(wish)?).await?,
        };
        let said = hours.sentence(self.talk.clock.now());
        self.say(&format!("{said}\n{}", words::QUIET_HOW));
        Ok(())
    }
}
