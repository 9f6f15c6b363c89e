//! Everything that goes out, one request after the other as the queue says.
//!
//! A message is tried until the platform took it or said that it never will. Where it cannot be
//! told whether a message arrived it is sent again, so at most one more copy comes of each such
//! failure; both carry the same buttons.

use std::collections::HashMap;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::Duration;

use teloxide::RequestError;
use teloxide::payloads::AnswerCallbackQuerySetters;
use teloxide::requests::Requester;
use teloxide::types::{CallbackQueryId, FileId, InlineKeyboardMarkup, ReplyMarkup};
use tokio::sync::{Notify, oneshot};
use tokio::time::Instant;
use tokio_util::task::TaskTracker;

use super::attempt::{Verdict, verdict};
use super::decode::Place;
use super::line::Line;
use super::pace::{Limits, Moment, pause};
use super::queue::{Like, Next, Offer, Queue, Rank, Removed, Sending};
use super::rich::{Rich, beginning};
use super::talk::texts;
use super::words;
use crate::record::chain::Hash;
use crate::report::picture::Png;

/// When so much waits in all, nothing more is taken in before some of it is gone.
const WAITING_ALL_MAX: usize = 20_000;

/// The most characters of the small answer to a pressed button.
const TOAST_UNITS_MAX: usize = 200;

/// How often the answer to a pressed button is tried; it is worth nothing after some seconds.
const TOAST_TRIES: u32 = 4;

/// One thing to send.
#[derive(Clone, Debug)]
pub(super) enum What {
    /// A message.
    Text {
        html: String,
        markup: Option<ReplyMarkup>,
    },
    /// A picture, perhaps with the message under it.
    Picture {
        png: Arc<Png>,
        caption: Option<String>,
        markup: Option<ReplyMarkup>,
    },
    /// A file: a picture with all its pixels, a report.
    File {
        bytes: Arc<Vec<u8>>,
        file: String,
        caption: String,
    },
    /// Another text with other buttons for a message that is there.
    Edit {
        message: i32,
        html: String,
        markup: InlineKeyboardMarkup,
    },
    /// Other buttons for a message that is there.
    Keyboard {
        message: i32,
        markup: InlineKeyboardMarkup,
    },
}

/// What a newer message makes needless.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Kind {
    /// The screen of a job.
    Screen(crate::desk::id::JobId),
    /// This very sentence.
    Sentence(String),
    /// The buttons of a message: only the newest count.
    Keyboard(i32),
    /// How a job stands in a group: only the newest counts.
    Status(crate::desk::id::JobId),
    /// That something was left out.
    LeftOut,
    /// Never replaced.
    Own,
}

/// What became of a message.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Fate {
    /// The platform took it; a text has a number from then on.
    Delivered(Option<i32>),
    /// Something newer goes in its place.
    Replaced,
    /// The platform will never take it.
    Refused,
}

struct Item {
    place: Place,
    what: What,
    failures: u32,
    told: Option<oneshot::Sender<Fate>>,
}

impl Item {
    fn tell(self, fate: Fate) {
        if let Some(told) = self.told {
            // Whoever wanted to know may be gone.
            drop(told.send(fate));
        }
    }
}

/// The sender. Clones are cheap and share everything.
#[derive(Clone)]
pub(super) struct Sender {
    inner: Arc<Inner>,
}

struct Inner {
    line: Line,
    tasks: TaskTracker,
    began: Instant,
    out: Mutex<Out>,
    /// Something was offered or answered.
    stirred: Notify,
    /// Something left the queue.
    left: Notify,
    /// Pictures that the platform has already.
    pictures: Mutex<HashMap<[u8; 32], FileId>>,
}

struct Out {
    queue: Queue<Kind, Item>,
    /// A task sends what waits, as long as something does.
    is_driven: bool,
}

impl Sender {
    pub(super) fn new(line: Line, limits: Limits, tasks: TaskTracker) -> Sender {
        let out = Out {
            queue: Queue::new(limits),
            is_driven: false,
        };
        Sender {
            inner: Arc::new(Inner {
                line,
                tasks,
                began: Instant::now(),
                out: Mutex::new(out),
                stirred: Notify::new(),
                left: Notify::new(),
                pictures: Mutex::default(),
            }),
        }
    }

    /// Sends these one after the other to somebody who waits for them, behind everything that
    /// waits for the chat.
    pub(super) fn send(&self, place: Place, kind: Kind, whats: Vec<What>) {
        self.offer((place, Rank::Answer), kind, whats, None);
    }

    /// Sends before everything else that waits.
    pub(super) fn send_first(&self, place: Place, what: What) {
        self.offer((place, Rank::Emergency), Kind::Own, vec![what], None);
    }

    /// Sends these, and tells what became of the last.
    pub(super) fn send_and_tell(
        &self,
        to: (Place, Rank),
        kind: Kind,
        whats: Vec<What>,
    ) -> oneshot::Receiver<Fate> {
        let (tell, told) = oneshot::channel();
        self.offer(to, kind, whats, Some(tell));
        told
    }

    /// Returns when there is room for more answers.
    pub(super) async fn room(&self) {
        loop {
            let left = self.inner.left.notified();
            if self.inner.out().queue.len() < WAITING_ALL_MAX {
                return;
            }
            left.await;
        }
    }

    fn offer(
        &self,
        (place, rank): (Place, Rank),
        kind: Kind,
        whats: Vec<What>,
        mut tell: Option<oneshot::Sender<Fate>>,
    ) {
        let count = whats.len();
        let is_owed = tell.is_some();
        let offers = whats.into_iter().enumerate().map(|(at, what)| Offer {
            like: like(&kind),
            is_owed,
            what: Item {
                place,
                what,
                failures: 0,
                told: tell.take_if(|_| at + 1 == count),
            },
        });
        let offers = offers.collect();
        let removed = self.inner.offer((place.chat, rank), offers);
        if removed > 0 {
            let chat = place.chat;
            tracing::warn!(
                chat,
                removed,
                "too much waits for a chat; some was left out"
            );
            self.inner.offer((chat, Rank::News), vec![left_out(place)]);
        }
        let mut out = self.inner.out();
        if !std::mem::replace(&mut out.is_driven, true) {
            let inner = Arc::clone(&self.inner);
            self.inner.tasks.spawn(async move { inner.drive().await });
        }
        drop(out);
        self.inner.stirred.notify_one();
    }

    /// Answers a pressed button, with a small sentence or without.
    ///
    /// It is no message in any chat, so it has no turn: “You can call answerCallbackQuery without
    /// any limits” (a maintainer of the platform's server, tdlib/telegram-bot-api #648).
    pub(super) fn answer(&self, query: &str, sentence: Option<&str>) {
        let inner = Arc::clone(&self.inner);
        let query = CallbackQueryId(query.to_owned());
        let sentence = sentence.map(|sentence| beginning(sentence, TOAST_UNITS_MAX));
        self.inner.tasks.spawn(async move {
            for attempt in 1..=TOAST_TRIES {
                let bot = inner.line.bot();
                let mut answer = bot.answer_callback_query(query.clone());
                if let Some(sentence) = &sentence {
                    answer = answer.text(sentence.clone());
                }
                match verdict(inner.line.send(answer).await.map(drop)) {
                    Verdict::Done(()) => return,
                    Verdict::Wait(wait) => {
                        // It names no chat, so the platform means the bot.
                        let until = inner.now().saturating_add(wait);
                        inner.out().queue.hold_everything(until);
                        tokio::time::sleep(wait).await;
                    }
                    Verdict::Again(_) => tokio::time::sleep(pause(attempt)).await,
                    Verdict::Never(why) => {
                        tracing::debug!(why, "a pressed button could not be answered");
                        return;
                    }
                    Verdict::Moved(_) => return,
                }
            }
        });
    }
}

fn like(kind: &Kind) -> Like<Kind> {
    match kind {
        Kind::Own => Like::Nothing,
        Kind::Screen(_) | Kind::Sentence(_) => Like::WhenMuchWaits(kind.clone()),
        Kind::Keyboard(_) | Kind::Status(_) | Kind::LeftOut => Like::Always(kind.clone()),
    }
}

/// Says that something is missing, once however much it is.
fn left_out(place: Place) -> Offer<Kind, Item> {
    let what = texts(&Rich::plain(words::LEFT_OUT), None).pop();
    let html = words::LEFT_OUT.to_owned();
    let what = what.unwrap_or(What::Text { html, markup: None });
    Offer {
        like: like(&Kind::LeftOut),
        is_owed: true,
        what: Item {
            place,
            what,
            failures: 0,
            told: None,
        },
    }
}

impl Inner {
    fn out(&self) -> MutexGuard<'_, Out> {
        // Nothing that touches the queue can panic half-way.
        self.out.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn now(&self) -> Moment {
        self.began.elapsed()
    }

    /// Puts these into the queue; gives how many things were left out for them.
    fn offer(&self, to: (i64, Rank), offers: Vec<Offer<Kind, Item>>) -> usize {
        let mut out = self.out();
        let Removed { replaced, left_out } = out.queue.offer(self.now(), to, offers);
        drop(out);
        for item in replaced {
            item.tell(Fate::Replaced);
        }
        left_out.len()
    }

    /// Sends what waits, each when its turn has come, until nothing waits any more.
    async fn drive(self: Arc<Self>) {
        loop {
            let next = {
                let mut out = self.out();
                let next = out.queue.next(self.now());
                if out.queue.is_done() {
                    out.is_driven = false;
                    return;
                }
                next
            };
            match next {
                Next::Send(sending) => {
                    let inner = Arc::clone(&self);
                    self.tasks
                        .spawn(async move { inner.deliver(sending).await });
                }
                Next::At(at) => {
                    tokio::select! {
                        biased;
                        () = tokio::time::sleep_until(self.began + at) => {}
                        () = self.stirred.notified() => {}
                    }
                }
                Next::Nothing => self.stirred.notified().await,
            }
        }
    }

    /// One attempt, and what follows from its answer.
    async fn deliver(self: Arc<Self>, mut sending: Sending<Kind, Item>) {
        let chat = sending.chat;
        let Item { place, what, .. } = sending.what();
        let (place, what, inner) = (*place, what.clone(), Arc::clone(&self));
        // A task of its own, so that a panic loses this message and holds up no other.
        let attempt = tokio::spawn(async move { inner.attempt(place, &what).await });
        let verdict = attempt.await;
        let verdict = verdict.unwrap_or_else(|error| Verdict::Never(error.to_string()));
        let (finished, fate) = match verdict {
            Verdict::Done(message) => {
                let item = self.out().queue.finished(self.now(), sending);
                (Some(item), Fate::Delivered(message))
            }
            Verdict::Wait(wait) => {
                tracing::info!(chat, seconds = wait.as_secs(), "the platform asks to wait");
                let replaced = self.out().queue.refused(self.now(), sending, wait);
                (replaced, Fate::Replaced)
            }
            Verdict::Again(why) => {
                let item = sending.what_mut();
                item.failures += 1;
                let failures = item.failures;
                tracing::warn!(
                    chat,
                    failures,
                    why,
                    "a message could not be sent; again soon"
                );
                let wait = pause(failures);
                let replaced = self.out().queue.again(self.now(), sending, wait);
                (replaced, Fate::Replaced)
            }
            Verdict::Moved(to) => {
                tracing::info!(chat, to, "a group has another number");
                (self.sent_on(sending, to), Fate::Refused)
            }
            Verdict::Never(why) => {
                tracing::error!(chat, why, "a message was refused for good");
                let item = self.out().queue.finished(self.now(), sending);
                (Some(item), Fate::Refused)
            }
        };
        if let Some(item) = finished {
            item.tell(fate);
        }
        self.left.notify_waiters();
        self.stirred.notify_one();
    }

    /// Sends it to the number that its group has now. A message that is there already has another
    /// number too, so it cannot be changed: that is given back.
    fn sent_on(&self, sending: Sending<Kind, Item>, to: i64) -> Option<Item> {
        let mut out = self.out();
        let now = self.now();
        let mut item = out.queue.finished(now, sending);
        if matches!(item.what, What::Edit { .. } | What::Keyboard { .. }) {
            return Some(item);
        }
        item.place.chat = to;
        let offer = Offer {
            like: Like::Nothing,
            is_owed: true,
            what: item,
        };
        // What is owed is never left out, and replaces nothing.
        out.queue.offer(now, (to, Rank::News), vec![offer]);
        None
    }

    async fn attempt(&self, place: Place, what: &What) -> Verdict<Option<i32>> {
        match what {
            What::Text { html, markup } => {
                verdict(super::attempt::text(&self.line, place, html, markup.as_ref()).await)
            }
            What::Edit {
                message,
                html,
                markup,
            } => {
                let to = (html.as_str(), markup.clone());
                unnumbered(super::attempt::edit(&self.line, place, *message, to).await)
            }
            What::Keyboard { message, markup } => unnumbered(
                super::attempt::keyboard(&self.line, place, *message, markup.clone()).await,
            ),
            What::File {
                bytes,
                file,
                caption,
            } => {
                let file = (bytes.as_ref().clone(), file.clone());
                unnumbered(super::attempt::file(&self.line, place, file, caption).await)
            }
            What::Picture {
                png,
                caption,
                markup,
            } => {
                let under = (caption.as_deref(), markup.as_ref());
                self.picture(place, png, under).await
            }
        }
    }

    async fn picture(
        &self,
        place: Place,
        png: &Png,
        under: (Option<&str>, Option<&ReplyMarkup>),
    ) -> Verdict<Option<i32>> {
        let Hash(of) = png.of;
        let known = self.pictures().get(&of).cloned();
        let was_known = known.is_some();
        let sent = super::attempt::picture(&self.line, place, (png, known), under).await;
        match verdict(sent) {
            Verdict::Done(Some(file)) => {
                self.pictures().insert(of, file);
                Verdict::Done(None)
            }
            Verdict::Done(None) => Verdict::Done(None),
            // The platform may have forgotten the file: once more, with its bytes.
            Verdict::Never(why) if was_known => {
                self.pictures().remove(&of);
                Verdict::Again(why)
            }
            Verdict::Never(why) => Verdict::Never(why),
            Verdict::Moved(to) => Verdict::Moved(to),
            Verdict::Wait(wait) => Verdict::Wait(wait),
            Verdict::Again(why) => Verdict::Again(why),
        }
    }

    fn pictures(&self) -> MutexGuard<'_, HashMap<[u8; 32], FileId>> {
        self.pictures.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// What the answer means, where nothing has a number from it.
fn unnumbered(answer: Result<(), RequestError>) -> Verdict<Option<i32>> {
    verdict(answer.map(|()| None))
}
