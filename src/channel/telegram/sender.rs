//! Everything that goes out: one queue a chat, all of them taking turns.
//!
//! A message is tried until the platform took it or said that it never will. Where it cannot be
//! told whether a message arrived it is sent again, so at most one more copy comes of each such
//! failure; both carry the same buttons.

use std::collections::{HashMap, VecDeque};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use teloxide::Bot;
use teloxide::payloads::AnswerCallbackQuerySetters;
use teloxide::requests::Requester;
use teloxide::types::{CallbackQueryId, FileId, InlineKeyboardMarkup, ReplyMarkup};
use tokio::sync::oneshot;
use tokio_util::task::TaskTracker;

use super::attempt::{Verdict, verdict};
use super::decode::Place;
use super::pace::{Limits, Pace};
use super::rich::beginning;
use crate::record::chain::Hash;
use crate::report::picture::Png;

/// When more than this waits for one chat, newer answers of a kind replace older ones.
const WAITING_CALM: usize = 8;

/// When more than this waits for one chat, the oldest is dropped and the log says so.
const WAITING_MAX: usize = 64;

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
    /// The buttons of a message.
    Keyboard(i32),
    /// Never replaced.
    Own,
}

/// What became of a message.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Fate {
    /// The platform took it.
    Delivered,
    /// The platform will never take it.
    Refused,
}

struct Item {
    place: Place,
    what: What,
    kind: Kind,
    told: Option<oneshot::Sender<Fate>>,
}

/// The sender. Clones are cheap and share everything.
#[derive(Clone)]
pub(super) struct Sender {
    inner: Arc<Inner>,
}

struct Inner {
    bot: Bot,
    pace: Pace,
    tasks: TaskTracker,
    /// A chat is in here as long as somebody works on its queue.
    chats: Mutex<HashMap<i64, VecDeque<Item>>>,
    /// Pictures that the platform has already.
    pictures: Mutex<HashMap<[u8; 32], FileId>>,
}

impl Sender {
    pub(super) fn new(bot: Bot, limits: Limits, tasks: TaskTracker) -> Sender {
        Sender {
            inner: Arc::new(Inner {
                bot,
                pace: Pace::new(limits),
                tasks,
                chats: Mutex::default(),
                pictures: Mutex::default(),
            }),
        }
    }

    /// Sends these one after the other, behind everything that waits for the chat.
    pub(super) fn send(&self, place: Place, kind: Kind, whats: Vec<What>) {
        let items = whats.into_iter().map(|what| Item {
            place,
            what,
            kind: kind.clone(),
            told: None,
        });
        self.queue(place.chat, items.collect(), false);
    }

    /// Sends before everything else that waits for the chat.
    pub(super) fn send_first(&self, place: Place, what: What) {
        let item = Item {
            place,
            what,
            kind: Kind::Own,
            told: None,
        };
        self.queue(place.chat, vec![item], true);
    }

    /// Sends these, and tells what became of the last.
    pub(super) fn send_and_tell(&self, place: Place, whats: Vec<What>) -> oneshot::Receiver<Fate> {
        let (tell, told) = oneshot::channel();
        let mut items: Vec<Item> = whats
            .into_iter()
            .map(|what| Item {
                place,
                what,
                kind: Kind::Own,
                told: None,
            })
            .collect();
        if let Some(last) = items.last_mut() {
            last.told = Some(tell);
        }
        self.queue(place.chat, items, false);
        told
    }

    fn queue(&self, chat: i64, items: Vec<Item>, first: bool) {
        let mut chats = self.inner.lock();
        let is_idle = !chats.contains_key(&chat);
        let queue = chats.entry(chat).or_default();
        for item in &items {
            let always = matches!(item.kind, Kind::Keyboard(_));
            if always || queue.len() > WAITING_CALM {
                queue.retain(|other| {
                    other.told.is_some() || other.kind == Kind::Own || other.kind != item.kind
                });
            }
        }
        for item in items {
            if first {
                queue.push_front(item);
            } else {
                queue.push_back(item);
            }
        }
        while queue.len() > WAITING_MAX {
            let Some(oldest) = queue.iter().position(|item| item.told.is_none()) else {
                break;
            };
            queue.remove(oldest);
            tracing::warn!(
                chat,
                "too much waits for a chat; its oldest message was dropped"
            );
        }
        drop(chats);
        if is_idle {
            let inner = Arc::clone(&self.inner);
            self.inner
                .tasks
                .spawn(async move { inner.empty(chat).await });
        }
    }

    /// Answers a pressed button, with a small sentence or without.
    pub(super) fn answer(&self, query: &str, sentence: Option<&str>) {
        let inner = Arc::clone(&self.inner);
        let query = CallbackQueryId(query.to_owned());
        let sentence = sentence.map(|sentence| beginning(sentence, TOAST_UNITS_MAX));
        self.inner.tasks.spawn(async move {
            for attempt in 1..=TOAST_TRIES {
                let mut answer = inner.bot.answer_callback_query(query.clone());
                if let Some(sentence) = &sentence {
                    answer = answer.text(sentence.clone());
                }
                match verdict(answer.await.map(drop)) {
                    Verdict::Done(()) => return,
                    Verdict::Wait(wait) => tokio::time::sleep(wait).await,
                    Verdict::Again(_) => tokio::time::sleep(pause(attempt)).await,
                    Verdict::Never(why) => {
                        tracing::debug!(why, "a pressed button could not be answered");
                        return;
                    }
                }
            }
        });
    }
}

impl Inner {
    fn lock(&self) -> std::sync::MutexGuard<'_, HashMap<i64, VecDeque<Item>>> {
        // Nothing that touches the queues can panic half-way.
        self.chats.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// The next message of a chat; without one the chat is given up.
    fn next(&self, chat: i64) -> Option<Item> {
        let mut chats = self.lock();
        let next = chats.get_mut(&chat).and_then(VecDeque::pop_front);
        if next.is_none() {
            chats.remove(&chat);
        }
        next
    }

    async fn empty(&self, chat: i64) {
        while let Some(item) = self.next(chat) {
            let fate = self.deliver(item.place, &item.what).await;
            if let Some(told) = item.told {
                // Whoever wanted to know may be gone.
                drop(told.send(fate));
            }
        }
    }

    async fn deliver(&self, place: Place, what: &What) -> Fate {
        let chat = place.chat;
        let mut failures = 0;
        loop {
            self.pace.turn(chat).await;
            match self.attempt(place, what).await {
                Verdict::Done(()) => return Fate::Delivered,
                Verdict::Wait(wait) => {
                    tracing::info!(chat, seconds = wait.as_secs(), "the platform asks to wait");
                    tokio::time::sleep(wait).await;
                }
                Verdict::Again(why) => {
                    failures += 1;
                    tracing::warn!(
                        chat,
                        failures,
                        why,
                        "a message could not be sent; again soon"
                    );
                    tokio::time::sleep(pause(failures)).await;
                }
                Verdict::Never(why) => {
                    tracing::error!(chat, why, "a message was refused for good");
                    return Fate::Refused;
                }
            }
        }
    }

    async fn attempt(&self, place: Place, what: &What) -> Verdict<()> {
        match what {
            What::Text { html, markup } => {
                verdict(super::attempt::text(&self.bot, place, html, markup.as_ref()).await)
            }
            What::Keyboard { message, markup } => {
                verdict(super::attempt::keyboard(&self.bot, place, *message, markup.clone()).await)
            }
            What::File {
                bytes,
                file,
                caption,
            } => {
                let file = (bytes.as_ref().clone(), file.clone());
                verdict(super::attempt::file(&self.bot, place, file, caption).await)
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
    ) -> Verdict<()> {
        let Hash(of) = png.of;
        let known = self.pictures().get(&of).cloned();
        let was_known = known.is_some();
        let sent = super::attempt::picture(&self.bot, place, (png, known), under).await;
        match verdict(sent) {
            Verdict::Done(Some(file)) => {
                self.pictures().insert(of, file);
                Verdict::Done(())
            }
            Verdict::Done(None) => Verdict::Done(()),
            // The platform may have forgotten the file: once more, with its bytes.
            Verdict::Never(why) if was_known => {
                self.pictures().remove(&of);
                Verdict::Again(why)
            }
            Verdict::Never(why) => Verdict::Never(why),
            Verdict::Wait(wait) => Verdict::Wait(wait),
            Verdict::Again(why) => Verdict::Again(why),
        }
    }

    fn pictures(&self) -> std::sync::MutexGuard<'_, HashMap<[u8; 32], FileId>> {
        self.pictures.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// How long to wait after so many failures: half a second, doubled each time, at most a minute.
fn pause(failures: u32) -> Duration {
    Duration::from_millis(500)
        .saturating_mul(2u32.saturating_pow(failures.saturating_sub(1)))
        .min(Duration::from_secs(60))
}
