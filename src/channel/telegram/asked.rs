//! Which question typed words can answer: that of the newest screen that stood above them.
//!
//! The platform numbers the messages of a chat in the order in which it gets them, so words can
//! only answer a screen with a smaller number than their own. It counts when the platform got the
//! words, not when they were typed: what a telephone holds back until it has a network again is
//! under whatever the platform had by then.
//!
//! A screen that is changed in place keeps its number. That is no new question: in a private chat
//! only ticks and “More” change one, and only on the screen that stands (`Turn::turn_over`).
//!
//! Nothing here knows of chats, tasks or time.

use std::collections::VecDeque;

use crate::desk::id::JobId;
use crate::desk::screen::Screen;

/// So many screens of a chat are remembered. No more come between words and their turn: a chat's
/// updates are handled in order, and each brings one.
const SCREENS_MAX: usize = 16;

/// What a screen asks, however often it is shown and whatever happens beside it.
///
/// It is not the revision: that moves while somebody types, by a timer, a check-in or somebody
/// else of the crew, and the question above their words is still the same.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Question {
    pub(super) job: JobId,
    /// The revision at which it was first asked.
    pub(super) since: u64,
}

impl Question {
    pub(super) fn of(screen: &Screen) -> Question {
        Question {
            job: screen.job,
            since: screen.prompt.asked_since,
        }
    }

    /// None of this job: whatever was meant for it has no effect. Revisions begin at 1.
    pub(super) fn none_of(job: JobId) -> Question {
        Question { job, since: 0 }
    }
}

/// What stood above a message.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Above {
    /// Nothing that is remembered: the process is young, or this is the first.
    Unknown,
    /// Only what is forgotten by now.
    Forgotten,
    /// The screen that asks this.
    Asked(Question),
    /// Perhaps a screen that was sent to the platform, which has not yet said where it stands.
    NotYetTold,
}

/// A question that was put out to a chat.
#[derive(Debug)]
struct Put {
    number: u64,
    question: Question,
    /// The first message that shows it, once the platform said which.
    there: Option<i32>,
    /// So many messages with it are still to be sent.
    coming: u32,
    /// One of them is with the platform, which has not answered yet.
    is_under_way: bool,
}

/// The questions that were put out to one chat, in their order.
#[derive(Debug, Default)]
pub(super) struct Screens {
    put: VecDeque<Put>,
    next: u64,
    has_forgotten: bool,
}

impl Screens {
    /// A message with this question waits to be sent; gives the number by which the rest is told.
    pub(super) fn put(&mut self, question: Question) -> u64 {
        if let Some(last) = self.put.back_mut().filter(|last| last.question == question) {
            last.coming += 1;
            return last.number;
        }
        self.add(question, None, 1)
    }

    /// Somebody's words in this message were taken as an answer to this question, though nothing
    /// was known of the screen above them: it is known now.
    pub(super) fn stood_above(&mut self, message: i32, question: Question) {
        self.add(question, Some(message), 0);
    }

    fn add(&mut self, question: Question, there: Option<i32>, coming: u32) -> u64 {
        self.next += 1;
        self.put.push_back(Put {
            number: self.next,
            question,
            there,
            coming,
            is_under_way: false,
        });
        if self.put.len() > SCREENS_MAX {
            self.put.pop_front();
            self.has_forgotten = true;
        }
        self.next
    }

    /// A message with it is tried now.
    pub(super) fn begins(&mut self, number: u64) {
        if let Some(put) = self.of(number) {
            put.is_under_way = true;
        }
    }

    /// The try failed, and it waits again. It may stand in the chat all the same, where the answer
    /// of the platform was lost; as nobody knows where, it counts as if it did not.
    pub(super) fn waits(&mut self, number: u64) {
        if let Some(put) = self.of(number) {
            put.is_under_way = false;
        }
    }

    /// A message with it is there; where, if the platform said so.
    pub(super) fn is_there(&mut self, number: u64, message: Option<i32>) {
        if let Some(put) = self.of(number) {
            put.there = put.there.or(message);
        }
        self.is_gone(number);
    }

    /// A message with it is not to be sent any more.
    pub(super) fn is_gone(&mut self, number: u64) {
        if let Some(put) = self.of(number) {
            put.is_under_way = false;
            put.coming = put.coming.saturating_sub(1);
        }
        self.put.retain(|put| put.there.is_some() || put.coming > 0);
    }

    fn of(&mut self, number: u64) -> Option<&mut Put> {
        self.put.iter_mut().find(|put| put.number == number)
    }

    /// What stood above a message. What is not there yet came after it.
    pub(super) fn above(&self, message: i32) -> Above {
        let is_above = |put: &&Put| put.there.is_some_and(|there| there <= message);
        let newest = self.put.iter().filter(is_above).max_by_key(|put| put.there);
        match newest {
            Some(put) => Above::Asked(put.question),
            None if self.has_forgotten => Above::Forgotten,
            None => Above::Unknown,
        }
    }

    /// The same, unless it is about to be told more exactly.
    pub(super) fn above_for_sure(&self, message: i32) -> Above {
        let is_open = |put: &Put| put.there.is_none() && put.is_under_way;
        match self.put.iter().any(is_open) {
            true => Above::NotYetTold,
            false => self.above(message),
        }
    }

    /// The question that was put out last, whether it is there yet or not.
    pub(super) fn newest(&self) -> Option<Question> {
        self.put.back().map(|put| put.question)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use uuid::Uuid;

    fn asks(job: u128, since: u64) -> Question {
        let job = JobId(Uuid::from_u128(job));
        Question { job, since }
    }

    /// A chat that shows these, each in this message.
    fn showing(shown: &[(Question, i32)]) -> Screens {
        let mut screens = Screens::default();
        for (question, message) in shown {
            let number = screens.put(*question);
            screens.is_there(number, Some(*message));
        }
        screens
    }

    #[test]
    fn words_are_under_the_newest_screen_with_a_smaller_number() {
        let (first, second, other) = (asks(1, 4), asks(1, 9), asks(2, 4));
        let screens = showing(&[(first, 10), (second, 20), (other, 30)]);
        assert_eq!(screens.above(9), Above::Unknown);
        assert_eq!(screens.above(11), Above::Asked(first));
        assert_eq!(screens.above(19), Above::Asked(first));
        assert_eq!(screens.above(25), Above::Asked(second));
        assert_eq!(screens.above(31), Above::Asked(other));
        assert_eq!(screens.newest(), Some(other));
    }

    #[test]
    fn a_screen_that_is_on_its_way_came_after_the_words() {
        let (first, second) = (asks(1, 4), asks(1, 9));
        let mut screens = showing(&[(first, 10)]);
        let number = screens.put(second);
        assert_eq!(screens.above_for_sure(12), Above::Asked(first));
        assert_eq!(screens.newest(), Some(second));
        screens.begins(number);
        assert_eq!(screens.above_for_sure(12), Above::NotYetTold);
        assert_eq!(screens.above(12), Above::Asked(first));
        screens.waits(number);
        assert_eq!(screens.above_for_sure(12), Above::Asked(first));
        screens.begins(number);
        screens.is_there(number, Some(11));
        assert_eq!(screens.above_for_sure(12), Above::Asked(second));
    }

    #[test]
    fn a_question_that_is_shown_again_stands_since_it_was_first_there() {
        let (first, second) = (asks(1, 4), asks(1, 9));
        let mut screens = showing(&[(first, 10), (second, 20), (second, 30)]);
        assert_eq!(screens.above(25), Above::Asked(second));
        // Of two that wait the first may be replaced by the other.
        let third = asks(1, 12);
        let (one, other) = (screens.put(third), screens.put(third));
        screens.is_gone(one);
        assert_eq!(screens.newest(), Some(third));
        screens.is_there(other, Some(40));
        assert_eq!(screens.above(41), Above::Asked(third));
        // Back at an earlier job, its question is another screen.
        let screens = showing(&[(first, 10), (asks(2, 1), 20), (first, 30)]);
        assert_eq!(screens.above(25), Above::Asked(asks(2, 1)));
        assert_eq!(screens.above(35), Above::Asked(first));
    }

    #[test]
    fn what_never_came_was_never_asked() {
        let (first, second) = (asks(1, 4), asks(1, 9));
        let mut screens = showing(&[(first, 10)]);
        let number = screens.put(second);
        screens.begins(number);
        screens.is_gone(number);
        assert_eq!(screens.newest(), Some(first));
        assert_eq!(screens.above_for_sure(99), Above::Asked(first));
        // It came, but the platform's word where cannot be read.
        let number = screens.put(second);
        screens.is_there(number, None);
        assert_eq!(screens.above_for_sure(99), Above::Asked(first));
    }

    #[test]
    fn words_that_were_taken_say_what_stood_above_them() {
        let (first, second) = (asks(1, 4), asks(1, 9));
        let mut screens = Screens::default();
        screens.stood_above(10, first);
        let number = screens.put(second);
        assert_eq!(screens.above(11), Above::Asked(first));
        screens.is_there(number, Some(12));
        assert_eq!(screens.above(11), Above::Asked(first));
        assert_eq!(screens.above(13), Above::Asked(second));
    }

    #[test]
    fn what_is_forgotten_is_not_taken_for_unknown() {
        let mut screens = Screens::default();
        assert_eq!(screens.above(5), Above::Unknown);
        for at in 0..40_i32 {
            let number = screens.put(asks(1, 1 + u64::from(at.unsigned_abs())));
            screens.is_there(number, Some(10 * (at + 1)));
        }
        assert_eq!(screens.put.len(), SCREENS_MAX);
        assert_eq!(screens.above(5), Above::Forgotten);
        assert_eq!(screens.above(1_000), Above::Asked(asks(1, 40)));
    }
}
