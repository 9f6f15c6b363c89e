//! A person walks in a chat.

use fanwright::desk::id::JobId;
use serde_json::{Value, json};

use super::{Bench, STEPS, first, next_says};
use crate::stories::screen_of;
use crate::support::bot_api::{BotApi, Sent};
use crate::support::chat::Chat;
use crate::support::program::Program;

const SAM: i64 = 1001;

/// Somebody at a step of a job, and the server that they use.
struct Walk {
    bench: Bench,
    program: Program,
    chat: Chat,
    job: JobId,
}

/// The moment of the kill, counted from the person's press.
#[derive(Clone, Copy, Debug)]
enum Moment {
    /// The answer is there and the update is confirmed.
    Confirmed,
    /// The server has fetched the update; nobody knows how far it is.
    Fetched,
    /// The answer is there; the update may not be confirmed.
    Answered,
}

impl Walk {
    async fn begin() -> Walk {
        let bench = Bench::new().await;
        let program = bench.serve();
        let code = program.code.clone().unwrap();
        let mut chat = Chat::new(&bench.api, SAM, "Sam");
        chat.say(&format!("/start {code}")).await;
        chat.say("/new").await;
        chat.reply("Corner Market, EV-3, left").await;
        let first = chat.last();
        let job = first.buttons.iter().find_map(|(_, data)| screen_of(data));
        let job = job.unwrap().job;
        Walk {
            bench,
            program,
            chat,
            job,
        }
    }

    /// The update that answers a step.
    async fn answer(&mut self, step: &str) -> Value {
        let chat = &mut self.chat;
        let content = match step {
            "arrive" => return chat.pressing("Go on"),
            "look" => return chat.pressing("It turns"),
            "gear" => {
                // A tick changes the buttons of the newest message that asks for it.
                let tick = chat.pressing("☐ Gloves");
                chat.delivers(&tick).await;
                return chat.pressing("That is all");
            }
            "read" => json!({ "text": "208 V" }),
            "plate" => chat.photo_content(super::photo()),
            _ => json!({ "text": "Blade free" }),
        };
        let message = chat.message(content);
        chat.api.update("message", message)
    }

    /// Delivers the update, kills the server at that moment and starts it again.
    async fn kill_at(mut self, moment: Moment, update: &Value, says: &str) -> (Walk, Vec<String>) {
        let api = self.bench.api.clone();
        let before = api.sent(SAM).len();
        let id = api.deliver(update);
        let seen = |api: &BotApi| match moment {
            Moment::Confirmed => shown_since(api, before, says) && api.is_confirmed(id),
            Moment::Answered => shown_since(api, before, says),
            Moment::Fetched => api.is_fetched(id),
        };
        api.until(&format!("{moment:?}: {update}"), seen).await;
        self.program.kill();
        let answered = self.bench.answered(self.job).await;
        let before = api.sent(SAM).len();
        self.program = self.bench.serve();
        // Nothing of before is asked for again, and what was not confirmed comes once more.
        api.until(
            &format!("the screen comes again after {moment:?} of {update}"),
            |api| {
                api.is_confirmed(id)
                    && api.sent(SAM)[before..]
                        .iter()
                        .any(|sent| sent.text.starts_with("The server was away for a moment."))
                    && shown_since(api, before, says)
            },
        )
        .await;
        (self, answered)
    }
}

/// Whether a message that came later shows this.
fn shown_since(api: &BotApi, before: usize, says: &str) -> bool {
    let shows = |sent: &Sent| sent.text.contains(says);
    api.sent(SAM).split_off(before).iter().any(shows)
}

#[tokio::test]
async fn a_chat_goes_on_where_it_was_whenever_the_server_is_killed() {
    let moments = [Moment::Confirmed, Moment::Fetched, Moment::Answered];
    let mut walk = Walk::begin().await;
    for (at, (step, _)) in STEPS.into_iter().enumerate() {
        let update = walk.answer(step).await;
        let moment = moments[at % moments.len()];
        let (again, answered) = walk.kill_at(moment, &update, next_says(step)).await;
        walk = again;
        match moment {
            // It had not to be there yet, but not in part either.
            Moment::Fetched => assert_eq!(answered, first(answered.len())),
            Moment::Confirmed | Moment::Answered => assert_eq!(answered, first(at + 1)),
        }
        assert!((at..=at + 1).contains(&answered.len()), "{answered:?}");
    }
    let Walk {
        mut bench,
        program,
        job,
        ..
    } = walk;
    program.kill();
    assert_eq!(bench.answered(job).await, first(STEPS.len()), "each once");
    assert_eq!(bench.api.violations(), Vec::<String>::new());
}
