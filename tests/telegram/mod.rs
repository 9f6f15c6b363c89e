//! The Telegram channel against a Bot API server of our own.

mod begin;
mod chart;
mod check_in;
mod dialogue;
mod evaporator;
mod faults;
mod flood;
mod flow;
mod fuzz;
mod groups;
mod handover;
mod inline;
mod labels;
mod location;
mod logs;
mod metrics;
mod oddities;
mod outsiders;
mod people;
mod photos;
mod proposal;
mod quiet;
mod receipt;
mod report;
mod room_story;
mod rooms;
mod served;
mod shared_flows;
mod shared_goods;
mod shared_orders;
mod sign_off;
mod stopping;
mod token_kinds;
mod topics;
mod typed;
mod way;
mod webhook;

use std::sync::Arc;

use fanwright::channel::telegram::flood::FloodBounds;
use fanwright::channel::telegram::{BotToken, Settings, Telegram};
use fanwright::desk::chance::SystemChance;
use fanwright::desk::clock::MachineClock;
use fanwright::desk::goods::StartingGoods;
use fanwright::desk::{Desk, Parts, Rules};
use fanwright::flow::library::{Library, Sources};
use fanwright::flow::model::Role;
use fanwright::store::{Memory, Store};
use tokio_util::sync::CancellationToken;

use crate::support::bot_api::{BotApi, TOKEN};
use crate::support::chat::{Chat, unbounded};
use crate::support::group_chat::GroupChat;

const PICTURE: &str = r##"<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 64 40">
<rect width="64" height="40" fill="#dfe5e1"/><text x="8" y="24">fan</text></svg>"##;

/// A server with the channel, and what it runs on.
struct World {
    api: BotApi,
    memory: Memory,
    desk: Desk,
    shutdown: CancellationToken,
    running: tokio::task::JoinHandle<()>,
}

fn desk_over(memory: &Memory, rules: Rules) -> Desk {
    Desk::new(parts(memory, rules))
}

fn parts(memory: &Memory, rules: Rules) -> Parts {
    let flow = include_str!("bench.yaml").to_owned();
    parts_with(memory, rules, vec![("look-at-the-fan.yaml", flow)])
}

/// A flow that proves one source dead, with one reading.
fn make_dead() -> String {
    include_str!("make-dead.yaml").to_owned()
}

fn parts_with(memory: &Memory, rules: Rules, flows: Vec<(&str, String)>) -> Parts {
    let mut sources = Sources::default();
    let flows = flows.into_iter();
    sources
        .files
        .extend(flows.map(|(file, text)| (file.to_owned(), text)));
    sources
        .pictures
        .insert("fan".to_owned(), PICTURE.to_owned());
    Parts {
        store: Arc::new(memory.clone()),
        clock: Arc::new(MachineClock::new()),
        chance: Arc::new(SystemChance),
        keys: crate::desk::keys(),
        library: Library::load(sources).unwrap(),
        goods: StartingGoods::default(),
        rules,
    }
}

fn settings(api: &BotApi) -> Settings {
    Settings {
        token: BotToken(TOKEN.to_owned()),
        api_url: Some(api.url.clone()),
        webhook_url: None,
        send_rate: None,
        clock: Arc::new(MachineClock::new()),
    }
}

impl World {
    async fn new() -> World {
        World::with(Rules::default()).await
    }

    async fn with(rules: Rules) -> World {
        let memory = Memory::new();
        World::over(BotApi::start().await, memory, rules).await
    }

    async fn over(api: BotApi, memory: Memory, rules: Rules) -> World {
        let parts = parts(&memory, rules);
        World::of(api, memory, parts).await
    }

    async fn of(api: BotApi, memory: Memory, parts: Parts) -> World {
        World::bounded(api, memory, (parts, FloodBounds::default())).await
    }

    /// One that takes in whatever somebody sends, however much it is.
    async fn patient() -> World {
        let (api, memory) = (BotApi::start().await, Memory::new());
        let parts = parts(&memory, Rules::default());
        World::bounded(api, memory, (parts, unbounded())).await
    }

    async fn bounded(api: BotApi, memory: Memory, (parts, bounds): (Parts, FloodBounds)) -> World {
        let desk = Desk::new(parts);
        desk.start().await.unwrap();
        let telegram = Telegram::new(desk.clone(), settings(&api)).unwrap();
        let telegram = telegram.with_bounds(bounds);
        let shutdown = CancellationToken::new();
        let until = shutdown.clone();
        let running = tokio::spawn(async move { telegram.run(until).await.unwrap() });
        World {
            api,
            memory,
            desk,
            shutdown,
            running,
        }
    }

    /// Ends the process without a good-bye and begins another over the same store.
    async fn crash(self) -> World {
        self.running.abort();
        self.shutdown.cancel();
        self.memory.close().await.unwrap();
        World::over(self.api, self.memory.reopen(), Rules::default()).await
    }

    fn chat(&self, user: i64, name: &str) -> Chat {
        Chat::new(&self.api, user, name)
    }

    /// A supervisor who joined by the first code.
    async fn supervisor(&self) -> Chat {
        let invitation = self.desk.first_supervisor_code().await.unwrap().unwrap();
        let mut chat = self.chat(1001, "Sam");
        chat.say(&format!("/start {}", invitation.code.reveal()))
            .await;
        chat
    }

    /// Somebody who joined the supervisor's crew in this role.
    async fn joined(&self, user: i64, name: &str, role: Role) -> Chat {
        let invitation = self.desk.invite_as_operator(None, [role].into());
        let invitation = invitation.await.unwrap();
        let mut chat = self.chat(user, name);
        chat.say(&format!("/start {}", invitation.code.reveal()))
            .await;
        chat
    }

    /// A supervisor of another crew.
    async fn of_another_crew(&self) -> Chat {
        let invitation = self.desk.invite_new_crew().await.unwrap();
        let mut chat = self.chat(7007, "Olga");
        chat.say(&format!("/start {}", invitation.code.reveal()))
            .await;
        chat
    }

    /// A group that is the crew's of this supervisor.
    async fn group_of(&self, supervisor: &Chat, number: i64) -> GroupChat {
        let group = GroupChat::new(&self.api, number);
        let told = group.says(supervisor, "/bind").await;
        assert!(told[0].text.contains("the group of your crew from now on"));
        group
    }

    /// A technician with a job at its first step.
    async fn at_work(&self) -> Chat {
        self.supervisor().await;
        let mut chat = self.joined(2002, "Toni", Role::Technician).await;
        chat.say("/new").await;
        chat.reply("Corner Market, EV-3, meat cooler left").await;
        chat
    }

    /// Ends in order; nothing that was sent broke a limit of the platform.
    async fn end(self) {
        self.shutdown.cancel();
        self.running.await.unwrap();
        assert_eq!(self.api.violations(), Vec::<String>::new());
    }
}

fn png() -> Vec<u8> {
    let mut bytes = std::io::Cursor::new(Vec::new());
    let picture = image::DynamicImage::new_rgb8(8, 8);
    picture
        .write_to(&mut bytes, image::ImageFormat::Png)
        .unwrap();
    bytes.into_inner()
}

fn labels(sent: &crate::support::bot_api::Sent) -> Vec<&str> {
    sent.buttons
        .iter()
        .map(|(label, _)| label.as_str())
        .collect()
}
