//! A group in which people and the bot are.

use serde_json::{Value, json};

use super::bot_api::{BotApi, Sent, bot_message};
use super::chat::Chat;

/// What is sent behind an update, so that its answer comes after everything that the update
/// brings.
const MARK: &str = "/page@bench_bot";

/// How the bot answers that in a group.
const ANSWER: &str = "That works in a private chat with me: https://t.me/bench_bot.";

/// A group.
#[derive(Clone)]
pub(crate) struct GroupChat {
    api: BotApi,
    /// Its number, below nothing.
    pub(crate) id: i64,
    /// What it is called.
    pub(crate) title: String,
    /// The topic in which everything is said.
    pub(crate) topic: Option<i64>,
    /// Whether it has topics.
    pub(crate) is_forum: bool,
}

impl GroupChat {
    /// A group with this number.
    pub(crate) fn new(api: &BotApi, id: i64) -> GroupChat {
        GroupChat {
            api: api.clone(),
            id,
            title: "Night shift".to_owned(),
            topic: None,
            is_forum: false,
        }
    }

    /// The same group with topics, in this one.
    pub(crate) fn in_topic(&self, topic: Option<i64>) -> GroupChat {
        let mut group = self.clone();
        group.is_forum = true;
        group.topic = topic;
        group
    }

    /// Puts a file on the platform and gives its name there.
    pub(crate) fn file(&self, bytes: Vec<u8>) -> String {
        self.api.file(bytes)
    }

    /// The group as the platform names it.
    pub(crate) fn chat(&self) -> Value {
        match self.id < -1_000_000_000_000 {
            false => json!({ "id": self.id, "type": "group", "title": self.title }),
            true => json!({
                "id": self.id, "type": "supergroup", "title": self.title,
                "is_forum": self.is_forum,
            }),
        }
    }

    /// A message of this person with this content.
    pub(crate) fn message(&self, by: &Chat, content: Value) -> Value {
        let mut message = by.message(content);
        message["chat"] = self.chat();
        if let Some(topic) = self.topic {
            message["message_thread_id"] = json!(topic);
            message["is_topic_message"] = json!(true);
        }
        message
    }

    /// Says a text and waits for the answer: all messages that came.
    pub(crate) async fn says(&self, by: &Chat, text: &str) -> Vec<Sent> {
        self.sends(by, json!({ "text": text })).await
    }

    /// Sends a message with this content and waits for the answer.
    pub(crate) async fn sends(&self, by: &Chat, content: Value) -> Vec<Sent> {
        let update = self.api.update("message", self.message(by, content));
        self.delivers(by, &update).await
    }

    /// Answers a message of the bot.
    pub(crate) async fn replies(&self, by: &Chat, to: &Sent, text: &str) -> Vec<Sent> {
        let to = bot_message(self.id, to);
        let content = json!({ "text": text, "reply_to_message": to });
        self.sends(by, content).await
    }

    /// The update of pressing this button of this message, not yet delivered.
    pub(crate) fn pressing(&self, by: &Chat, on: &Sent, data: &str) -> Value {
        let query = json!({
            "id": format!("press-{}-{}", by.user, self.api.message_number()), "from": by.from(),
            "chat_instance": "g", "data": data, "message": bot_message(self.id, on),
        });
        self.api.update("callback_query", query)
    }

    /// Presses the newest button with this label; gives what came, and the small answer.
    pub(crate) async fn presses(&self, by: &Chat, label: &str) -> (Vec<Sent>, Option<String>) {
        let all = self.api.sent(self.id);
        let found = all.iter().rev().find_map(|sent| {
            let mut buttons = sent.buttons.iter();
            let (_, data) = buttons.find(|(text, _)| text == label)?;
            Some((sent, data.clone()))
        });
        let Some((sent, data)) = found else {
            panic!("no button “{label}”; in the group: {all:#?}");
        };
        let update = self.pressing(by, sent, &data);
        let came = self.delivers(by, &update).await;
        (came, self.answer_to(&update))
    }

    /// The small answer to a press.
    pub(crate) fn answer_to(&self, press: &Value) -> Option<String> {
        let id = press["callback_query"]["id"].as_str().unwrap();
        let answers = self.api.answers();
        let answer = answers.into_iter().find(|(of, _)| of == id);
        answer.unwrap_or_else(|| panic!("{id} was not answered")).1
    }

    /// The bot stands otherwise than before: `{ "status": "member" }` and the like.
    pub(crate) fn standing(&self, by: &Chat, before: Value, after: Value) -> Value {
        let bot = json!({
            "id": 77, "is_bot": true, "first_name": "Bench bot", "username": "bench_bot",
        });
        let (mut before, mut after) = (before, after);
        before["user"] = bot.clone();
        after["user"] = bot;
        let content = json!({
            "chat": self.chat(), "from": by.from(), "date": 1_900_000_000,
            "old_chat_member": before, "new_chat_member": after,
        });
        self.api.update("my_chat_member", content)
    }

    /// Delivers an update of this group and waits until the bot is through with it. Gives what
    /// came.
    pub(crate) async fn delivers(&self, by: &Chat, update: &Value) -> Vec<Sent> {
        let before = self.api.sent(self.id).len();
        self.api.deliver(update);
        self.api.until_confirmed(update).await;
        let passed = self.api.await_mark(self.id, ANSWER);
        let mark = self.message(by, json!({ "text": MARK }));
        let mark = self.api.update("message", mark);
        self.api.deliver(&mark);
        self.api.through(update, (self.id, passed)).await;
        self.api.sent(self.id).split_off(before)
    }
}
