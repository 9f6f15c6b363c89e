//! How a job stands, in one message of its group that is changed in place.
//!
//! One task looks after all of them: whatever happens to a job, and whoever asks, leads to a look
//! at it here. Of several states that wait to be shown only the newest is sent. A message that was
//! deleted is made anew, and after a restart the ones from before are changed further.

use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::Duration;

use teloxide::types::{InlineKeyboardMarkup, ReplyMarkup};
use tokio::sync::Notify;
use tokio::sync::broadcast::error::RecvError;
use tokio::task::JoinSet;
use tokio_util::sync::CancellationToken;

use super::decode::Place;
use super::queue::Rank;
use super::rich::{Rich, Style, TEXT_UNITS_MAX};
use super::room_words as words;
use super::screen::{self, View};
use super::sender::{Fate, Kind, What};
use super::talk::Talk;
use crate::desk::DeskError;
use crate::desk::id::JobId;
use crate::desk::rooms::{Room, RoomScreen};
use crate::report::{chart, picture};
use crate::walk::prompt::Ask;

/// After a fault of the store so long is waited.
const AFTER_FAULT: Duration = Duration::from_secs(5);

/// Jobs of which somebody wants to see how they stand.
#[derive(Default)]
pub(super) struct Wishes {
    jobs: Mutex<BTreeMap<JobId, Rank>>,
    /// Jobs whose next change somebody in the room waits for.
    expected: Mutex<BTreeSet<JobId>>,
    stirred: Notify,
}

impl Wishes {
    /// Somebody in the room of this job is about to do something, and waits for what comes of it.
    pub(super) fn expect(&self, job: JobId) {
        self.expected().insert(job);
    }

    fn expected(&self) -> MutexGuard<'_, BTreeSet<JobId>> {
        self.expected.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// How urgently a change of this job is to be shown.
    fn rank_of_change(&self, job: JobId) -> Rank {
        match self.expected().contains(&job) {
            true => Rank::Answer,
            false => Rank::Quiet,
        }
    }

    /// Asks that a job be shown as it stands.
    pub(super) fn wish(&self, job: JobId, rank: Rank) {
        let mut jobs = self.jobs.lock().unwrap_or_else(PoisonError::into_inner);
        let wished = jobs.entry(job).or_insert(rank);
        *wished = rank.min(*wished);
        drop(jobs);
        if rank == Rank::Answer {
            self.expected().remove(&job);
        }
        self.stirred.notify_one();
    }

    fn take(&self) -> BTreeMap<JobId, Rank> {
        let mut jobs = self.jobs.lock().unwrap_or_else(PoisonError::into_inner);
        std::mem::take(&mut *jobs)
    }
}

/// What is known of the message of a room.
#[derive(Default)]
struct Shown {
    /// What it shows, or will show when what is on its way arrives.
    what: Option<(String, InlineKeyboardMarkup)>,
    /// The revision that it shows.
    revision: u64,
    /// How much is on its way, and how urgently.
    on_the_way: usize,
    rank: Option<Rank>,
    /// The message itself is on its way.
    is_posting: bool,
    /// The picture that is on its way.
    picturing: Option<String>,
}

/// Something that was sent for a room.
enum Sent {
    Post(Room),
    Edit(Room, i32),
    Picture(Room, String),
}

struct Upkeep {
    talk: Arc<Talk>,
    shown: HashMap<JobId, Shown>,
    sent: JoinSet<(Sent, Option<Fate>)>,
}

/// Keeps the messages of all rooms as the jobs stand, until the shutdown.
pub(super) async fn run(talk: Arc<Talk>, shutdown: CancellationToken) {
    let mut changes = talk.desk.changes();
    let mut upkeep = Upkeep {
        talk: Arc::clone(&talk),
        shown: HashMap::new(),
        sent: JoinSet::new(),
    };
    upkeep.wish_all().await;
    loop {
        for (job, rank) in talk.rooms.take() {
            upkeep.look_or_later(job, rank).await;
        }
        tokio::select! {
            biased;
            () = shutdown.cancelled() => return,
            () = talk.rooms.stirred.notified() => {}
            change = changes.recv() => match change {
                Ok(change) => {
                    let rank = talk.rooms.rank_of_change(change.job);
                    talk.rooms.wish(change.job, rank);
                }
                Err(RecvError::Lagged(_)) => upkeep.wish_all().await,
                Err(RecvError::Closed) => return,
            },
            Some(Ok((sent, fate))) = upkeep.sent.join_next() => {
                if let Err(error) = upkeep.arrived(sent, fate).await {
                    tracing::error!(error = error.for_the_log(), "a room could not be noted");
                }
            }
        }
    }
}

impl Upkeep {
    async fn wish_all(&self) {
        match self.talk.desk.jobs_in_rooms().await {
            Ok(jobs) => {
                for job in jobs {
                    self.talk.rooms.wish(job, Rank::Quiet);
                }
            }
            Err(error) => {
                tracing::error!(error = error.for_the_log(), "the rooms cannot be read");
            }
        }
    }

    async fn look_or_later(&mut self, job: JobId, rank: Rank) {
        let Err(error) = self.look(job, rank).await else {
            return;
        };
        tracing::error!(error = error.for_the_log(), "a room cannot be shown");
        let talk = Arc::clone(&self.talk);
        tokio::spawn(async move {
            tokio::time::sleep(AFTER_FAULT).await;
            talk.rooms.wish(job, rank);
        });
    }

    /// Shows how a job stands, if it is run in a group and that is not shown already.
    async fn look(&mut self, job: JobId, rank: Rank) -> Result<(), DeskError> {
        let talk = Arc::clone(&self.talk);
        let Some(screen) = talk.desk.room_screen(job).await? else {
            self.shown.remove(&job);
            return Ok(());
        };
        if screen.is_last {
            return self.end(&screen).await;
        }
        let room = &screen.room;
        let shown = self.shown.entry(job).or_default();
        let revision = screen.screen.prompt.revision;
        let view = room.message.map(|message| (room.chat, message));
        let view = match view {
            // What was ticked belongs to the screen before.
            Some(at) if shown.revision != revision => {
                talk.views.put(at, View::default());
                View::default()
            }
            Some(at) => talk.views.get(&at).unwrap_or_default(),
            None => View::default(),
        };
        let markup = screen::keyboard(&screen.screen, view);
        let what = (html(&screen, &talk), markup);
        let more_urgent = shown.on_the_way > 0 && shown.rank.is_some_and(|before| rank < before);
        let is_news = shown.what.as_ref() != Some(&what) || more_urgent;
        if shown.is_posting || (room.message.is_some() && !is_news) {
            // What changed meanwhile is shown when the message arrived.
            return Ok(());
        }
        shown.what = Some(what.clone());
        shown.revision = revision;
        shown.rank = Some(rank);
        let (html, markup) = what;
        let place = place(room);
        let (sent, kind, what) = match room.message {
            Some(message) => {
                shown.on_the_way += 1;
                let what = What::Edit {
                    message,
                    html,
                    markup,
                };
                (Sent::Edit(room.clone(), message), Kind::Status(job), what)
            }
            None => {
                shown.is_posting = true;
                let markup = Some(ReplyMarkup::InlineKeyboard(markup));
                let what = What::Text { html, markup };
                (Sent::Post(room.clone()), Kind::Own, what)
            }
        };
        let told = talk.sender.send_and_tell((place, rank), kind, vec![what]);
        self.sent.spawn(async move { (sent, told.await.ok()) });
        self.picture(&screen).await;
        Ok(())
    }

    /// The pictures of a step go as one message, once.
    async fn picture(&mut self, screen: &RoomScreen) {
        let (room, step) = (&screen.room, screen.step.clone());
        let drawn = screen.screen.prompt.chart.as_ref().map(chart::draw);
        let svg = match drawn {
            Some(Ok(svg)) => Some(svg),
            Some(Err(error)) => {
                tracing::error!(%error, "no chart");
                None
            }
            None => screen.picture.clone(),
        };
        let shown = self.shown.entry(room.job).or_default();
        let (Some(svg), Some(step)) = (svg, step) else {
            return;
        };
        if room.pictured.as_ref() == Some(&step) || shown.picturing.as_ref() == Some(&step) {
            return;
        }
        shown.picturing = Some(step.clone());
        let png = match tokio::task::spawn_blocking(move || picture::png(&svg)).await {
            Ok(Ok(png)) => png,
            Ok(Err(error)) => {
                tracing::error!(%error, "a picture was left out");
                return;
            }
            Err(error) => {
                tracing::error!(%error, "drawing a picture panicked");
                return;
            }
        };
        let heading = crate::channel::lines::heading(&screen.screen);
        let what = What::Picture {
            png,
            caption: Rich::plain(&heading)
                .parts(TEXT_UNITS_MAX)
                .into_iter()
                .next(),
            markup: None,
        };
        let to = (place(room), Rank::News);
        let told = self.talk.sender.send_and_tell(to, Kind::Own, vec![what]);
        let sent = Sent::Picture(room.clone(), step);
        self.sent.spawn(async move { (sent, told.await.ok()) });
    }

    /// The job is over, or open to the crew no more.
    async fn end(&mut self, screen: &RoomScreen) -> Result<(), DeskError> {
        let room = &screen.room;
        self.talk.desk.forget_room(room.job).await?;
        self.shown.remove(&room.job);
        if let Some(message) = room.message {
            let what = What::Edit {
                message,
                html: html(screen, &self.talk),
                markup: InlineKeyboardMarkup::default(),
            };
            let (to, kind) = ((place(room), Rank::Quiet), Kind::Status(room.job));
            // Nobody minds if the message is gone.
            drop(self.talk.sender.send_and_tell(to, kind, vec![what]));
        }
        Ok(())
    }

    /// What was sent for a room has arrived, or never will.
    async fn arrived(&mut self, sent: Sent, fate: Option<Fate>) -> Result<(), DeskError> {
        let desk = self.talk.desk.clone();
        match (sent, fate) {
            (Sent::Post(room), fate) => {
                let shown = self.shown.entry(room.job).or_default();
                shown.is_posting = false;
                if fate == Some(Fate::Refused) && room.thread.is_some() {
                    // Its topic may be gone: it goes on in the group itself.
                    shown.what = None;
                    desk.leave_topic(room.job).await?;
                    self.talk.rooms.wish(room.job, Rank::Answer);
                    return Ok(());
                }
                let Some(Fate::Delivered(Some(message))) = fate else {
                    // It is tried again when something happens to the job.
                    shown.what = None;
                    return Ok(());
                };
                let now = desk.room(room.job).await?;
                if now.as_ref().map(place) == Some(place(&room)) {
                    let posted = Room {
                        message: Some(message),
                        ..now.unwrap_or(room.clone())
                    };
                    desk.note_room(&posted).await?;
                } else {
                    shown.what = None;
                }
                // It may have moved on meanwhile.
                self.talk.rooms.wish(room.job, Rank::Answer);
            }
            (Sent::Edit(room, message), fate) => {
                let shown = self.shown.entry(room.job).or_default();
                shown.on_the_way = shown.on_the_way.saturating_sub(1);
                let now = desk.room(room.job).await?;
                let is_its = now.as_ref().is_some_and(|now| now.message == Some(message));
                if let (Some(Fate::Refused), true, Some(now)) = (fate, is_its, now) {
                    // Somebody deleted it.
                    shown.what = None;
                    let gone = Room {
                        message: None,
                        ..now
                    };
                    desk.note_room(&gone).await?;
                    self.talk.rooms.wish(room.job, Rank::Answer);
                }
            }
            (Sent::Picture(room, step), fate) => {
                if let Some(shown) = self.shown.get_mut(&room.job) {
                    shown.picturing.take_if(|picturing| *picturing == step);
                }
                let now = desk.room(room.job).await?;
                if let (Some(Fate::Delivered(_)), Some(now)) = (fate, now) {
                    let pictured = Room {
                        pictured: Some(step),
                        ..now
                    };
                    desk.note_room(&pictured).await?;
                }
            }
        }
        Ok(())
    }
}

fn place(room: &Room) -> Place {
    Place {
        chat: room.chat,
        thread: room.thread,
    }
}

/// The message of a room: where, who is there, what is asked, and the number of the screen, which
/// says what a reply to it answers.
fn html(shown: &RoomScreen, talk: &Talk) -> String {
    let screen = &shown.screen;
    let mut rich = Rich::default();
    rich.push(Style::Bold, &screen.evaporator.line());
    if shown.is_last {
        rich.paragraph(Style::Plain, words::ROOM_ENDED);
    } else {
        rich.line(Style::Plain, &words::at_the_evaporator(&screen.holder.name));
        rich.follow(screen::text(screen, None, talk.clock.now()));
        if screen::keyboards(screen, View::default()).len() > 1 {
            rich.paragraph(Style::Plain, words::MORE_ANSWERS_PRIVATELY);
        }
        let ask = &screen.prompt.ask;
        let is_typed = matches!(
            ask,
            Ask::Reading { .. } | Ask::Words { .. } | Ask::Photo { .. }
        );
        let last = words::screen_number(screen.prompt.revision, is_typed);
        rich.paragraph(Style::Italic, &last);
    }
    let mut parts = rich.parts(TEXT_UNITS_MAX);
    if parts.len() > 1 {
        // The checker keeps steps far below this; the end is what a reply needs.
        let mut short = Rich::plain(words::TOO_LONG_HERE);
        let last = words::screen_number(screen.prompt.revision, true);
        short.paragraph(Style::Italic, &last);
        parts = short.parts(TEXT_UNITS_MAX);
    }
    parts.into_iter().next().unwrap_or_default()
}
