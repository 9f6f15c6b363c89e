//! The platform of the chats, simulated: it loses, refuses, breaks and repeats, as much as it is
//! told to, and remembers what it showed to whom and when.

use std::collections::{BTreeMap, BTreeSet};
use std::io;
use std::sync::{Mutex, MutexGuard};
use std::time::Duration;

use fanwright::channel::telegram::token::Token;
use fanwright::channel::telegram::{Answered, Asked, Platform};
use fanwright::desk::id::JobId;
use fanwright::store::InputKey;
use serde_json::{Value, json};
use tokio::sync::watch;
use tokio::time::Instant;

use crate::stories::screen_of;
use crate::support::bot_api::{Sent, bot_message};
use crate::support::bot_api_limits::{plain_answer, violation};
use crate::walk::Dice;

/// How often things go wrong, in a thousand.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Luck {
    /// Calls that fail: refused for some seconds, a fault of the platform, lost on the way there,
    /// or carried out with the answer lost.
    pub(crate) fails: usize,
    /// Updates that are delivered once more.
    pub(crate) again: usize,
}

/// A message as it was shown.
#[derive(Clone, Debug)]
pub(crate) struct Shown {
    pub(crate) at: Instant,
    /// How many messages were shown or changed before.
    pub(crate) order: u64,
    pub(crate) sent: Sent,
}

/// A call that failed.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Failed {
    /// The chat that it was about; none if it was about all.
    pub(crate) chat: Option<i64>,
    /// When it was over, with the time that the platform asked to wait.
    pub(crate) until: Instant,
}

#[derive(Default)]
struct State {
    updates: BTreeMap<u32, Value>,
    /// Everything that was ever an update.
    came: Vec<Value>,
    again: Vec<(Instant, Value)>,
    /// Every call fails before this moment.
    offline_until: Option<Instant>,
    /// Presses in groups that choose an answer, and those that were told it counts.
    choosing: BTreeSet<String>,
    accepted: BTreeSet<String>,
    /// The newest screen of each job that anybody saw.
    seen: BTreeMap<JobId, u64>,
    last_update: u32,
    last_message: i32,
    shown: BTreeMap<i64, Vec<Shown>>,
    showings: u64,
    /// Messages that arrived while the bot could not know.
    unclear: BTreeMap<i64, usize>,
    failed: Vec<Failed>,
    violations: Vec<String>,
    calls: u64,
    repeated: u64,
    luck: Luck,
}

impl State {
    /// Somebody sees a message.
    fn sees(&mut self, sent: &Sent) {
        let on = sent.buttons.iter().filter_map(|(_, data)| screen_of(data));
        for on in on {
            let newest = self.seen.entry(on.job).or_default();
            *newest = on.revision.max(*newest);
        }
    }
}

/// The platform.
pub(crate) struct SimPlatform {
    state: Mutex<State>,
    dice: Mutex<Dice>,
    changed: watch::Sender<u64>,
}

/// What becomes of a call.
enum Turn {
    Fine,
    Wait(u64),
    Broken,
    LostBefore,
    LostAfter,
}

impl SimPlatform {
    pub(crate) fn new(seed: u64, luck: Luck) -> SimPlatform {
        SimPlatform {
            state: Mutex::new(State {
                last_update: 500,
                last_message: 10,
                luck,
                ..State::default()
            }),
            dice: Mutex::new(Dice::new(seed)),
            changed: watch::Sender::new(0),
        }
    }

    fn state(&self) -> MutexGuard<'_, State> {
        self.state.lock().unwrap()
    }

    fn roll(&self, sides: usize) -> usize {
        self.dice.lock().unwrap().roll(sides)
    }

    /// Nothing goes wrong from here on.
    pub(crate) fn behave(&self) {
        self.state().luck = Luck::default();
    }

    /// Another process of the bot begins.
    pub(crate) fn meets_another(&self) {
        let mut state = self.state();
        state.offline_until = None;
        let now = Instant::now();
        for (at, _) in &mut state.again {
            *at = now;
        }
    }

    /// Nothing gets through for so long.
    pub(crate) fn goes_offline(&self, seconds: u64) {
        self.state().offline_until = Some(Instant::now() + Duration::from_secs(seconds));
    }

    /// One of all updates comes once more.
    pub(crate) fn repeats(&self, roll: usize) {
        let mut state = self.state();
        if state.came.is_empty() {
            return;
        }
        let update = state.came[roll % state.came.len()].clone();
        state.again.push((Instant::now(), update));
        drop(state);
        self.touch();
    }

    /// Whether the bot has everything, and how much has happened so far.
    pub(crate) fn stands(&self) -> (bool, u64) {
        let state = self.state();
        let has_all = state.updates.is_empty() && state.again.is_empty();
        (has_all, *self.changed.borrow())
    }

    /// The newest screens that anybody saw, and the inputs that somebody was told count.
    pub(crate) fn promised(&self) -> (BTreeMap<JobId, u64>, Vec<InputKey>) {
        let state = self.state();
        let keys = state.accepted.iter();
        let keys = keys.map(|press| InputKey(format!("telegram:77:press:{press}")));
        (state.seen.clone(), keys.collect())
    }

    /// Told whenever something is shown or can be fetched.
    pub(crate) fn changes(&self) -> watch::Receiver<u64> {
        self.changed.subscribe()
    }

    fn touch(&self) {
        self.changed.send_modify(|count| *count += 1);
    }

    /// What a chat shows.
    pub(crate) fn shown(&self, chat: i64) -> Vec<Shown> {
        self.state().shown.get(&chat).cloned().unwrap_or_default()
    }

    /// How many messages to a chat arrived while the bot could not know.
    pub(crate) fn unclear(&self, chat: i64) -> usize {
        self.state().unclear.get(&chat).copied().unwrap_or_default()
    }

    /// The last failure that held up a chat before this moment.
    pub(crate) fn last_failure(&self, chat: i64, before: Instant) -> Option<Instant> {
        let state = self.state();
        let about = state
            .failed
            .iter()
            .filter(|failed| failed.chat.is_none_or(|of| of == chat));
        let ends = about.map(|failed| failed.until);
        ends.filter(|until| *until <= before).max()
    }

    /// Calls, failures, updates that came again.
    pub(crate) fn counts(&self) -> (u64, u64, u64) {
        let state = self.state();
        (state.calls, state.failed.len() as u64, state.repeated)
    }

    /// Requests that the true platform would have refused.
    pub(crate) fn violations(&self) -> Vec<String> {
        self.state().violations.clone()
    }

    /// Somebody does something in a chat; the number of their message, if it is one.
    pub(crate) fn delivers(
        &self,
        by: i64,
        content: impl FnOnce(i32) -> (&'static str, Value),
    ) -> i32 {
        let roll = self.roll(1_000);
        let later = Duration::from_millis(self.roll(4_000) as u64);
        let mut state = self.state();
        state.last_message += 1;
        state.last_update += 1;
        let (kind, mut content) = content(state.last_message);
        content["from"] = json!({ "id": by, "is_bot": false, "first_name": "Somebody" });
        let update = json!({ "update_id": state.last_update, kind: content });
        if roll < state.luck.again {
            state.again.push((Instant::now() + later, update.clone()));
        }
        state.came.push(update.clone());
        let (number, message) = (state.last_update, state.last_message);
        state.updates.insert(number, update);
        drop(state);
        self.touch();
        message
    }

    /// A press of this button of this message in their own chat.
    pub(crate) fn presses(&self, chat: i64, sent: &Sent, data: &str) {
        self.presses_in(chat, chat, (sent, data));
    }

    /// A press of this button of this message, by whomever; the key of what it brings.
    pub(crate) fn presses_in(&self, by: i64, chat: i64, (sent, data): (&Sent, &str)) -> InputKey {
        let message = bot_message(chat, sent);
        let number = self.delivers(by, |number| {
            let press = json!({
                "id": format!("press-{number}"), "chat_instance": "c", "data": data,
                "message": message,
            });
            ("callback_query", press)
        });
        let press = format!("press-{number}");
        let key = InputKey(format!("telegram:77:press:{press}"));
        if chat < 0 && matches!(Token::decode(data), Some(Token::Choose(..))) {
            self.state().choosing.insert(press);
        }
        key
    }

    /// A message in a group, perhaps as a reply to one of the bot; the key of what it brings.
    pub(crate) fn says_in(
        &self,
        by: i64,
        group: i64,
        (text, to): (&str, Option<&Sent>),
    ) -> InputKey {
        let to = to.map(|sent| bot_message(group, sent));
        let number = self.delivers(by, |number| {
            let mut message = json!({
                "message_id": number, "date": 1_900_000_000, "text": text,
                "chat": { "id": group, "type": "group", "title": "Crew talk" },
            });
            if let Some(to) = to {
                message["reply_to_message"] = to;
            }
            ("message", message)
        });
        InputKey(format!("telegram:77:message:{group}:{number}"))
    }

    /// A message with this text; gives its number.
    pub(crate) fn types(&self, chat: i64, text: &str) -> i32 {
        self.delivers(chat, |number| {
            let message = json!({
                "message_id": number, "date": 1_900_000_000, "text": text,
                "chat": { "id": chat, "type": "private", "first_name": "Somebody" },
            });
            ("message", message)
        })
    }

    async fn updates(&self, fields: &Value) -> Value {
        let offset = u32::try_from(fields["offset"].as_u64().unwrap_or(0)).unwrap();
        let held = Duration::from_secs(fields["timeout"].as_u64().unwrap_or(0));
        let mut changed = self.changed.subscribe();
        let until = Instant::now() + held;
        loop {
            let next = {
                let mut state = self.state();
                state.updates = state.updates.split_off(&offset);
                let now = Instant::now();
                let again = std::mem::take(&mut state.again);
                let (due, later) = again.into_iter().partition(|(at, _)| *at <= now);
                state.again = later;
                let due: Vec<(Instant, Value)> = due;
                state.repeated += due.len() as u64;
                let mut found: Vec<Value> = due.into_iter().map(|(_, update)| update).collect();
                found.extend(state.updates.values().take(100).cloned());
                if !found.is_empty() {
                    return json!(found);
                }
                state.again.iter().map(|(at, _)| *at).min()
            };
            let wake = next.map_or(until, |next| next.min(until));
            tokio::select! {
                biased;
                heard = changed.changed() => heard.unwrap(),
                () = tokio::time::sleep_until(wake) => {
                    if Instant::now() >= until {
                        return json!([]);
                    }
                }
            }
        }
    }

    fn turn(&self) -> Turn {
        let (fails, offline) = {
            let state = self.state();
            (state.luck.fails, state.offline_until)
        };
        if offline.is_some_and(|until| until > Instant::now()) {
            return match self.roll(3) {
                0 => Turn::LostBefore,
                1 => Turn::LostAfter,
                _ => Turn::Broken,
            };
        }
        if self.roll(1_000) >= fails {
            return Turn::Fine;
        }
        match self.roll(4) {
            0 => Turn::Wait(1 + self.roll(3) as u64),
            1 => Turn::Broken,
            2 => Turn::LostBefore,
            _ => Turn::LostAfter,
        }
    }

    fn failed(&self, chat: Option<i64>, wait: u64) {
        let until = Instant::now() + Duration::from_secs(wait);
        // Whoever is asked to wait may have to wait with everything.
        let chat = chat.filter(|_| wait == 0);
        self.state().failed.push(Failed { chat, until });
    }

    /// Carries a call out.
    fn carry_out(&self, method: &str, fields: &Value) -> Result<Value, String> {
        if let Some(wrong) = violation(method, fields) {
            self.state().violations.push(format!("{method}: {wrong}"));
            return Err(format!("Bad Request: {wrong}"));
        }
        let chat = fields["chat_id"].as_i64().unwrap_or_default();
        let done = match method {
            "sendmessage" => Ok(self.send(chat, fields)),
            "editmessagetext" | "editmessagereplymarkup" if chat < 0 => self.edit(chat, fields),
            "editmessagereplymarkup" => Ok(json!(true)),
            "answercallbackquery" => {
                self.accepts(fields);
                Ok(json!(true))
            }
            other => plain_answer(other).ok_or_else(|| format!("Not Found: {other}")),
        };
        self.touch();
        done
    }

    /// A press that is answered without a word counts.
    fn accepts(&self, fields: &Value) {
        let press = fields["callback_query_id"].as_str().unwrap_or_default();
        let mut state = self.state();
        if fields["text"].is_null() && state.choosing.contains(press) {
            state.accepted.insert(press.to_owned());
        }
    }

    /// Changes a message where it stands.
    fn edit(&self, chat: i64, fields: &Value) -> Result<Value, String> {
        let id = fields["message_id"].as_i64();
        let mut state = self.state();
        state.showings += 1;
        let order = state.showings;
        let shown = state.shown.entry(chat).or_default().iter_mut();
        let mut shown = shown.filter(|shown| Some(i64::from(shown.sent.id)) == id);
        let shown = shown
            .next()
            .ok_or("Bad Request: message to edit not found")?;
        shown.sent.edited(fields)?;
        (shown.at, shown.order) = (Instant::now(), order);
        let sent = shown.sent.clone();
        state.sees(&sent);
        Ok(bot_message(chat, &sent))
    }

    fn send(&self, chat: i64, fields: &Value) -> Value {
        let mut state = self.state();
        state.last_message += 1;
        let sent = Sent::of(state.last_message, "text", fields);
        let answer = bot_message(chat, &sent);
        let at = Instant::now();
        state.sees(&sent);
        state.showings += 1;
        let order = state.showings;
        let shown = state.shown.entry(chat).or_default();
        shown.push(Shown { at, order, sent });
        answer
    }
}

impl Platform for SimPlatform {
    fn answer(&self, asked: Asked) -> Answered<'_> {
        Box::pin(async move {
            let method = asked.method.to_ascii_lowercase();
            let fields = asked.fields.read();
            let chat = match method.as_str() {
                "sendmessage" | "editmessagetext" => fields["chat_id"].as_i64(),
                // Nobody waits for these.
                "answercallbackquery" | "editmessagereplymarkup" | "setmessagereaction" => Some(0),
                _ => None,
            };
            self.state().calls += 1;
            let millis = 3 + self.roll(60) as u64;
            tokio::time::sleep(Duration::from_millis(millis)).await;
            let turn = self.turn();
            match turn {
                Turn::Fine | Turn::LostAfter => {}
                Turn::Wait(seconds) => {
                    self.failed(chat, seconds);
                    let more = json!({ "retry_after": seconds });
                    return Ok(refused("Too Many Requests: retry later", more));
                }
                Turn::Broken => {
                    self.failed(chat, 0);
                    return Ok(refused("Internal Server Error", Value::Null));
                }
                Turn::LostBefore => {
                    self.failed(chat, 0);
                    return Err(lost());
                }
            }
            let done = match method.as_str() {
                "getupdates" => Ok(self.updates(&fields).await),
                method => self.carry_out(method, &fields),
            };
            if let Turn::LostAfter = turn {
                self.failed(chat, 0);
                if method == "sendmessage" {
                    let mut state = self.state();
                    *state.unclear.entry(chat.unwrap_or_default()).or_default() += 1;
                }
                return Err(lost());
            }
            Ok(match done {
                Ok(result) => json!({ "ok": true, "result": result }).to_string(),
                Err(why) => refused(&why, Value::Null),
            })
        })
    }
}

fn refused(why: &str, parameters: Value) -> String {
    let mut answer = json!({ "ok": false, "description": why });
    if !parameters.is_null() {
        answer["parameters"] = parameters;
    }
    answer.to_string()
}

fn lost() -> io::Error {
    io::Error::from(io::ErrorKind::ConnectionReset)
}
