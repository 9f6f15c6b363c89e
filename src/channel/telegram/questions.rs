//! What was asked in which private chat, and where it stands: in memory only. After a restart
//! nothing is known, and the first words count for what is asked then.

use std::collections::{BTreeMap, HashMap};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::Duration;

use tokio::sync::Notify;
use tokio::time::Instant;

use super::asked::{Above, Question, Screens};

/// So many chats are remembered; then the one that was shown nothing for the longest is not.
const CHATS_MAX: usize = 20_000;

/// So long words wait for the platform to say where a screen stands that it was just sent: people
/// answer no sooner than that, but its word may be slower than their next message.
const TOLD_WITHIN: Duration = Duration::from_secs(3);

/// The book of questions. Clones are cheap and share everything.
#[derive(Clone, Default)]
pub(super) struct Questions {
    inner: Arc<Inner>,
}

#[derive(Default)]
struct Inner {
    chats: Mutex<Chats>,
    /// The platform said something of a screen.
    told: Notify,
}

#[derive(Default)]
struct Chats {
    of: HashMap<i64, (u64, Screens)>,
    /// The chats by when something was put out to them last.
    order: BTreeMap<u64, i64>,
    count: u64,
}

impl Chats {
    /// The screens of a chat, which is the last to be forgotten now.
    fn touched(&mut self, chat: i64) -> &mut Screens {
        self.count += 1;
        let (count, is_new) = (self.count, !self.of.contains_key(&chat));
        if is_new
            && self.of.len() >= CHATS_MAX
            && let Some((_, oldest)) = self.order.pop_first()
        {
            self.of.remove(&oldest);
        }
        self.order.insert(count, chat);
        let (stamp, screens) = self.of.entry(chat).or_default();
        self.order.remove(&std::mem::replace(stamp, count));
        screens
    }
}

impl Questions {
    fn chats(&self) -> MutexGuard<'_, Chats> {
        // Nothing that touches it can panic half-way.
        self.inner
            .chats
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
    }

    /// A question goes out to a chat. Its mark goes with the message.
    pub(super) fn put(&self, chat: i64, question: Question) -> Mark {
        let number = self.chats().touched(chat).put(question);
        let book = Some(self.clone());
        Mark { book, chat, number }
    }

    /// Words in this message were taken as an answer to this question.
    pub(super) fn stood_above(&self, (chat, message): (i64, i32), question: Question) {
        self.chats().touched(chat).stood_above(message, question);
    }

    /// The question that was put out to a chat last.
    pub(super) fn newest(&self, chat: i64) -> Option<Question> {
        let chats = self.chats();
        chats.of.get(&chat).and_then(|(_, it)| it.newest())
    }

    /// What stood above a message. If that is about to be told, waits for it a moment.
    pub(super) async fn above(&self, (chat, message): (i64, i32)) -> Above {
        let until = Instant::now() + TOLD_WITHIN;
        loop {
            let told = self.inner.told.notified();
            {
                let chats = self.chats();
                let Some((_, screens)) = chats.of.get(&chat) else {
                    return Above::Unknown;
                };
                match screens.above_for_sure(message) {
                    Above::NotYetTold if Instant::now() >= until => return screens.above(message),
                    Above::NotYetTold => {}
                    sure => return sure,
                }
            }
            drop(tokio::time::timeout_at(until, told).await);
        }
    }

    fn note(&self, chat: i64, note: impl FnOnce(&mut Screens)) {
        if let Some((_, screens)) = self.chats().of.get_mut(&chat) {
            note(screens);
        }
        self.inner.told.notify_waiters();
    }
}

/// Goes with the message that shows a question, and notes what becomes of it.
pub(super) struct Mark {
    /// None once the message is there.
    book: Option<Questions>,
    chat: i64,
    number: u64,
}

impl Mark {
    /// The message is tried now.
    pub(super) fn begins(&self) {
        self.note(|screens| screens.begins(self.number));
    }

    /// It waits to be tried again.
    pub(super) fn waits(&self) {
        self.note(|screens| screens.waits(self.number));
    }

    /// The platform took it, and said where it stands.
    pub(super) fn stands(mut self, message: Option<i32>) {
        self.note(|screens| screens.is_there(self.number, message));
        self.book = None;
    }

    fn note(&self, note: impl FnOnce(&mut Screens)) {
        if let Some(book) = &self.book {
            book.note(self.chat, note);
        }
    }
}

impl Drop for Mark {
    /// A message that is dropped unsent was replaced, left out or refused.
    fn drop(&mut self) {
        self.note(|screens| screens.is_gone(self.number));
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::desk::id::JobId;
    use uuid::Uuid;

    fn asks(since: u64) -> Question {
        let job = JobId(Uuid::from_u128(7));
        Question { job, since }
    }

    #[tokio::test]
    async fn a_message_that_is_dropped_unsent_was_never_asked() {
        let book = Questions::default();
        book.put(5, asks(1)).stands(Some(10));
        drop(book.put(5, asks(2)));
        assert_eq!(book.newest(5), Some(asks(1)));
        assert_eq!(book.above((5, 11)).await, Above::Asked(asks(1)));
        assert_eq!(book.above((6, 11)).await, Above::Unknown);
    }

    #[tokio::test(start_paused = true)]
    async fn words_wait_a_moment_for_the_platforms_word_and_no_longer() {
        let book = Questions::default();
        book.put(5, asks(1)).stands(Some(10));
        let mark = book.put(5, asks(2));
        mark.begins();
        let (later, began) = (book.clone(), Instant::now());
        let waits = tokio::spawn(async move { later.above((5, 12)).await });
        assert_eq!(book.above((5, 12)).await, Above::Asked(asks(1)));
        assert_eq!(began.elapsed().as_secs(), TOLD_WITHIN.as_secs());
        assert_eq!(waits.await.unwrap(), Above::Asked(asks(1)));
        let later = book.clone();
        let waits = tokio::spawn(async move { later.above((5, 12)).await });
        tokio::task::yield_now().await;
        mark.stands(Some(11));
        assert_eq!(waits.await.unwrap(), Above::Asked(asks(2)));
    }

    #[tokio::test]
    async fn the_chat_that_was_shown_nothing_for_the_longest_is_forgotten() {
        let book = Questions::default();
        for chat in 0..20_000 {
            book.put(chat, asks(1)).stands(Some(10));
        }
        book.put(0, asks(2)).stands(Some(20));
        book.put(20_000, asks(1)).stands(Some(10));
        assert_eq!(book.newest(0), Some(asks(2)));
        assert_eq!(book.newest(1), None);
        let chats = book.chats();
        assert_eq!((chats.of.len(), chats.order.len()), (CHATS_MAX, CHATS_MAX));
    }
}
