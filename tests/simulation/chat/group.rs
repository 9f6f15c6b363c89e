//! A crew in a group of the chat: several people at one job press, answer and hand over as they
//! like, and one message says how it stands.

use std::sync::Arc;
use std::sync::atomic::Ordering;
use std::time::Duration;

use fanwright::channel::telegram::token::{On, Token};
use fanwright::desk::ChannelAddress;
use fanwright::walk::input::Input;
use fanwright::walk::prompt::Ask;

use super::super::base::address;
use super::super::life::Life;
use super::super::machine::SimClock;
use super::super::people::People;
use super::super::server::Server;
use super::super::world::World;
use super::platform::SimPlatform;
use super::serve_chats;
use crate::stories::screen_of;
use crate::support::bot_api::Sent;
use crate::walk::Dice;

/// The number of the group.
pub(crate) const GROUP: i64 = -4004;

/// So many half seconds without anything new are a calm.
const CALM: u32 = 30;

/// Nobody waits longer than so many half seconds.
const PATIENCE: u32 = 900;

/// The group in front of one process of the server.
pub(crate) struct Group {
    platform: Arc<SimPlatform>,
    people: Arc<People>,
    world: Arc<World>,
    life: Arc<Life>,
}

impl Group {
    /// Starts the channel of this process.
    pub(crate) fn begin(
        platform: &Arc<SimPlatform>,
        (people, world): (&Arc<People>, &Arc<World>),
        (life, clock): (&Arc<Life>, &Arc<SimClock>),
    ) -> Group {
        platform.meets_another();
        serve_chats(&people.desk, clock, platform);
        Group {
            platform: Arc::clone(platform),
            people: Arc::clone(people),
            world: Arc::clone(world),
            life: Arc::clone(life),
        }
    }

    /// Somebody opens their job in the group, or has it shown again below everything.
    pub(crate) async fn begins(&self, person: usize, dice: &mut Dice) {
        match chat_of(person) {
            Some(by) => {
                self.world.known().tally.updates += 1;
                self.platform.says_in(by, GROUP, ("/here", None));
            }
            None => self.people.begins(person, dice).await,
        }
    }

    pub(crate) async fn holder_acts(&self, dice: &mut Dice) {
        let Some((on, sent)) = self.any_room(dice) else {
            return;
        };
        if let Some(person) = self.people.whose_turn(on.job, dice).await {
            self.does(person, (on, &sent), dice).await;
        }
    }

    pub(crate) async fn acts(&self, person: usize, dice: &mut Dice) {
        if let Some((on, sent)) = self.any_room(dice) {
            self.does(person, (on, &sent), dice).await;
        }
    }

    /// Something that came before comes again.
    pub(crate) fn again(&self, dice: &mut Dice) {
        self.world.known().tally.again += 1;
        self.platform.repeats(dice.roll(usize::MAX));
    }

    pub(crate) fn offline(&self, seconds: u64) {
        self.platform.goes_offline(seconds);
    }

    /// A message that says how a job stands, mostly the one that changed last.
    fn any_room(&self, dice: &mut Dice) -> Option<(On, Sent)> {
        let mut shown = self.platform.shown(GROUP);
        shown.sort_by_key(|shown| shown.order);
        let rooms = shown.into_iter().filter_map(|shown| {
            let mut carried = shown.sent.buttons.iter();
            let on = carried.find_map(|(_, data)| screen_of(data))?;
            Some((on, shown.sent))
        });
        let rooms: Vec<(On, Sent)> = rooms.collect();
        let back = dice.roll(2) * dice.roll(rooms.len());
        rooms.into_iter().rev().nth(back)
    }

    /// Somebody answers what a message in the group shows, or does something in their own chat.
    async fn does(&self, person: usize, (on, sent): (On, &Sent), dice: &mut Dice) {
        let Some(by) = chat_of(person) else {
            return self.people.acts_on(person, on.job, dice).await;
        };
        self.world.known().tally.updates += 1;
        if dice.roll(6) == 0 {
            return self.in_their_own_chat(by, dice);
        }
        let seen = self.people.in_front_of(on.job, Some(person)).await;
        let Some((_, _, screen)) = seen else { return };
        let label = match self.people.mostly_sensible(&screen, dice) {
            Input::Text(text) => {
                self.notes(by, &text, (on, sent));
                let key = self.platform.says_in(by, GROUP, (&text, Some(sent)));
                return self.world.meant(key, Some((on.job, on.revision)));
            }
            Input::Press { key, .. } => match &screen.prompt.ask {
                Ask::Press(buttons) => {
                    let button = buttons.iter().find(|button| button.key == key);
                    button.map(|button| button.label.clone())
                }
                _ => None,
            },
            input => {
                let does = |data: &str| match Token::decode(data) {
                    Some(Token::Do(_, action)) => action.input().as_ref() == Some(&input),
                    _ => false,
                };
                let mut buttons = sent.buttons.iter();
                let button = buttons.find(|(_, data)| does(data));
                button.map(|(label, _)| label.clone())
            }
        };
        let mut buttons = sent.buttons.iter();
        let button = buttons.find(|(other, _)| Some(other) == label.as_ref());
        // What stands there by now is not on a message that was changed too late: they press that.
        let any = dice.roll(sent.buttons.len()) * (dice.roll(4) / 3);
        let (label, data) = button.unwrap_or(&sent.buttons[any]);
        self.notes(by, label, (on, sent));
        let key = self.platform.presses_in(by, GROUP, (sent, data));
        if let Some(Token::Choose(on, _)) = Token::decode(data) {
            self.world.meant(key, Some((on.job, on.revision)));
        }
    }

    fn notes(&self, by: i64, what: &str, (on, sent): (On, &Sent)) {
        let says = sent.text.lines().last().unwrap_or_default();
        let told = format!("{by} answers {} of {}, {says}: {what}", on.revision, on.job);
        self.world.note(&told);
    }

    fn in_their_own_chat(&self, by: i64, dice: &mut Dice) {
        let shown = self.platform.shown(by).into_iter().rev();
        let mut shown = shown.filter(|shown| !shown.sent.buttons.is_empty());
        match shown.next() {
            Some(shown) if dice.roll(4) > 0 => {
                let (_, data) = &shown.sent.buttons[dice.roll(shown.sent.buttons.len())];
                let key = self.platform.presses_in(by, by, (&shown.sent, data));
                if let Some(Token::Choose(on, _)) = Token::decode(data) {
                    self.world.meant(key, Some((on.job, on.revision)));
                }
            }
            Some(_) => {
                self.platform.types(by, "208 V");
            }
            None => {
                self.platform.types(by, "/job");
            }
        }
    }

    /// Waits until nothing happens any more; whether that came about.
    pub(crate) async fn quiet(&self) -> bool {
        let mut calm = 0;
        for _ in 0..PATIENCE {
            if self.life.has_stopped.load(Ordering::SeqCst) {
                return false;
            }
            let before = self.platform.stands();
            tokio::time::sleep(Duration::from_millis(500)).await;
            let is_calm = before.0
                && before == self.platform.stands()
                && self.people.nothing_is_under_way().await;
            calm = if is_calm { calm + 1 } else { 0 };
            if calm >= CALM {
                return true;
            }
        }
        false
    }

    /// Everybody sees how each job stands, and nobody anything else.
    pub(crate) async fn at_the_end(&self, server: &Server) {
        for broken in self.platform.violations() {
            self.world.wrong(broken);
        }
        let jobs = self.world.known().jobs.clone();
        let shown = self.platform.shown(GROUP);
        for job in jobs {
            let Ok(Some(room)) = server.desk.room_screen(job).await else {
                continue;
            };
            let number = room.room.message;
            let message = shown.iter().find(|shown| Some(shown.sent.id) == number);
            let stands = format!("Screen {}.", room.screen.prompt.revision);
            let says = message.map(|shown| shown.sent.text.as_str());
            if !says.is_some_and(|text| text.contains(&stands)) {
                let told = format!("the group does not see {stands} of {job}, but {says:?}");
                self.world.wrong(told);
            }
        }
    }
}

/// The chat of a person, if they have one.
fn chat_of(person: usize) -> Option<i64> {
    match address(person) {
        ChannelAddress::Telegram { chat, .. } => Some(chat),
        _ => None,
    }
}
