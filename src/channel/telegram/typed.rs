//! Typed words and photos: answers to the question that stood above them, and to no other.
//!
//! A button says by itself for which screen it is; words do not. So “0 V”, typed twice because the
//! chat is slow, would be two readings of a proof, and words typed under the screen of one job
//! would answer another that came to hand meanwhile.

use super::asked::{Above, Question};
use super::press::stale_press;
use super::talk::Turn;
use super::words;
use crate::desk::id::JobId;
use crate::desk::screen::{Handled, Outcome};
use crate::desk::{Actor, DeskError, Seen};
use crate::walk::input::Input;

/// The question that words or a photo are for.
#[derive(Clone, Copy)]
pub(super) struct Meant {
    question: Question,
    why: Why,
}

/// Why they are for this question.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Why {
    /// Its screen stood above the message with this number.
    Above,
    /// Nothing is known of what stood above them, and it is the one asked now.
    Unknown,
    /// Another job's screen stood above them, so they are for none of this job.
    AnotherJob,
}

impl Turn<'_> {
    /// Typed words: a reply to one of the bot's own questions, or an answer to the job at hand.
    pub(super) async fn typed(
        &self,
        (text, message): (String, i32),
        replies_to: Option<(i32, Option<String>)>,
    ) -> Result<(), DeskError> {
        let Some(actor) = self.actor().await? else {
            return Ok(());
        };
        let mut under = message;
        if let Some((replied, question)) = replies_to {
            under = replied;
            if let Some(question) = question
                && self.replied(&actor, &question, &text).await?
            {
                return Ok(());
            }
        }
        let Some(job) = self.at_hand(&actor).await? else {
            return Ok(());
        };
        let meant = self.meant(&actor, job, under).await?;
        let words = (message, Input::Text(text));
        if self.answer(&actor, meant, words).await?.is_none() {
            self.talk.receipt(self.place, message);
        }
        Ok(())
    }

    /// For which question of the job at hand is what stands under this message, or is it.
    pub(super) async fn meant(
        &self,
        actor: &Actor,
        job: JobId,
        message: i32,
    ) -> Result<Meant, DeskError> {
        let at = (self.place.chat, message);
        let (question, why) = match self.talk.questions.above(at).await {
            Above::Asked(question) if question.job == job => (question, Why::Above),
            Above::Asked(_) => (Question::none_of(job), Why::AnotherJob),
            Above::Forgotten => (Question::none_of(job), Why::Above),
            // Whoever typed while the server was away is not to type again.
            Above::Unknown | Above::NotYetTold => {
                let shown = self.talk.desk.screen(actor, job).await?;
                (Question::of(&shown), Why::Unknown)
            }
        };
        Ok(Meant { question, why })
    }

    /// Brings words or a photo to the question that they are for, and shows what became of it; the
    /// sentence if it was refused.
    ///
    /// The desk compares the question, not the revision of the screen. That moves by timers,
    /// check-ins and what others do beside the question: nobody is to type again for that. But
    /// where somebody else answered the question, also in a group, the words were not for the next,
    /// though its screen never came to this chat.
    pub(super) async fn answer(
        &self,
        actor: &Actor,
        meant: Meant,
        (message, input): (i32, Input),
    ) -> Result<Option<String>, DeskError> {
        let Question { job, since } = meant.question;
        let (key, desk) = (self.key.clone(), &self.talk.desk);
        let seen = (Seen::Question(since), input);
        let handled = desk.handle_seen(key, actor, job, seen).await?;
        if handled.outcome == Outcome::AlreadyHandled {
            return Ok(None);
        }
        if meant.why == Why::Unknown {
            let at = (self.place.chat, message);
            self.talk.questions.stood_above(at, meant.question);
        }
        match handled {
            Handled {
                outcome: Outcome::Refused(sentence),
                screen,
            } if Question::of(&screen) != meant.question => {
                let sentence = match meant.why {
                    Why::AnotherJob => words::UNDER_ANOTHER_JOB.to_owned(),
                    Why::Above | Why::Unknown => sentence,
                };
                // Its screen comes after these words anyway, and the sentence under it.
                match self.talk.questions.newest(self.place.chat) == Some(Question::of(&screen)) {
                    true => self.say(&sentence),
                    false => self.show(actor, &screen, Some(&sentence)).await,
                }
                Ok(Some(sentence))
            }
            handled => Ok(self.became(actor, handled).await),
        }
    }

    /// Tells of what came for another question than the one asked now; it has no effect.
    pub(super) async fn came_before(
        &self,
        actor: &Actor,
        (meant, message): (Meant, i32),
    ) -> Result<(), DeskError> {
        let of_nothing = (message, stale_press());
        self.answer(actor, meant, of_nothing).await.map(drop)
    }
}

impl Meant {
    /// Whether it is for this question.
    pub(super) fn is_for(&self, question: Question) -> bool {
        self.question == question
    }
}
