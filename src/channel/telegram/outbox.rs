//! Brings what waits in the outbox to its chats.

use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use teloxide::types::{InlineKeyboardMarkup, ReplyMarkup};
use tokio_util::sync::CancellationToken;
use tokio_util::task::TaskTracker;

use super::asked::Question;
use super::decode::Place;
use super::on_the_way::OnTheWay;
use super::queue::Rank;
use super::rich::Rich;
use super::screen::button;
use super::sender::{Fate, Kind, What};
use super::talk::{Talk, texts};
use super::token::Token;
use crate::desk::notice::{About, Outgoing};
use crate::desk::reminders::Turn;
use crate::desk::{ChannelAddress, DeskError};
use crate::store::{Delivery, DeliveryMark, NoticeId};

/// The outbox is looked at this often even if nothing is heard of it.
const LOOKED_AT_EVERY: Duration = Duration::from_secs(1);

/// So many notices are on their way at the same time.
const ON_THE_WAY_MAX: usize = 256;

/// So many more, of those that are urgent: a night's reminders hold up no emergency.
const URGENT_MAX: usize = 256;

/// After a fault of the store so long is waited.
const AFTER_FAULT: Duration = Duration::from_secs(5);

struct Outbox {
    talk: Arc<Talk>,
    tasks: TaskTracker,
    on_the_way: Mutex<OnTheWay>,
}

/// Brings notices to their chats until the shutdown.
pub(super) async fn run(talk: Arc<Talk>, tasks: TaskTracker, shutdown: CancellationToken) {
    let outbox = Arc::new(Outbox {
        talk,
        tasks,
        on_the_way: Mutex::default(),
    });
    let mut changes = outbox.talk.desk.outbox_changes();
    loop {
        changes.mark_unchanged();
        let wait = match outbox.look().await {
            Ok(()) => LOOKED_AT_EVERY,
            Err(error) => {
                let error = error.for_the_log();
                tracing::error!(error, "not all of the outbox can be read");
                AFTER_FAULT
            }
        };
        tokio::select! {
            biased;
            () = shutdown.cancelled() => return,
            () = tokio::time::sleep(wait) => {}
            // The desk lives as long as this, and with it whoever tells of changes.
            _ = changes.changed() => {}
        }
    }
}

impl Outbox {
    fn on_the_way(&self) -> std::sync::MutexGuard<'_, OnTheWay> {
        self.on_the_way
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
    }

    /// Puts everything due on its way. What cannot be brought holds up nothing else; it stays in
    /// the outbox, and the first fault is given back.
    async fn look(self: &Arc<Self>) -> Result<(), DeskError> {
        let (mut after, mut looked) = (None, Ok(()));
        self.on_the_way().look_begins();
        loop {
            let page = self.talk.desk.pending(after, ON_THE_WAY_MAX).await?;
            for outgoing in page.items {
                let is_new = {
                    let mut on_the_way = self.on_the_way();
                    let max = match rank(outgoing.notice.about) {
                        Rank::Emergency | Rank::Answer => ON_THE_WAY_MAX + URGENT_MAX,
                        Rank::News | Rank::Quiet => ON_THE_WAY_MAX,
                    };
                    on_the_way.count() < max && on_the_way.take(outgoing.id)
                };
                if is_new {
                    looked = looked.and(self.bring(outgoing).await);
                }
            }
            after = page.next;
            if after.is_none() || self.on_the_way().count() >= ON_THE_WAY_MAX + URGENT_MAX {
                return looked;
            }
        }
    }

    async fn bring(self: &Arc<Self>, outgoing: Outgoing) -> Result<(), DeskError> {
        let place = Place {
            chat: outgoing.chat,
            thread: None,
        };
        let id = outgoing.id;
        let notice = match self.talk.desk.turn_of(&outgoing).await {
            Ok(Turn::Told(notice)) => notice,
            Ok(Turn::Later(due)) => return self.mark(id, Delivery::Retry { due }).await,
            Ok(Turn::Needless) => return self.mark(id, Delivery::GivenUp).await,
            Err(error) => {
                self.on_the_way().is_let_go(id);
                return Err(error);
            }
        };
        let outgoing = Outgoing { notice, ..outgoing };
        let (whats, asks) = match self.whats(&outgoing).await {
            Ok(found) => found,
            Err(error) => {
                self.on_the_way().is_let_go(id);
                return Err(error);
            }
        };
        let to = (place, rank(outgoing.notice.about));
        let mark = asks.map(|question| self.talk.questions.put(place.chat, question));
        let told = self.talk.sender.send_marked(to, Kind::Own, (whats, mark));
        let outbox = Arc::clone(self);
        self.tasks.spawn(async move {
            // Without an answer the process is on its way out; the notice stays in the outbox.
            let Ok(fate) = told.await else {
                return outbox.on_the_way().is_let_go(id);
            };
            let outcome = match fate {
                Fate::Delivered(_) | Fate::Replaced => Delivery::Delivered,
                Fate::Refused => Delivery::GivenUp,
            };
            let mark = DeliveryMark {
                notice: id,
                outcome,
            };
            if outbox.noted(mark).await {
                outbox.on_the_way().comes_through(id);
            }
        });
        Ok(())
    }

    /// Notes what became of a notice that was sent, as soon as the store takes it: until then it
    /// counts as on its way, so that it does not go out again. False if the store takes nothing
    /// more before a restart.
    async fn noted(&self, mark: DeliveryMark) -> bool {
        while let Err(error) = self.talk.desk.mark(vec![mark]).await {
            let id = mark.notice;
            let why = error.for_the_log();
            tracing::error!(%id, error = why, "a delivery could not be noted");
            if matches!(error, DeskError::Stopped(_) | DeskError::Unsure(_)) {
                return false;
            }
            tokio::time::sleep(AFTER_FAULT).await;
        }
        true
    }

    /// Notes what became of a notice that is not sent now.
    async fn mark(&self, id: NoticeId, outcome: Delivery) -> Result<(), DeskError> {
        let mark = DeliveryMark {
            notice: id,
            outcome,
        };
        let marked = self.talk.desk.mark(vec![mark]).await;
        match marked {
            Ok(()) => self.on_the_way().comes_through(id),
            Err(_) => self.on_the_way().is_let_go(id),
        }
        marked
    }

    /// The sentence, and under it the screen of the job or a button that shows it; and what that
    /// screen asks.
    async fn whats(&self, outgoing: &Outgoing) -> Result<(Vec<What>, Option<Question>), DeskError> {
        let notice = &outgoing.notice;
        // In a private chat, the only kind there is, chat and user have the same number.
        let address = ChannelAddress::Telegram {
            chat: outgoing.chat,
            user: outgoing.chat,
        };
        let actor = self.talk.desk.who_is(&address).await?;
        let actor = actor.filter(|actor| actor.person == notice.to);
        if let (Some(actor), Some(job), true) = (&actor, notice.job, notice.show_screen) {
            match self.talk.desk.screen(actor, job).await {
                Ok(shown) => {
                    let sentence = Some(notice.sentence.as_str());
                    let whats = self.talk.screen(actor, &shown, sentence).await;
                    return Ok((whats, Some(Question::of(&shown))));
                }
                Err(error @ DeskError::Stopped(_)) => return Err(error),
                // What there is to say does not wait until the job can be read again.
                Err(error) if error.is_fault() => {
                    let error = error.for_the_log();
                    tracing::error!(%job, error, "a notice goes out without its job's screen");
                }
                Err(_) => {}
            }
        }
        let look = notice.job.filter(|_| actor.is_some());
        let markup = look.map(|job| {
            let rows = vec![vec![button("Look at the job", Token::Show(job))]];
            ReplyMarkup::InlineKeyboard(InlineKeyboardMarkup::new(rows))
        });
        Ok((texts(&Rich::plain(&notice.sentence), markup), None))
    }
}

/// How urgent it is that somebody hears of this.
fn rank(about: About) -> Rank {
    match about {
        About::Emergency | About::CheckInLoud | About::CheckInAlarm => Rank::Emergency,
        // Somebody stands before a step and goes on, or stops, by it.
        About::CheckIn
        | About::CheckInOver
        | About::SupervisorCalled
        | About::WorkStopped
        | About::StopLifted
        | About::HoldWaiting
        | About::Released
        | About::WaitOver => Rank::Answer,
        About::BegunFor
        | About::HandoverOffered
        | About::HandoverTaken
        | About::LeftLockedOut
        | About::HandedIn
        | About::Accepted
        | About::SentBack
        | About::BackAgain
        | About::Group => Rank::News,
        About::Reminder => Rank::Quiet,
    }
}
