//! What a person chooses for themselves in a chat: quiet hours, and how they are asked.

use super::talk::Turn;
use super::words;
use crate::desk::DeskError;
use crate::desk::hours::typed::Wish;
use crate::walk::context::Way;

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
    /// Says how the person is asked, after granting what they wish.
    pub(super) async fn way(&self, wish: &str) -> Result<(), DeskError> {
        let Some(actor) = self.actor().await? else {
            return Ok(());
        };
        let desk = &self.talk.desk;
        if !wish.is_empty() {
            let wanted = wish.to_lowercase();
            let mut ways = Way::ALL.into_iter();
            let Some(way) = ways.find(|way| way.word().starts_with(&wanted)) else {
                self.say(words::WAY_HOW);
                return Ok(());
            };
            desk.set_way(&actor, way).await?;
        }
        let way = desk.way(&actor).await?;
        self.say(&format!("{}.\n{}", way.words(), words::WAY_HOW));
        Ok(())
    }
}
