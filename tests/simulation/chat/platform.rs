//! The platform of the chats, simulated: it loses, refuses, breaks and repeats, as much as it is
//! told to, and remembers what it showed to whom and when.

use std::collections::BTreeMap;
use std::io;
use std::sync::{Mutex, MutexGuard};
use std::time::Duration;

use fanwright::channel::telegram::{Answered, Asked, Platform};
use serde_json::{Value, json};
use tokio::sync::watch;
use tokio::time::Instant;

use crate::support::bot_api::{Sent, bot_message};
use crate::support::bot_api_limits::{buttons, plain_answer, read_html, violation};
use crate::walk::Dice;

/// How often things go wrong, in a thousand.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Luck {
    /// Calls that fail: refused for some seconds, a fault of the platform, lost on the way there,
    /// or carried out with the answer lost.
    pub(super) fails: usize,
    /// Updates that are delivered once more.
    pub(super) again: usize,
}

/// A message as it was shown.
#[derive(Clone, Debug)]
pub(super) struct Shown {
    pub(super) at: Instant,
    pub(super) sent: Sent,
}

/// A call that failed.
#[derive(Clone, Copy, Debug)]
pub(super) struct Failed {
    /// The chat that it was about; none if it was about all.
    pub(super) chat: Option<i64>,
    /// When it was over, with the time that the platform asked to wait.
    pub(super) until: Instant,
}

#[derive(Default)]
struct State {
    updates: BTreeMap<u32, Value>,
    again: Vec<(Instant, Value)>,
    last_update: u32,
    last_message: i32,
    shown: BTreeMap<i64, Vec<Shown>>,
    /// Messages that arrived while the bot could not know.
    unclear: BTreeMap<i64, usize>,
    failed: Vec<Failed>,
    violations: Vec<String>,
    calls: u64,
    repeated: u64,
    luck: Luck,
}

/// The platform.
pub(super) struct SimPlatform {
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
    pub(super) fn new(seed: u64, luck: Luck) -> SimPlatform {
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
    pub(super) fn behave(&self) {
        self.state().luck = Luck::default();
    }

    /// Told whenever something is shown or can be fetched.
    pub(super) fn changes(&self) -> watch::Receiver<u64> {
        self.changed.subscribe()
    }

    fn touch(&self) {
        self.changed.send_modify(|count| *count += 1);
    }

    /// What a chat shows.
    pub(super) fn shown(&self, chat: i64) -> Vec<Shown> {
        self.state().shown.get(&chat).cloned().unwrap_or_default()
    }

    /// How many messages to a chat arrived while the bot could not know.
    pub(super) fn unclear(&self, chat: i64) -> usize {
        self.state().unclear.get(&chat).copied().unwrap_or_default()
    }

    /// The last failure that held up a chat before this moment.
    pub(super) fn last_failure(&self, chat: i64, before: Instant) -> Option<Instant> {
        let state = self.state();
        let about = state
            .failed
            .iter()
            .filter(|failed| failed.chat.is_none_or(|of| of == chat));
        let ends = about.map(|failed| failed.until);
        ends.filter(|until| *until <= before).max()
    }

    /// Calls, failures, updates that came again.
    pub(super) fn counts(&self) -> (u64, u64, u64) {
        let state = self.state();
        (state.calls, state.failed.len() as u64, state.repeated)
    }

    /// Requests that the true platform would have refused.
    pub(super) fn violations(&self) -> Vec<String> {
        self.state().violations.clone()
    }

    /// Somebody does something in a chat.
    pub(super) fn delivers(&self, chat: i64, content: impl FnOnce(i32) -> (&'static str, Value)) {
        let roll = self.roll(1_000);
        let later = Duration::from_millis(self.roll(4_000) as u64);
        let mut state = self.state();
        state.last_message += 1;
        state.last_update += 1;
        let (kind, mut content) = content(state.last_message);
        content["from"] = json!({ "id": chat, "is_bot": false, "first_name": "Somebody" });
        let update = json!({ "update_id": state.last_update, kind: content });
        if roll < state.luck.again {
            state.again.push((Instant::now() + later, update.clone()));
        }
        let number = state.last_update;
        state.updates.insert(number, update);
        drop(state);
        self.touch();
    }

    /// A press of this button of this message.
    pub(super) fn presses(&self, chat: i64, sent: &Sent, data: &str) {
        let message = bot_message(chat, sent);
        self.delivers(chat, |number| {
            let press = json!({
                "id": format!("press-{number}"), "chat_instance": "c", "data": data,
                "message": message,
            });
            ("callback_query", press)
        });
    }

    /// A message with this text.
    pub(super) fn types(&self, chat: i64, text: &str) {
        self.delivers(chat, |number| {
            let message = json!({
                "message_id": number, "date": 1_900_000_000, "text": text,
                "chat": { "id": chat, "type": "private", "first_name": "Somebody" },
            });
            ("message", message)
        });
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
        let fails = self.state().luck.fails;
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
            "editmessagereplymarkup" | "answercallbackquery" => Ok(json!(true)),
            other => plain_answer(other).ok_or_else(|| format!("Not Found: {other}")),
        };
        self.touch();
        done
    }

    fn send(&self, chat: i64, fields: &Value) -> Value {
        let mut state = self.state();
        state.last_message += 1;
        let html = fields["text"].as_str().unwrap_or_default().to_owned();
        let sent = Sent {
            id: state.last_message,
            text: read_html(&html).unwrap_or_else(|_| html.clone()),
            html,
            buttons: buttons(&fields["reply_markup"]),
            ..Sent::default()
        };
        let answer = bot_message(chat, &sent);
        let at = Instant::now();
        let shown = state.shown.entry(chat).or_default();
        shown.push(Shown { at, sent });
        answer
    }
}

impl Platform for SimPlatform {
    fn answer(&self, asked: Asked) -> Answered<'_> {
        Box::pin(async move {
            let method = asked.method.to_ascii_lowercase();
            let chat = match method.as_str() {
                "sendmessage" => asked.fields["chat_id"].as_i64(),
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
                "getupdates" => Ok(self.updates(&asked.fields).await),
                method => self.carry_out(method, &asked.fields),
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
