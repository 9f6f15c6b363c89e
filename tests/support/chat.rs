//! A person in a chat with the bot.

use fanwright::channel::lately::Pace;
use fanwright::channel::telegram::flood::FloodBounds;
use jiff::SignedDuration;
use serde_json::{Value, json};

use super::bot_api::{BotApi, Sent, bot_message};

/// How the bot answers a sticker.
const STICKER: &str = "I cannot use stickers or animations. Press a button or type the answer.";

/// How it answers a voice message.
const VOICE: &str = "I cannot listen to that. Type the answer, please.";

/// Bounds that nobody reaches: where time stands still, somebody who works quickly is a flood.
pub(crate) fn unbounded() -> FloodBounds {
    FloodBounds {
        person: Pace {
            times: i32::MAX,
            within: SignedDuration::from_mins(1),
        },
        waiting_max: usize::MAX,
    }
}

/// A person with a phone.
pub(crate) struct Chat {
    /// The server that both use.
    pub(crate) api: BotApi,
    /// The person's number, and that of the chat.
    pub(crate) user: i64,
    /// The first name that the phone shows.
    pub(crate) name: String,
    presses: u32,
}

impl Chat {
    /// A person of this number.
    pub(crate) fn new(api: &BotApi, user: i64, name: &str) -> Chat {
        Chat {
            api: api.clone(),
            user,
            name: name.to_owned(),
            presses: 0,
        }
    }

    /// Types a text and waits for the answer: all messages that came.
    pub(crate) async fn say(&mut self, text: &str) -> Vec<Sent> {
        let message = self.message(json!({ "text": text }));
        self.sends("message", message).await
    }

    /// Replies to the last message that asks for it.
    pub(crate) async fn reply(&mut self, text: &str) -> Vec<Sent> {
        let all = self.api.sent(self.user);
        let asked = all.iter().rev().find(|sent| sent.wants_reply);
        let asked = asked.expect("nothing asks for a reply");
        let to = bot_message(self.user, asked);
        let message = self.message(json!({ "text": text, "reply_to_message": to }));
        self.sends("message", message).await
    }

    /// Sends a photo.
    pub(crate) async fn photo(&mut self, bytes: Vec<u8>) -> Vec<Sent> {
        let content = self.photo_content(bytes);
        let message = self.message(content);
        self.sends("message", message).await
    }

    /// What a message with this photo holds.
    pub(crate) fn photo_content(&self, bytes: Vec<u8>) -> Value {
        let size = bytes.len();
        let file = self.api.file(bytes);
        let sized = |file: &str, side: u32, bytes: usize| {
            json!({
                "file_id": file, "file_unique_id": file, "file_size": bytes,
                "width": side, "height": side,
            })
        };
        json!({ "photo": [sized("thumbnail", 90, 900), sized(&file, 1280, size)] })
    }

    /// Presses the newest button whose label is this, opening “More” if it is hidden there.
    pub(crate) async fn press(&mut self, label: &str) -> Vec<Sent> {
        if self.find(label).is_none() && self.find("More").is_some() {
            self.press_once("More").await;
        }
        self.press_once(label).await
    }

    /// Ticks these, then presses the last button.
    pub(crate) async fn tick(&mut self, labels: &[&str], done: &str) -> Vec<Sent> {
        for label in labels {
            self.press_once(&format!("☐ {label}")).await;
        }
        self.press_once(done).await
    }

    /// The newest message with a button whose label is this.
    pub(crate) fn find(&self, label: &str) -> Option<(Sent, String)> {
        let all = self.api.sent(self.user);
        all.into_iter().rev().find_map(|sent| {
            let data = sent
                .buttons
                .iter()
                .find(|(text, _)| text == label)?
                .1
                .clone();
            Some((sent, data))
        })
    }

    async fn press_once(&mut self, label: &str) -> Vec<Sent> {
        let update = self.pressing(label);
        self.delivers(&update).await
    }

    /// The update of pressing the newest such button, not yet delivered.
    pub(crate) fn pressing(&mut self, label: &str) -> Value {
        let Some((sent, _)) = self.find(label) else {
            panic!("no button “{label}”; last: {:#?}", self.last());
        };
        self.pressing_on(sent.id, label)
    }

    /// The update of pressing this button of this message, not yet delivered.
    pub(crate) fn pressing_on(&mut self, message: i32, label: &str) -> Value {
        let all = self.api.sent(self.user);
        let sent = all.iter().find(|sent| sent.id == message).unwrap();
        let button = sent.buttons.iter().find(|(text, _)| text == label);
        let Some((_, data)) = button else {
            panic!("no button “{label}” on {sent:#?}");
        };
        self.presses += 1;
        let query = json!({
            "id": format!("press-{}-{}", self.user, self.presses), "from": self.from(),
            "chat_instance": "c", "data": data, "message": bot_message(self.user, sent),
        });
        self.api.update("callback_query", query)
    }

    /// The last message of the bot.
    pub(crate) fn last(&self) -> Sent {
        self.api.sent(self.user).pop().unwrap_or_default()
    }

    /// Sends any message and waits for the answer.
    pub(crate) async fn sends(&mut self, kind: &str, message: Value) -> Vec<Sent> {
        let update = self.api.update(kind, message);
        self.delivers(&update).await
    }

    /// Delivers an update and waits until the bot is through with it. Gives what came.
    pub(crate) async fn delivers(&mut self, update: &Value) -> Vec<Sent> {
        let before = self.api.sent(self.user).len();
        self.api.deliver(update);
        // The mark overtakes an emergency, which has a queue of its own.
        self.api.until_confirmed(update).await;
        let (mark, passed) = self.mark(update);
        self.api.deliver(&mark);
        self.through(update, passed).await;
        self.api.sent(self.user).split_off(before)
    }

    /// One more message, whose answer comes after everything that what was delivered before it
    /// brings to this chat; and how many such answers there were. It is of another kind than
    /// `update`, so that their answers are told apart.
    pub(crate) fn mark(&self, update: &Value) -> (Value, usize) {
        let (kind, answer) = match update["message"].get("sticker") {
            None => ("sticker", STICKER),
            Some(_) => ("voice", VOICE),
        };
        let passed = self.api.await_mark(self.user, answer);
        let message = self.message(json!({ kind: {
            "file_id": "mark", "file_unique_id": "mark", "file_size": 10, "duration": 1,
            "width": 10, "height": 10, "mime_type": "audio/ogg", "type": "regular",
            "is_animated": false, "is_video": false,
        } }));
        (self.api.update("message", message), passed)
    }

    /// Waits until the bot is through with an update, whose mark came after so many.
    pub(crate) async fn through(&self, update: &Value, passed: usize) {
        self.api.through(update, (self.user, passed)).await;
    }

    /// Waits until the bot is through with everything that was delivered for this chat.
    pub(crate) async fn settled(&self) {
        let (mark, passed) = self.mark(&Value::Null);
        self.api.deliver(&mark);
        self.through(&mark, passed).await;
    }

    /// The person as the platform names them.
    pub(crate) fn from(&self) -> Value {
        json!({ "id": self.user, "is_bot": false, "first_name": self.name })
    }

    /// A message of this person with this content.
    pub(crate) fn message(&self, content: Value) -> Value {
        let mut message = json!({
            "message_id": self.api.message_number(), "date": 1_900_000_000, "from": self.from(),
            "chat": { "id": self.user, "type": "private", "first_name": self.name },
        });
        for (name, value) in content.as_object().unwrap() {
            message[name] = value.clone();
        }
        message
    }
}
