//! In Telegram chats, over a Bot API server of our own that minds the platform's limits.

use std::collections::BTreeMap;
use std::sync::Arc;

use fanwright::channel::telegram::token::{On, Token};
use fanwright::channel::telegram::{BotToken, Settings, Telegram};
use fanwright::desk::Actor;
use fanwright::desk::id::JobId;
use fanwright::desk::screen::Screen;
use fanwright::walk::input::Input;
use fanwright::walk::prompt::Ask;
use tokio_util::sync::CancellationToken;

use super::{Deed, Floor, PHOTO, Way, first_line, label};
use crate::support::bot_api::{BotApi, Sent, TOKEN};
use crate::support::chat::{Chat, unbounded};

/// The channel and a phone for each person.
pub(crate) struct InChats {
    api: BotApi,
    chats: BTreeMap<String, Chat>,
    shutdown: CancellationToken,
    running: tokio::task::JoinHandle<()>,
}

fn run(api: &BotApi, floor: &Floor) -> (CancellationToken, tokio::task::JoinHandle<()>) {
    let settings = Settings {
        token: BotToken(TOKEN.to_owned()),
        api_url: Some(api.url.clone()),
        webhook_url: None,
        send_rate: None,
        clock: Arc::clone(&floor.clock) as _,
    };
    let telegram = Telegram::new(floor.desk.clone(), settings).unwrap();
    let telegram = telegram.with_bounds(unbounded());
    let shutdown = CancellationToken::new();
    let until = shutdown.clone();
    let running = tokio::spawn(async move { telegram.run(until).await.unwrap() });
    (shutdown, running)
}

impl Way for InChats {
    const CHANNEL: &'static str = "telegram";

    async fn open(floor: &Floor) -> Self {
        let api = BotApi::start().await;
        let (shutdown, running) = run(&api, floor);
        InChats {
            api,
            chats: BTreeMap::new(),
            shutdown,
            running,
        }
    }

    async fn come_in(&mut self, floor: &Floor, actor: &Actor) {
        let code = floor.desk.sign_in_code(actor).await.unwrap().code;
        let user = 1001 + self.chats.len() as i64;
        let mut chat = Chat::new(&self.api, user, &actor.name);
        chat.say(&format!("/start {}", code.reveal())).await;
        self.chats.insert(actor.name.clone(), chat);
    }

    async fn begin(&mut self, floor: &Floor, actor: &Actor) {
        let chat = self.chats.get_mut(&actor.name).unwrap();
        chat.say("/new").await;
        chat.press(&floor.desk.flows(actor).await.unwrap()[0].title)
            .await;
        chat.reply("Corner Market, EV-3, meat cooler left").await;
    }

    async fn does(&mut self, floor: &Floor, actor: &Actor, screen: &Screen, deed: Deed) -> String {
        let people = floor.desk.colleagues(actor).await.unwrap();
        let chat = self.chats.get_mut(&actor.name).unwrap();
        let mut phone = Phone {
            on: On {
                job: screen.job,
                revision: screen.prompt.revision,
            },
            chat,
        };
        phone.look(screen).await;
        match (deed, &screen.prompt.ask) {
            (Deed::Photo, _) => {
                let content = phone.chat.photo_content(PHOTO.to_vec());
                phone.sends(content).await;
            }
            (Deed::Input(Input::Text(text)), _) => {
                phone.sends(serde_json::json!({ "text": text })).await;
            }
            (Deed::Input(Input::Tick { keys, .. }), Ask::Tick { options, done }) => {
                for option in options.iter().filter(|option| keys.contains(&option.key)) {
                    phone.presses(&format!("☐ {}", option.label)).await;
                }
                phone.presses(done).await;
            }
            (Deed::Input(input), _) => {
                let label = label(screen, &input).unwrap();
                if !phone.has(&label) {
                    phone.presses("More").await;
                }
                if let Input::HandOver(Some(person)) = input {
                    phone.presses(&label).await;
                    let to = people.iter().find(|line| line.person == person).unwrap();
                    let label = phone.label_of(|label| label.starts_with(&to.name));
                    phone.presses(&label).await;
                } else {
                    phone.presses(&label).await;
                }
            }
        }
        phone.chat.last().text
    }

    async fn comes_back(&mut self, floor: &Floor) {
        self.running.abort();
        self.shutdown.cancel();
        (self.shutdown, self.running) = run(&self.api, floor);
    }

    async fn close(self) {
        self.shutdown.cancel();
        self.running.await.unwrap();
        assert_eq!(self.api.violations(), Vec::<String>::new());
    }
}

/// A person's phone, with the screen that they are at.
struct Phone<'a> {
    chat: &'a mut Chat,
    on: On,
}

impl Phone<'_> {
    /// The newest button of the screen whose label fits: the message and the label.
    fn find(&self, fits: impl Fn(&str) -> bool) -> Option<(i32, String)> {
        let all = self.chat.api.sent(self.chat.user);
        all.iter().rev().find_map(|sent| {
            let mut buttons = sent.buttons.iter();
            let found = buttons.find(|(label, data)| on(data) == Some(self.on) && fits(label));
            Some((sent.id, found?.0.clone()))
        })
    }

    fn has(&self, label: &str) -> bool {
        self.find(|other| other == label).is_some()
    }

    fn label_of(&self, fits: impl Fn(&str) -> bool) -> String {
        self.find(fits)
            .unwrap_or_else(|| panic!("{:?}", self.chat.last()))
            .1
    }

    /// Has the screen in the chat: as it came, or by the list of jobs.
    async fn look(&mut self, screen: &Screen) {
        let has_buttons = |sent: &Sent| sent.buttons.iter().any(|(_, data)| on(data).is_some());
        if self.find(|_| true).is_none() {
            let list = self.chat.say("/jobs").await;
            let job = self.on.job;
            let shows = |sent: &Sent| {
                sent.buttons
                    .iter()
                    .find(|(_, data)| is_of(data, job))
                    .cloned()
            };
            let line = list
                .iter()
                .find_map(shows)
                .unwrap_or_else(|| panic!("{list:?}"))
                .0;
            self.chat.press(&line).await;
        }
        // News may have come after it, with a screen of before: they were on their way already.
        let all = self.chat.api.sent(self.chat.user);
        let is_on_it = |sent: &Sent| {
            let mut buttons = sent.buttons.iter();
            buttons.any(|(_, data)| on(data) == Some(self.on))
        };
        let newest = all.iter().rposition(is_on_it).unwrap();
        let (before, it) = (&all[..newest], &all[newest]);
        let is_shown = |sent: &Sent| sent.text.contains(first_line(screen));
        let mut parts = before
            .iter()
            .rev()
            .take_while(|sent| !has_buttons(sent) || is_on_it(sent));
        assert!(is_shown(it) || parts.any(is_shown), "{it:?}");
    }

    fn press(&mut self, label: &str) -> serde_json::Value {
        let (message, label) = self
            .find(|other| other == label)
            .unwrap_or_else(|| panic!("no “{label}” in {:#?}", self.chat.last()));
        self.chat.pressing_on(message, &label)
    }

    /// Presses a button, and sees what comes of it.
    async fn presses(&mut self, label: &str) {
        let press = self.press(label);
        self.chat.delivers(&press).await;
    }

    /// Sends a message, and sees what comes of it.
    async fn sends(&mut self, content: serde_json::Value) {
        let message = self.chat.message(content);
        self.chat.sends("message", message).await;
    }
}

/// The screen that a button stands on.
pub(crate) fn on(data: &str) -> Option<On> {
    match Token::decode(data)? {
        Token::Choose(on, _)
        | Token::Toggle(on, ..)
        | Token::Ticked(on, _)
        | Token::Keep(on)
        | Token::Do(on, _)
        | Token::More(on, _)
        | Token::HandOver(on, _)
        | Token::Close(on, _)
        | Token::Again(on, _) => Some(on),
        Token::Show(_)
        | Token::Begin(..)
        | Token::Add(_)
        | Token::New(_)
        | Token::Which(_)
        | Token::Diagram(_)
        | Token::Roles(..)
        | Token::Shown(..)
        | Token::LockOff(..)
        | Token::Shared(..)
        | Token::Try(..)
        | Token::Locate(..)
        | Token::Evaporator(_)
        | Token::Withdraw(_)
        | Token::Here(_)
        | Token::Photos(_) => None,
    }
}

fn is_of(data: &str, job: JobId) -> bool {
    Token::decode(data) == Some(Token::Show(job))
}
