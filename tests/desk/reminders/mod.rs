//! Reminders, by a clock of our own: who is told what, and when.

mod always;
mod faults;
mod stories;

use fanwright::desk::Actor;
use fanwright::desk::evaporators::NewEvaporator;
use fanwright::desk::id::{EvaporatorId, JobId};
use fanwright::desk::jobs::NewJob;
use fanwright::desk::notice::{About, Outgoing};
use fanwright::desk::reminders::{LINES_MAX, Turn};

use fanwright::flow::name::FlowName;
use fanwright::store::{Delivery, DeliveryMark};
use fanwright::walk::input::Input;
use jiff::Timestamp;

use super::World;

const AT: &str = "Corner Market · EV-3 · meat cooler, left";

/// One reminder that came: when, to which chat, and what it says.
struct Came {
    at: Timestamp,
    chat: i64,
    says: String,
}

impl World {
    /// Lets time go by until this moment, with everything delivered at once.
    async fn until(&self, end: Timestamp) -> Vec<Came> {
        let mut came = Vec::new();
        loop {
            let next = self.desk.remind().await.unwrap();
            came.extend(self.deliver().await);
            let (now, _) = *self.clock.0.lock().unwrap();
            if now >= end {
                return came;
            }
            let next = next.unwrap_or(end).min(end);
            assert!(next > now, "a reminder that is due is told at once: {next}");
            self.after(next.duration_since(now));
        }
    }

    /// Delivers what is due, as a chat does, and gives the reminders of it.
    async fn deliver(&self) -> Vec<Came> {
        let mut came = Vec::new();
        for outgoing in self.desk.pending(None, 100).await.unwrap().items {
            let Outgoing { chat, due, .. } = outgoing;
            let outcome = match self.desk.turn_of(&outgoing).await.unwrap() {
                Turn::Told(notice) if notice.about == About::Reminder => {
                    let at = self.clock.0.lock().unwrap().0;
                    let says = notice.sentence;
                    // What is listed stands there, each under its own job, too.
                    let bullets = says.lines().filter_map(|line| line.strip_prefix("• "));
                    let each = notice.lines.iter().map(|line| line.sentence.as_str());
                    assert!(bullets.eq(each.take(LINES_MAX)), "{says}");
                    assert!(due <= at);
                    came.push(Came { at, chat, says });
                    Delivery::Delivered
                }
                Turn::Told(_) => Delivery::Delivered,
                Turn::Later(due) => Delivery::Retry { due },
                Turn::Needless => Delivery::GivenUp,
            };
            let notice = outgoing.id;
            let mark = DeliveryMark { notice, outcome };
            self.desk.mark(vec![mark]).await.unwrap();
        }
        came
    }

    /// What comes until then, a line each: `Sun 4 08:36 to 3: Reminder: …`.
    async fn told_until(&self, end: &str) -> Vec<String> {
        let came = self.until(end.parse().unwrap()).await;
        let line = |came: Came| {
            let at = came.at.strftime("%a %-d %H:%M");
            format!("{at} to {}: {}", came.chat, came.says)
        };
        came.into_iter().map(line).collect()
    }

    async fn corner(&self, actor: &Actor) -> EvaporatorId {
        let new = NewEvaporator {
            site: "Corner Market".to_owned(),
            tag: "EV-3".to_owned(),
            hangs: "meat cooler, left".to_owned(),
        };
        let added = self.desk.add_evaporator(self.key(), actor, new).await;
        added.unwrap().id
    }

    async fn begins(&self, actor: &Actor, on: EvaporatorId, flow: &str) -> JobId {
        let new = NewJob {
            evaporator: on,
            flow: FlowName::from(flow),
            training: false,
        };
        let begun = self.desk.begin(self.key(), actor, new).await.unwrap();
        begun.screen.job
    }

    async fn says(&self, actor: &Actor, job: JobId, words: &str) {
        let text = Input::Text(words.to_owned());
        self.does(actor, job, text).await;
    }

    /// A job that promises another look is walked to its end.
    async fn promises(&self, actor: &Actor, on: EvaporatorId, (who, day): (&str, &str)) -> JobId {
        let job = self.begins(actor, on, "promise-to-look").await;
        self.says(actor, job, who).await;
        self.says(actor, job, day).await;
        job
    }
}

/// The times of reminders to these chats, without what they say.
fn times(told: &[String]) -> Vec<&str> {
    told.iter()
        .map(|line| line.split_once(": ").unwrap().0)
        .collect()
}
