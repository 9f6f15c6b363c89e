//! Everything that goes out, one request after the other as the queue says.
//!
//! A message is tried until the platform took it or said that it never will. Where it cannot be
//! told whether a message arrived it is sent again, so at most one more copy comes of each such
//! failure; both carry the same buttons.

use std::panic::AssertUnwindSafe;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use futures_util::FutureExt;
use teloxide::RequestError;
use teloxide::payloads::AnswerCallbackQuerySetters;
use teloxide::requests::Requester;
use teloxide::types::CallbackQueryId;
use tokio::sync::{Notify, oneshot};
use tokio::time::Instant;
use tokio_util::task::TaskTracker;

use super::attempt::{Verdict, verdict};
use super::chat_mark::ChatMark;
use super::decode::Place;
use super::line::Line;
pub(super) use super::outgoing::{Fate, Kind, What};
use super::pace::{Limits, Moment, pause};
use super::pictures::Pictures;
use super::questions::Mark;
use super::queue::{Like, Next, Offer, Queue, Rank, Removed, Sending};
use super::rich::{Rich, beginning};
use super::talk::texts;
use super::words;
use crate::desk::id::JobId;
use crate::metrics::{Stopwatch, metrics};

/// When so much waits in all, nothing more is taken in before some of it is gone.
const WAITING_ALL_MAX: usize = 20_000;

/// The most characters of the small answer to a pressed button.
const TOAST_UNITS_MAX: usize = 200;

/// How often the answer to a pressed button is tried; it is worth nothing after some seconds.
const TOAST_TRIES: u32 = 4;

struct Item {
    place: Place,
    what: What,
    rank: Rank,
    offered: Stopwatch,
    first_tried: Option<Instant>,
    failures: u32,
    told: Option<oneshot::Sender<Fate>>,
    /// It shows a question in a private chat.
    mark: Option<Mark>,
}

/// Who wants to know what becomes of something.
#[derive(Default)]
struct Interest {
    told: Option<oneshot::Sender<Fate>>,
    mark: Option<Mark>,
}

impl Item {
    fn new((place, rank): (Place, Rank), what: What, interest: Interest) -> Item {
        Item {
            place,
            what,
            rank,
            offered: Stopwatch::started(),
            first_tried: None,
            failures: 0,
            told: interest.told,
            mark: interest.mark,
        }
    }

    fn tell(self, fate: Fate) {
        if let (Some(mark), Fate::Delivered(message)) = (self.mark, &fate) {
            mark.stands(*message);
        }
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
    pictures: Pictures,
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
                pictures: Pictures::default(),
            }),
        }
    }

    /// Sends these one after the other to somebody who waits for them, behind everything that
    /// waits for the chat.
    pub(super) fn send(&self, place: Place, kind: Kind, whats: Vec<What>) {
        self.offer((place, Rank::Answer), kind, whats, Interest::default());
    }

    /// The same for the screen of a job, whose question is noted to be where the last of these is.
    pub(super) fn send_screen(&self, place: Place, mark: Mark, (job, whats): (JobId, Vec<What>)) {
        let interest = Interest {
            told: None,
            mark: Some(mark),
        };
        self.offer((place, Rank::Answer), Kind::Screen(job), whats, interest);
    }

    /// Sends before everything else that waits.
    pub(super) fn send_first(&self, place: Place, what: What) {
        let interest = Interest::default();
        self.offer((place, Rank::Emergency), Kind::Own, vec![what], interest);
    }

    /// Sends these, and tells what became of the last.
    pub(super) fn send_and_tell(
        &self,
        to: (Place, Rank),
        kind: Kind,
        whats: Vec<What>,
    ) -> oneshot::Receiver<Fate> {
        self.send_marked(to, kind, (whats, None))
    }

    /// The same; the last of these may show a question.
    pub(super) fn send_marked(
        &self,
        to: (Place, Rank),
        kind: Kind,
        (whats, mark): (Vec<What>, Option<Mark>),
    ) -> oneshot::Receiver<Fate> {
        let (tell, told) = oneshot::channel();
        let tell = Some(tell);
        self.offer(to, kind, whats, Interest { told: tell, mark });
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
        interest: Interest,
    ) {
        let count = whats.len();
        let is_owed = interest.told.is_some();
        let mut interest = Some(interest);
        let offers = whats.into_iter().enumerate().map(|(at, what)| Offer {
            like: like(&kind),
            is_owed,
            messages: what.messages(),
            what: {
                let of_last = interest.take_if(|_| at + 1 == count);
                Item::new((place, rank), what, of_last.unwrap_or_default())
            },
        });
        let offers = offers.collect();
        let removed = self.inner.offer((place.chat, rank), offers);
        if removed > 0 {
            let chat = ChatMark(place.chat);
            tracing::warn!(
                %chat,
                removed,
                "too much waits for a chat; some was left out"
            );
            let to = (place.chat, Rank::News);
            self.inner.offer(to, vec![left_out(place)]);
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
        messages: 1,
        what: Item::new((place, Rank::News), what, Interest::default()),
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
            metrics().send_ended("replaced");
            item.tell(Fate::Replaced);
        }
        for _ in &left_out {
            metrics().send_ended("left_out");
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
        let chat = ChatMark(sending.chat);
        let item = sending.what_mut();
        if item.first_tried.is_none() {
            metrics().send_waited(item.rank.word(), item.offered);
        }
        item.first_tried.get_or_insert_with(Instant::now);
        if let Some(mark) = &item.mark {
            mark.begins();
        }
        let asked = Stopwatch::started();
        let verdict = self.tried(sending.what()).await;
        metrics().send_answered(verdict.word(), asked);
        if let (Verdict::Wait(_) | Verdict::Again(_), Some(mark)) = (&verdict, &sending.what().mark)
        {
            mark.waits();
        }
        let (finished, fate) = match verdict {
            Verdict::Done(message) => {
                let Item { rank, offered, .. } = sending.what();
                metrics().chat_has_it(rank.word(), *offered);
                let item = self.out().queue.finished(self.now(), sending);
                (Some(item), Fate::Delivered(message))
            }
            Verdict::Wait(wait) => {
                tracing::info!(%chat, seconds = wait.as_secs(), "the platform asks to wait");
                let replaced = self.out().queue.refused(self.now(), sending, wait);
                (replaced, Fate::Replaced)
            }
            Verdict::Again(why) => {
                let item = sending.what_mut();
                item.failures += 1;
                let failures = item.failures;
                tracing::warn!(
                    %chat,
                    failures,
                    why,
                    "a message could not be sent; again soon"
                );
                let wait = pause(failures);
                let replaced = self.out().queue.again(self.now(), sending, wait);
                (replaced, Fate::Replaced)
            }
            Verdict::Moved(to) => {
                let now_at = ChatMark(to);
                tracing::info!(%chat, %now_at, "a group has another number");
                (self.sent_on(sending, to), Fate::Refused)
            }
            Verdict::Never(why) => {
                tracing::error!(%chat, why, "a message was refused for good");
                self.say_instead(sending.what());
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

    /// What became of one attempt; what takes too long to upload is given up at last.
    async fn tried(&self, item: &Item) -> Verdict<Option<i32>> {
        // A panic loses this message and holds up no other.
        let attempt = AssertUnwindSafe(self.attempt(item.place, &item.what)).catch_unwind();
        let panicked = |_| Verdict::Never("sending it broke off unexpectedly".to_owned());
        let verdict = attempt.await.unwrap_or_else(panicked);
        let tried = item.first_tried.map(|since| since.elapsed());
        match verdict {
            Verdict::Again(why)
                if item
                    .what
                    .is_given_up(item.failures + 1, tried.unwrap_or_default()) =>
            {
                Verdict::Never(why)
            }
            other => other,
        }
    }

    /// Says where a file is that does not come; whoever sends an album says so themselves.
    fn say_instead(&self, item: &Item) {
        if !matches!(item.what, What::File { .. }) {
            return;
        }
        let to = (item.place, Rank::Answer);
        let whats = texts(&Rich::plain(words::NOT_HERE), None).into_iter();
        let offers = whats.map(|what| Offer {
            like: Like::Nothing,
            is_owed: false,
            messages: what.messages(),
            what: Item::new(to, what, Interest::default()),
        });
        self.offer((item.place.chat, Rank::Answer), offers.collect());
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
            messages: item.what.messages(),
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
                self.pictures.picture(&self.line, place, png, under).await
            }
            What::Album(photos) => self.pictures.album(&self.line, place, photos).await,
        }
    }
}

/// What the answer means, where nothing has a number from it.
fn unnumbered(answer: Result<(), RequestError>) -> Verdict<Option<i32>> {
    verdict(answer.map(|()| None))
}
