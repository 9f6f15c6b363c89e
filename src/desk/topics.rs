//! Topics of groups that have them: one for each job that is run there, closed when the job is
//! accepted.
//!
//! No entry stands behind them: a topic is a place to talk, and losing its number loses nothing of
//! the job.

use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::Desk;
use super::actor::Actor;
use super::card::CardRow;
use super::error::DeskError;
use super::groups::{chat_of, key as chat_key};
use super::id::JobId;
use super::screen::Phase;
use super::tables::{Row, key as row_key, put};
use crate::flow::model::Role;
use crate::store::{Batch, IndexChange, Table};

/// How many rows are read at once.
const TOPICS_AT_ONCE: usize = 256;

/// The topics that are not closed: job, group.
const OPEN: Table = Table::named("topics_open");

/// The topic of a job in a group: under the group and the job.
#[derive(Clone, Copy, Debug, Serialize, Deserialize)]
struct TopicRow {
    thread: i32,
}

impl Row for TopicRow {
    const TABLE: Table = Table::named("topic");
}

/// The topic of a job in a group.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Topic {
    /// The group.
    pub chat: i64,
    /// The job.
    pub job: JobId,
    /// The topic's number.
    pub thread: i32,
}

/// Where in a group with topics a job belongs.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Wanted {
    /// In its own topic, which is there.
    There(i32),
    /// In a topic of its own that is to be made under this name.
    New(String),
    /// Nowhere: the actor may not open it there.
    Nothing,
}

impl Desk {
    /// Where in a group with topics a job belongs that the actor wants to run there.
    ///
    /// # Errors
    /// When the crew has no such job.
    pub async fn topic_wanted(
        &self,
        actor: &Actor,
        (job, chat): (JobId, i64),
    ) -> Result<Wanted, DeskError> {
        let row = self.present(actor).await?;
        let card = self.row::<CardRow>(job.0).await?;
        let card = card.filter(|card| card.crew == actor.crew);
        let card = card.ok_or(DeskError::NotFound("job"))?;
        let group = self.group(chat).await?;
        let is_ours = group.is_some_and(|group| group.crew == actor.crew);
        let may = card.holder == actor.person || row.roles.contains(&Role::Supervisor);
        if !is_ours || !may || card.phase == Phase::Accepted {
            return Ok(Wanted::Nothing);
        }
        if let Some(row) = self.row::<TopicRow>(key(chat, job)).await? {
            return Ok(Wanted::There(row.thread));
        }
        let label = self.evaporator_label(card.evaporator).await?;
        Ok(Wanted::New(label.line()))
    }

    /// Keeps the topic that was made for a job.
    ///
    /// # Errors
    /// When the store cannot keep it.
    pub async fn keep_topic(&self, topic: Topic) -> Result<(), DeskError> {
        let mut batch = Batch::new(self.now());
        let row = TopicRow {
            thread: topic.thread,
        };
        batch.index.push(put(key(topic.chat, topic.job), &row)?);
        let open = IndexChange::put(OPEN, open_key(topic.chat, topic.job), []);
        batch.index.push(open);
        self.keep(batch).await.map(drop)
    }

    /// The topics that are open though their job is accepted: of this job, or of all.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub async fn topics_to_close(&self, of: Option<JobId>) -> Result<Vec<Topic>, DeskError> {
        let prefix = of.map_or(Vec::new(), |job| job.0.as_bytes().to_vec());
        let mut topics = Vec::new();
        let mut after = None;
        loop {
            let scan = self.store();
            let page = scan.scan(OPEN, prefix.clone(), after, TOPICS_AT_ONCE);
            let page = page.await?;
            for (chat, job) in page.items.iter().filter_map(|row| opened(&row.key)) {
                let card = self.row::<CardRow>(job.0).await?;
                let is_over = card.is_none_or(|card| card.phase == Phase::Accepted);
                let row = self.row::<TopicRow>(key(chat, job)).await?;
                topics.extend(row.filter(|_| is_over).map(|row| Topic {
                    chat,
                    job,
                    thread: row.thread,
                }));
            }
            after = page.next;
            if after.is_none() {
                return Ok(topics);
            }
        }
    }

    /// A topic is closed, or cannot be.
    ///
    /// # Errors
    /// When the store cannot keep it; it is then tried again.
    pub async fn topic_closed(&self, topic: Topic) -> Result<(), DeskError> {
        let mut batch = Batch::new(self.now());
        let key = open_key(topic.chat, topic.job);
        batch.index.push(IndexChange::remove(OPEN, key));
        self.keep(batch).await.map(drop)
    }
}

fn key(chat: i64, job: JobId) -> Vec<u8> {
    row_key(&[&chat_key(chat), job.0.as_bytes()])
}

fn open_key(chat: i64, job: JobId) -> Vec<u8> {
    row_key(&[job.0.as_bytes(), &chat_key(chat)])
}

fn opened(key: &[u8]) -> Option<(i64, JobId)> {
    let (job, chat) = key.split_first_chunk::<16>()?;
    let chat = chat_of(chat.try_into().ok()?);
    Some((chat, JobId(Uuid::from_bytes(*job))))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_open_topic_reads_back_from_its_key() {
        let job = JobId(Uuid::from_u128(77));
        let chat = -1_001_234_567_890;
        assert_eq!(opened(&open_key(chat, job)), Some((chat, job)));
        assert_eq!(opened(&[0; 23]), None);
    }
}
