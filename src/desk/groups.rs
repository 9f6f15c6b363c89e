//! Groups of a chat that are a crew's: made so by a supervisor, followed when they move.
//!
//! A group that is no crew's hears nothing about any crew. In one that is, a person counts only
//! if they are of that crew, by the address of their private chat: being in the group makes
//! nobody a member of the crew.

use jiff::Timestamp;

use super::Desk;
use super::actor::{Actor, ChannelAddress};
use super::error::DeskError;
use super::id::CrewId;
use super::keep::{Hand, TRIES};
use super::notice::{About, Notice};
use super::tables::{GroupRow, key as row_key, list, put, remove};
use crate::flow::model::Role;
use crate::record::around::{CrewWhat, GroupEnd};
use crate::record::person::PersonId;
use crate::record::stream::{StreamId, StreamKind};
use crate::store::{Batch, IndexChange, InputKey};
use crate::walk::reading::fits_a_sentence;

/// How many rows are read at once.
const GROUPS_AT_ONCE: usize = 256;

/// A group that is a crew's.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Group {
    /// Its number at the chat.
    pub chat: i64,
    /// The crew.
    pub crew: CrewId,
    /// Who made it the crew's.
    pub by: PersonId,
    /// Since when it is.
    pub since: Timestamp,
}

/// What became of making a group a crew's.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Bound {
    /// It is the crew's from now on.
    Fresh,
    /// It was before.
    Already,
}

impl Desk {
    /// The crew's group with this number at the chat; none if it is no crew's.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub async fn group(&self, chat: i64) -> Result<Option<Group>, DeskError> {
        let row = self.row::<GroupRow>(key(chat)).await?;
        Ok(row.map(|row| Group {
            chat,
            crew: row.crew,
            by: row.by,
            since: row.since,
        }))
    }

    /// The groups of the actor's crew, in the order of their numbers.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub async fn crew_groups(&self, actor: &Actor) -> Result<Vec<Group>, DeskError> {
        self.present(actor).await?;
        let mut groups = Vec::new();
        let mut after = None;
        loop {
            let prefix = actor.crew.0.as_bytes().to_vec();
            let store = self.store();
            let rows = store.scan(list::CREW_GROUPS, prefix, after, GROUPS_AT_ONCE);
            let page = rows.await?;
            for chat in page.items.iter().filter_map(|row| chat_at_end(&row.key)) {
                let group = self.group(chat).await?;
                groups.extend(group.filter(|group| group.crew == actor.crew));
            }
            after = page.next;
            if after.is_none() {
                return Ok(groups);
            }
        }
    }

    /// The person with this number at the chat, if the group is a crew's and they are of it. News
    /// for them still goes to their private chat, whose number is their own.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub async fn group_actor(&self, chat: i64, user: i64) -> Result<Option<Actor>, DeskError> {
        let Some(group) = self.group(chat).await? else {
            return Ok(None);
        };
        let address = ChannelAddress::Telegram { chat: user, user };
        let actor = self.who_is(&address).await?;
        Ok(actor.filter(|actor| actor.crew == group.crew))
    }

    /// Makes a group the crew's.
    ///
    /// # Errors
    /// When the actor is no supervisor, or the group is another crew's.
    pub async fn bind_group(
        &self,
        input: InputKey,
        actor: &Actor,
        chat: i64,
    ) -> Result<Bound, DeskError> {
        self.must_be_supervisor(actor, "make this group the crew's")
            .await?;
        let _group = self.inner.queues.turn(line(chat)).await;
        if let Some(group) = self.group(chat).await? {
            return match group.crew == actor.crew {
                true => Ok(Bound::Already),
                false => Err(DeskError::NotAllowed(
                    "This group belongs to another crew. One of its supervisors has to send \
                     /unbind here first."
                        .to_owned(),
                )),
            };
        }
        let stream = actor.crew.stream();
        let _turn = self.inner.queues.turn(stream).await;
        for _ in 0..TRIES {
            let expected = self.last(stream).await?;
            self.must_be_supervisor(actor, "make this group the crew's")
                .await?;
            let now = self.now();
            let row = GroupRow {
                crew: actor.crew,
                by: actor.person,
                since: now,
            };
            let what = CrewWhat::GroupBound { group: chat };
            let mut batch = Batch::handling(input.clone(), now);
            let append = Hand::of(actor, now).writes(stream, expected, vec![what])?;
            batch.appends.push(append);
            batch.index.extend(bound(chat, &row)?);
            match self.keep(batch).await {
                Err(DeskError::Busy) => {}
                other => return other.map(|_| Bound::Fresh),
            }
        }
        Err(DeskError::Busy)
    }

    /// A supervisor ends that a group is the crew's. False if it is not.
    ///
    /// # Errors
    /// When the actor is no supervisor.
    pub async fn unbind_group(
        &self,
        input: InputKey,
        actor: &Actor,
        chat: i64,
    ) -> Result<bool, DeskError> {
        self.must_be_supervisor(actor, "end that this group is the crew's")
            .await?;
        let _group = self.inner.queues.turn(line(chat)).await;
        let group = self.group(chat).await?;
        let Some(group) = group.filter(|group| group.crew == actor.crew) else {
            return Ok(false);
        };
        let hand = Hand::of(actor, self.now());
        self.end_group(input, group, (hand, GroupEnd::Unbound), &[])
            .await
    }

    /// The bot was taken out of a group: it is no crew's any more, and the supervisors hear of
    /// it. `title` is how the chat calls the group. False if it was no crew's.
    ///
    /// # Errors
    /// When the store cannot keep it.
    pub async fn group_lost(
        &self,
        input: InputKey,
        chat: i64,
        title: &str,
    ) -> Result<bool, DeskError> {
        let _group = self.inner.queues.turn(line(chat)).await;
        let Some(group) = self.group(chat).await? else {
            return Ok(false);
        };
        let sentence = format!(
            "I was taken out of {}, so it is not your crew's group any more. To have me back, add \
             me to it and send /bind there.",
            called(title)
        );
        let notices = self.to_supervisors(group.crew, &sentence).await?;
        let hand = Hand::server(self.now());
        self.end_group(input, group, (hand, GroupEnd::BotRemoved), &notices)
            .await
    }

    /// The bot may not write in a group any more, or not in all of it: the crew's supervisors
    /// hear what it needs, in the words of `needs`. Nothing happens if it is no crew's.
    ///
    /// # Errors
    /// When the store cannot keep it.
    pub async fn group_lacks(
        &self,
        input: InputKey,
        chat: i64,
        (title, needs): (&str, &str),
    ) -> Result<(), DeskError> {
        let Some(group) = self.group(chat).await? else {
            return Ok(());
        };
        let sentence = format!("In {}: {needs}", called(title));
        let mut batch = Batch::handling(input, self.now());
        for notice in self.to_supervisors(group.crew, &sentence).await? {
            self.put_out(&mut batch, notice).await?;
        }
        self.keep(batch).await.map(drop)
    }

    /// The chat gave a group another number; what is the crew's stays so. False if the group was
    /// no crew's, or that was known.
    ///
    /// # Errors
    /// When the store cannot keep it.
    pub async fn move_group(&self, input: InputKey, from: i64, to: i64) -> Result<bool, DeskError> {
        let _group = self.inner.queues.turn(line(from)).await;
        let Some(group) = self.group(from).await? else {
            return Ok(false);
        };
        let stream = group.crew.stream();
        let _turn = self.inner.queues.turn(stream).await;
        for _ in 0..TRIES {
            let expected = self.last(stream).await?;
            let row = GroupRow {
                crew: group.crew,
                by: group.by,
                since: group.since,
            };
            let now = self.now();
            let what = CrewWhat::GroupMoved { from, to };
            let mut batch = Batch::handling(input.clone(), now);
            let append = Hand::server(now).writes(stream, expected, vec![what])?;
            batch.appends.push(append);
            batch.index.extend(gone(from, group.crew));
            batch.index.extend(self.rooms_moved(from, to).await?);
            // Whoever was faster bound the new number; the chat says that both are one group.
            if self.group(to).await?.is_none() {
                batch.index.extend(bound(to, &row)?);
            }
            match self.keep(batch).await {
                Err(DeskError::Busy) => {}
                other => return other.map(|_| true),
            }
        }
        Err(DeskError::Busy)
    }

    async fn end_group(
        &self,
        input: InputKey,
        group: Group,
        (hand, why): (Hand, GroupEnd),
        notices: &[Notice],
    ) -> Result<bool, DeskError> {
        let stream = group.crew.stream();
        let _turn = self.inner.queues.turn(stream).await;
        for _ in 0..TRIES {
            let expected = self.last(stream).await?;
            let chat = group.chat;
            let what = CrewWhat::GroupUnbound { group: chat, why };
            let mut batch = Batch::handling(input.clone(), hand.at);
            let append = hand.writes(stream, expected, vec![what])?;
            batch.appends.push(append);
            batch.index.extend(gone(chat, group.crew));
            batch.index.extend(self.rooms_gone(chat).await?);
            for notice in notices {
                self.put_out(&mut batch, notice.clone()).await?;
            }
            match self.keep(batch).await {
                Err(DeskError::Busy) => {}
                other => return other.map(|_| true),
            }
        }
        Err(DeskError::Busy)
    }

    async fn to_supervisors(&self, crew: CrewId, sentence: &str) -> Result<Vec<Notice>, DeskError> {
        let supervisors = self.in_role(crew, Role::Supervisor).await?;
        let notice = |to| Notice {
            to,
            about: About::Group,
            job: None,
            revision: 0,
            sentence: sentence.to_owned(),
            lines: Vec::new(),
            people: Vec::new(),
            show_screen: false,
        };
        Ok(supervisors.into_iter().map(notice).collect())
    }
}

/// The line in which changes of one group wait; it names no stream that is written to.
fn line(chat: i64) -> StreamId {
    let [a, b, c, d, e, f, g, h] = chat.to_be_bytes();
    let id = [0, 0, 0, 0, 0, 0, 0, 0, a, b, c, d, e, f, g, h];
    StreamId::new(StreamKind::Crew, uuid::Uuid::from_bytes(id))
}

/// How a sentence names a group.
fn called(title: &str) -> String {
    let letters = title.chars().filter(|letter| fits_a_sentence(*letter));
    let title: String = letters.take(TITLE_CHARACTERS_MAX).collect();
    match title.trim() {
        "" => "a group".to_owned(),
        title => format!("the group “{title}”"),
    }
}

/// So much of a group's title is repeated.
const TITLE_CHARACTERS_MAX: usize = 60;

pub(super) fn key(chat: i64) -> [u8; 8] {
    (chat ^ i64::MIN).to_be_bytes()
}

fn chat_at_end(key: &[u8]) -> Option<i64> {
    key.last_chunk().copied().map(chat_of)
}

/// The number of a group, from its key.
pub(super) fn chat_of(key: [u8; 8]) -> i64 {
    i64::from_be_bytes(key) ^ i64::MIN
}

fn listed(chat: i64, crew: CrewId) -> Vec<u8> {
    row_key(&[crew.0.as_bytes(), &key(chat)])
}

fn bound(chat: i64, row: &GroupRow) -> Result<[IndexChange; 2], DeskError> {
    let listed = IndexChange::put(list::CREW_GROUPS, listed(chat, row.crew), []);
    Ok([put(key(chat), row)?, listed])
}

fn gone(chat: i64, crew: CrewId) -> [IndexChange; 2] {
    let unlisted = IndexChange::remove(list::CREW_GROUPS, listed(chat, crew));
    [remove::<GroupRow>(key(chat)), unlisted]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_number_of_a_group_reads_back_from_its_key() {
        for chat in [-1_001_234_567_890, -5, 0, 7, i64::MIN, i64::MAX] {
            let crew = CrewId(uuid::Uuid::from_u128(9));
            assert_eq!(chat_at_end(&listed(chat, crew)), Some(chat));
        }
        assert!(key(-2) < key(-1) && key(-1) < key(1));
    }

    #[test]
    fn a_group_is_called_by_its_title_or_not_at_all() {
        assert_eq!(called("Night \u{7}shift"), "the group “Night shift”");
        assert_eq!(called(" \n"), "a group");
    }
}
