//! Somebody who works in a chat as fast as the answers come.

use fanwright::channel::telegram::token::Token;
use fanwright::desk::id::JobId;
use fanwright::store::InputKey;
use serde_json::{Value, json};
use tokio::sync::watch;

use super::account::Shared;
use super::dice::Dice;
use super::site::Comer;
use crate::support::bot_api::{BotApi, Sent, TOKEN};
use crate::support::chat::Chat;

pub(super) struct Chatter {
    chat: Chat,
    tag: String,
    account: Shared,
    dice: Dice,
    /// Changes whenever the program was started again.
    life: watch::Receiver<u64>,
    words: usize,
}

/// What somebody does next.
struct Does {
    update: Value,
    /// What its input is called, if it must be known as handled once it is confirmed.
    native: Option<String>,
}

impl Chatter {
    pub(super) fn new(
        api: &BotApi,
        comer: &Comer,
        account: &Shared,
        (dice, life): (Dice, watch::Receiver<u64>),
    ) -> Chatter {
        let fanwright::desk::ChannelAddress::Telegram { user, .. } = comer.address else {
            panic!("{} is not in a chat", comer.name)
        };
        Chatter {
            chat: Chat::new(api, user, &comer.name),
            tag: comer.tag.clone(),
            account: account.clone(),
            dice,
            life,
            words: 0,
        }
    }

    /// Works until the task is ended.
    pub(super) async fn works(mut self) {
        let mut does = self.says("/job");
        loop {
            let (before, _) = self.chat.api.newest(self.chat.user);
            self.life.mark_unchanged();
            self.delivers(does);
            let comes = self.comes(before);
            let mut life = self.life.clone();
            tokio::select! {
                () = comes => {}
                changed = life.changed() => changed.unwrap(),
            }
            let (after, newest) = self.chat.api.newest(self.chat.user);
            does = if after > before {
                self.looks(&newest);
                self.next(&newest)
            } else if self.is_at_a_step() && !self.dice.one_in(3) {
                // The screen comes by itself, or the answer to what was delivered.
                self.comes(before).await;
                let (_, newest) = self.chat.api.newest(self.chat.user);
                self.looks(&newest);
                self.next(&newest)
            } else {
                self.says("/job")
            };
        }
    }

    /// Something came after so many messages.
    async fn comes(&self, before: usize) {
        let user = self.chat.user;
        let api = &self.chat.api;
        api.until("an answer comes", |api| api.newest(user).0 > before)
            .await;
    }

    fn is_at_a_step(&self) -> bool {
        let (_, newest) = self.chat.api.newest(self.chat.user);
        newest.text.contains("What do you see") || newest.text.contains("Does fan")
    }

    /// Books what a message shows: the job stands there for good.
    ///
    /// Which words brought it there is not booked. What was typed at an earlier screen may still
    /// wait for the bot, and goes on from this one as well.
    fn looks(&self, newest: &Sent) {
        let Some((job, revision)) = screen_of(newest) else {
            return;
        };
        self.account.lock().sees(job, revision);
        self.account.counts();
    }

    /// What is done about the newest message.
    fn next(&mut self, newest: &Sent) -> Does {
        let has = |label: &str| newest.buttons.iter().any(|(text, _)| text.contains(label));
        if newest.text.contains("What do you see") {
            return self.types(newest);
        }
        // Words that had no effect: the question stands above, or is shown again.
        let is_told = ["That came before", "That stood under another job"]
            .iter()
            .any(|told| newest.text.starts_with(told));
        if is_told && newest.buttons.is_empty() {
            return self.says("/job");
        }
        let label = if newest.text.contains("Does fan") {
            ["It turns", "It stands"][self.dice.below(2) as usize].to_owned()
        } else if has("Hand the job in") {
            "Hand the job in".to_owned()
        } else if has(&self.tag) {
            self.account.lock().begins += 1;
            self.tag.clone()
        } else {
            return self.says(&format!("/new {}", self.tag));
        };
        self.answers(newest);
        let mut buttons = newest.buttons.iter();
        let found = buttons.find(|(text, _)| text.contains(&label));
        let (text, _) = found.unwrap_or_else(|| panic!("no {label}: {newest:#?}"));
        let update = self.chat.pressing_on(newest.id, text);
        let press = update["callback_query"]["id"].as_str().unwrap();
        let native = format!("press:{press}");
        // All presses on one message begin the same job, under a key of their own.
        Does {
            native: (label != self.tag).then_some(native),
            update,
        }
    }

    fn types(&mut self, newest: &Sent) -> Does {
        self.words += 1;
        let text = format!("{} saw {}", self.tag, self.words);
        self.answers(newest);
        let Does { update, .. } = self.says(&text);
        let message = update["message"]["message_id"].as_i64().unwrap();
        self.account.lock().typed.insert(text);
        Does {
            native: Some(format!("message:{}:{message}", self.chat.user)),
            update,
        }
    }

    /// Counts an answer to a step.
    fn answers(&self, newest: &Sent) {
        if screen_of(newest).is_some() {
            self.account.lock().answers += 1;
        }
    }

    fn delivers(&self, does: Does) {
        let id = self.chat.api.deliver_as_next(does.update);
        if let Some(native) = does.native {
            let number = TOKEN.split(':').next().unwrap();
            let key = InputKey(format!("telegram:{number}:{native}"));
            self.account.lock().unconfirmed.insert(id, key);
        }
    }

    fn says(&self, text: &str) -> Does {
        let message = self.chat.message(json!({ "text": text }));
        Does {
            update: self.chat.api.update("message", message),
            native: None,
        }
    }
}

/// The job and the revision that the buttons of a message stand for.
fn screen_of(sent: &Sent) -> Option<(JobId, u64)> {
    sent.buttons
        .iter()
        .find_map(|(_, data)| match Token::decode(data)? {
            Token::Choose(on, _) | Token::Do(on, _) | Token::More(on, _) => {
                Some((on.job, on.revision))
            }
            _ => None,
        })
}
