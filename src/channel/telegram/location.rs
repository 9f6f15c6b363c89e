//! A location that somebody sends: kept with the evaporator at hand, if they say so.

use super::rich::{Rich, Style};
use super::screen::button;
use super::talk::Turn;
use super::token::Token;
use super::words;
use crate::desk::id::EvaporatorId;
use crate::desk::whereabouts::Near;
use crate::desk::{Actor, DeskError};

impl Turn<'_> {
    /// Asks whether it is to be kept, and says how roughly and for whom.
    pub(super) async fn location(&self, near: Option<Near>) -> Result<(), DeskError> {
        let Some(actor) = self.actor().await? else {
            return Ok(());
        };
        let Some(near) = near else {
            self.say(words::NO_SUCH_PLACE);
            return Ok(());
        };
        let Some(job) = self.talk.desk.job_at_hand(&actor).await? else {
            self.say(words::NO_JOB_THERE);
            return Ok(());
        };
        let shown = self.talk.desk.screen(&actor, job).await?;
        let mut rich = Rich::default();
        rich.push(Style::Bold, &words::keep_place(&shown.evaporator.line()));
        rich.paragraph(Style::Plain, &words::how_rough(near));
        let keep = Token::Locate(shown.evaporator.id, near);
        self.offer(&rich, vec![vec![button(words::KEEP_PLACE, keep)]]);
        Ok(())
    }

    pub(super) async fn locate(
        &self,
        actor: &Actor,
        what: (EvaporatorId, Near),
    ) -> Result<(), DeskError> {
        let key = self.key.clone();
        let label = self.talk.desk.locate(key, actor, what).await?;
        self.say(&words::place_kept(&label.line(), what.1));
        Ok(())
    }
}
