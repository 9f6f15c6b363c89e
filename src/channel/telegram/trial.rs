//! Trying a flow that somebody shared in the group: a training walk, begun privately.

use super::rich::{Rich, Style};
use super::screen::{Rows, button};
use super::start::LINES_MAX;
use super::talk::Turn;
use super::token::Token;
use super::words;
use crate::desk::id::EvaporatorId;
use crate::desk::shared_flows::{SharedFile, SharedMark};
use crate::desk::{Actor, DeskError};
use crate::store::InputKey;

impl Turn<'_> {
    /// Asks on which evaporator a shared flow is to be tried.
    pub(super) async fn trial(&self, actor: &Actor, mark: SharedMark) -> Result<(), DeskError> {
        let title = match self.talk.desk.shared(actor, mark).await? {
            SharedFile::Flow(card) => card.title,
            _ => {
                self.say(words::CANNOT_TRY);
                return Ok(());
            }
        };
        let found = self.talk.desk.evaporators(actor, "").await?;
        if found.is_empty() {
            self.say(words::NO_EVAPORATOR_TO_TRY);
            return Ok(());
        }
        let all = found.iter().take(LINES_MAX);
        let rows: Rows = all
            .map(|label| vec![button(&label.line(), Token::Try(label.id, mark))])
            .collect();
        let mut rich = Rich::default();
        rich.paragraph(Style::Plain, &title);
        rich.paragraph(Style::Plain, words::A_TRAINING_WALK);
        rich.paragraph(Style::Bold, words::WHICH);
        if found.len() > LINES_MAX {
            let left = found.len() - LINES_MAX;
            rich.paragraph(Style::Plain, &words::evaporators_left_out(left));
        }
        self.offer(&rich, rows);
        Ok(())
    }

    /// Begins it. All presses on one message begin the same.
    pub(super) async fn begin_trial(
        &self,
        actor: &Actor,
        (mark, evaporator, message): (SharedMark, EvaporatorId, Option<i32>),
    ) -> Result<(), DeskError> {
        let key = match message {
            Some(message) => InputKey(format!(
                "telegram:{}:try:{}:{message}:{evaporator}",
                self.talk.number, self.place.chat
            )),
            None => self.key.clone(),
        };
        let what = (mark, evaporator);
        let handled = self.talk.desk.try_shared(key, actor, what).await?;
        self.show(actor, &handled.screen, None).await;
        Ok(())
    }
}
