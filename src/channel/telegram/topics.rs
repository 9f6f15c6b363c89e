//! Topics of a group that has them: a job that is run there gets one, closed when it is accepted.

use std::sync::Arc;
use std::time::Duration;

use teloxide::requests::Requester;
use teloxide::types::{ChatId, MessageId, ThreadId};
use tokio::sync::broadcast::Receiver;
use tokio::sync::broadcast::error::RecvError;
use tokio_util::sync::CancellationToken;

use super::attempt::{Verdict, verdict};
use super::chat_mark::ChatMark;
use super::decode::Place;
use super::group::GroupTurn;
use super::group_words as words;
use super::talk::Talk;
use crate::desk::id::JobId;
use crate::desk::screen::Phase;
use crate::desk::topics::{Topic, Wanted};
use crate::desk::{Actor, Change, DeskError};

/// The most characters of a topic's name (the platform's reference, `createForumTopic`).
const NAME_CHARACTERS_MAX: usize = 128;

/// How often making a topic is tried; somebody waits for it.
const TRIES: u32 = 3;

/// No longer than this is waited before the next try.
const WAIT_MAX: Duration = Duration::from_secs(10);

/// All topics are looked at this often even if nothing is heard of their jobs.
const LOOKED_AT_EVERY: Duration = Duration::from_secs(60);

/// Why there is no topic.
enum NoTopic {
    /// The bot may not make one.
    NoRight,
    /// The platform gives none for another reason.
    None(String),
}

impl GroupTurn<'_> {
    /// Where a job is to be run that somebody opens here: in a topic of its own if the group has
    /// topics and this was not said in one.
    pub(super) async fn place_of_job(&self, actor: &Actor, job: JobId) -> Result<Place, DeskError> {
        let here = self.place;
        if !self.is_forum || here.thread.is_some() {
            return Ok(here);
        }
        let desk = &self.talk.desk;
        let in_topic = |thread| Place {
            chat: here.chat,
            thread: Some(thread),
        };
        let name = match desk.topic_wanted(actor, (job, here.chat)).await? {
            Wanted::There(thread) => return Ok(in_topic(thread)),
            // The desk says why when the job is opened.
            Wanted::Nothing => return Ok(here),
            Wanted::New(name) => name,
        };
        match self.talk.make_topic(here.chat, &name).await {
            Ok(thread) => {
                let topic = Topic {
                    chat: here.chat,
                    job,
                    thread,
                };
                desk.keep_topic(topic).await?;
                Ok(in_topic(thread))
            }
            Err(NoTopic::NoRight) => {
                self.say(words::NO_TOPIC_RIGHT);
                Ok(here)
            }
            Err(NoTopic::None(why)) => {
                tracing::warn!(chat = %ChatMark(here.chat), why, "a job gets no topic of its own");
                Ok(here)
            }
        }
    }
}

impl Talk {
    async fn make_topic(&self, chat: i64, name: &str) -> Result<i32, NoTopic> {
        let name: String = name.chars().take(NAME_CHARACTERS_MAX).collect();
        let mut why = String::new();
        for attempt in 1..=TRIES {
            let bot = self.line.bot();
            let make = bot.create_forum_topic(ChatId(chat), name.clone());
            let made = self.line.send(make).await;
            let wait = match verdict(made.map(|topic| Some(topic.thread_id.0.0))) {
                Verdict::Done(Some(thread)) => return Ok(thread),
                Verdict::Never(why) if lacks_right(&why) => return Err(NoTopic::NoRight),
                Verdict::Never(why) => return Err(NoTopic::None(why)),
                Verdict::Wait(wait) => wait.min(WAIT_MAX),
                Verdict::Again(problem) => {
                    why = problem;
                    Duration::from_millis(500) * attempt
                }
                Verdict::Done(None) | Verdict::Moved(_) => {
                    why = "the answer does not name it".to_owned();
                    Duration::from_millis(500) * attempt
                }
            };
            tokio::time::sleep(wait).await;
        }
        Err(NoTopic::None(why))
    }

    /// Closes the topics of accepted jobs: of this one, or of all.
    async fn close_topics(&self, of: Option<JobId>) -> Result<(), DeskError> {
        for topic in self.desk.topics_to_close(of).await? {
            let thread = ThreadId(MessageId(topic.thread));
            let bot = self.line.bot();
            let close = bot.close_forum_topic(ChatId(topic.chat), thread);
            match verdict(self.line.send(close).await.map(drop)) {
                Verdict::Done(()) => self.desk.topic_closed(topic).await?,
                // It is closed, deleted, or the bot may not: trying again helps nobody.
                Verdict::Never(why) => {
                    let chat = ChatMark(topic.chat);
                    tracing::info!(%chat, why, "a topic is left as it is");
                    self.desk.topic_closed(topic).await?;
                }
                Verdict::Wait(_) | Verdict::Again(_) | Verdict::Moved(_) => {
                    tracing::warn!("a topic could not be closed; again soon");
                }
            }
        }
        Ok(())
    }
}

fn lacks_right(why: &str) -> bool {
    why.contains("not enough rights")
}

/// Closes topics when their jobs are accepted, until the shutdown.
pub(super) async fn run(talk: Arc<Talk>, shutdown: CancellationToken) {
    let mut changes = talk.desk.changes();
    let mut of = None;
    loop {
        if let Err(error) = talk.close_topics(of).await {
            let error = error.for_the_log();
            tracing::error!(error, "topics cannot be closed");
        }
        of = tokio::select! {
            biased;
            () = shutdown.cancelled() => return,
            () = tokio::time::sleep(LOOKED_AT_EVERY) => None,
            accepted = accepted(&mut changes) => match accepted {
                Ok(job) => Some(job),
                Err(RecvError::Lagged(_)) => None,
                Err(RecvError::Closed) => return,
            },
        };
    }
}

/// The next job that is accepted.
async fn accepted(changes: &mut Receiver<Change>) -> Result<JobId, RecvError> {
    loop {
        let change = changes.recv().await?;
        if change.phase == Phase::Accepted {
            return Ok(change.job);
        }
    }
}
