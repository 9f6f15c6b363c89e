//! A supervisor takes off the lock of somebody who is away, in a chat: the three conditions of
//! 29 CFR 1910.147(e)(3), one message each.

use super::press::stale_press;
use super::rich::{Rich, Style};
use super::screen::{BUTTONS_MAX, Rows, button};
use super::talk::Turn;
use super::token::Token;
use super::words;
use crate::channel::lock_conditions::{CONDITIONS, Condition};
use crate::desk::id::JobId;
use crate::desk::locks::LockLine;
use crate::desk::{Actor, DeskError, Seen};
use crate::record::person::PersonId;
use crate::walk::input::Input;

/// One lock of a job, as a button carries it, and how many conditions are confirmed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct LockOff {
    /// The check sum of the source's name.
    pub source: u32,
    /// Whose lock it is.
    pub owner: PersonId,
    /// So many conditions are confirmed, the first ones.
    pub confirmed: u8,
    /// The state of the job that the locks were listed from. In any other the lock may have been
    /// hung again, by somebody who is there.
    pub revision: u64,
}

impl LockOff {
    /// Its bytes.
    pub fn bytes(self) -> Vec<u8> {
        let mut bytes = self.source.to_be_bytes().to_vec();
        bytes.extend(self.owner.0.as_bytes());
        bytes.push(self.confirmed);
        bytes.extend(self.revision.to_be_bytes());
        bytes
    }

    fn of(line: &LockLine, (confirmed, revision): (u8, u64)) -> LockOff {
        LockOff {
            source: crc32fast::hash(line.source.as_str().as_bytes()),
            owner: line.owner.person,
            confirmed,
            revision,
        }
    }

    fn is_of(self, line: &LockLine) -> bool {
        LockOff::of(line, (self.confirmed, self.revision)) == self
    }
}

impl Turn<'_> {
    /// The locks of others on the job at hand, each with a button.
    pub(super) async fn locks(&self) -> Result<(), DeskError> {
        let Some(actor) = self.actor().await? else {
            return Ok(());
        };
        let desk = &self.talk.desk;
        let Some(job) = self.at_hand(&actor).await? else {
            return Ok(());
        };
        // Before the locks: what changes in between makes the buttons stale.
        let screen = desk.screen(&actor, job).await?;
        let locks = desk.locks_of_others(&actor, job).await?;
        if locks.is_empty() {
            self.say(words::NO_LOCKS);
            return Ok(());
        }
        let line = screen.evaporator.line();
        let mut rich = Rich::default();
        rich.push(Style::Bold, &words::locks_at(&line));
        rich.paragraph(Style::Plain, words::LOCKS_HOW);
        let row = |lock: &LockLine| {
            let label = words::lock_of(&lock.owner.name, &lock.label);
            let lock = LockOff::of(lock, (0, screen.prompt.revision));
            vec![button(&label, Token::LockOff(job, lock))]
        };
        let rows: Rows = locks.iter().take(BUTTONS_MAX).map(row).collect();
        self.offer(&rich, rows);
        Ok(())
    }

    /// One more condition is confirmed; after the last one the lock comes off.
    pub(super) async fn lock_off(
        &self,
        actor: &Actor,
        job: JobId,
        press: LockOff,
    ) -> Result<Option<String>, DeskError> {
        let locks = self.talk.desk.locks_of_others(actor, job).await?;
        let Some(line) = locks.iter().find(|line| press.is_of(line)) else {
            self.say(words::NO_SUCH_LOCK);
            return Ok(None);
        };
        let (name, at) = (&line.owner.name, usize::from(press.confirmed));
        let Some(condition) = CONDITIONS.get(at) else {
            let input = Input::TakeLockOff {
                source: line.source.clone(),
                owner: line.owner.person,
                not_here: true,
                tried_to_reach: true,
                will_know: true,
            };
            let (key, seen) = (self.key.clone(), Seen::Screen(press.revision));
            let desk = &self.talk.desk;
            let handled = desk.handle_seen(key, actor, job, (seen, input)).await?;
            return Ok(self.became(actor, handled).await);
        };
        let screen = self.talk.desk.screen(actor, job).await?;
        if screen.prompt.revision != press.revision {
            return self.bring(actor, job, stale_press()).await;
        }
        let mut rich = Rich::default();
        let which = words::lock_of(name, &line.label);
        rich.push(
            Style::Bold,
            &format!("{which}. {} of {}", at + 1, CONDITIONS.len()),
        );
        rich.paragraph(Style::Bold, words::LOCK_OFF_CAUTION);
        rich.paragraph(Style::Plain, &Condition::named(condition.say, name));
        rich.paragraph(Style::Italic, condition.cite);
        let mut confirm = Condition::named(condition.confirm, name);
        if at + 1 == CONDITIONS.len() {
            confirm.push_str(words::RECORD_LOCK_OFF);
        }
        let confirmed = press.confirmed.saturating_add(1);
        let next = LockOff { confirmed, ..press };
        let rows: Rows = vec![vec![button(&confirm, Token::LockOff(job, next))]];
        self.offer(&rich, rows);
        Ok(None)
    }
}
