//! Somebody in a chat: reads the newest screen, thinks, answers it, and waits for the next.

use std::sync::{Arc, Mutex};
use std::time::Duration;

use fanwright::channel::telegram::token::{On, Token};
use tokio::time::Instant;

use crate::stories::screen_of;
use crate::support::bot_api::Sent;
use crate::walk::Dice;

use super::platform::SimPlatform;

/// Everybody has their next question so long after the last failure that held it up.
const NEXT_WITHIN: Duration = Duration::from_secs(2);

/// Nobody waits longer than this before they are called left alone.
const PATIENCE: Duration = Duration::from_secs(120);

/// A person in a chat, whichever process of the server answers.
pub(super) struct Walker {
    pub(super) chat: i64,
    dice: Mutex<Dice>,
    state: Mutex<State>,
}

#[derive(Default)]
struct State {
    /// The screen that was answered last.
    answered: Option<On>,
    acts: usize,
    longest: Duration,
    wrong: Vec<String>,
}

impl Walker {
    pub(super) fn new(chat: i64, seed: u64) -> Walker {
        Walker {
            chat,
            dice: Mutex::new(Dice::new(seed)),
            state: Mutex::default(),
        }
    }

    fn roll(&self, sides: usize) -> usize {
        self.dice.lock().unwrap().roll(sides)
    }

    /// How often they answered.
    pub(super) fn acts(&self) -> usize {
        self.state.lock().unwrap().acts
    }

    /// The longest that they waited after the last failure that held the answer up.
    pub(super) fn longest(&self) -> Duration {
        self.state.lock().unwrap().longest
    }

    pub(super) fn wrong(&self) -> Vec<String> {
        self.state.lock().unwrap().wrong.clone()
    }

    /// The newest screen in the chat.
    pub(super) fn newest(&self, platform: &SimPlatform) -> Option<(On, Sent, Instant)> {
        let shown = platform.shown(self.chat);
        let screens = shown.into_iter().filter_map(|shown| {
            let mut carried = shown.sent.buttons.iter();
            let on = carried.find_map(|(_, data)| screen_of(data))?;
            Some((on, shown.sent, shown.at))
        });
        // Of copies of a screen the first is what the person waited for.
        screens.reduce(|before, next| match next.0.revision > before.0.revision {
            true => next,
            false => before,
        })
    }

    /// Walks until they answered so many screens. Under `is_timed` every answer must come in time.
    pub(super) async fn walk(&self, platform: Arc<SimPlatform>, acts: usize, is_timed: bool) {
        let mut changes = platform.changes();
        let mut since = Instant::now();
        if self.newest(&platform).is_none() {
            platform.types(self.chat, "/job");
        }
        loop {
            let waited = self.next_screen(&platform, &mut changes);
            let Ok((on, sent, at)) = tokio::time::timeout(PATIENCE, waited).await else {
                let told = format!("{} was left without the next question", self.chat);
                return self.state.lock().unwrap().wrong.push(told);
            };
            let failed = platform.last_failure(self.chat, at);
            let from = failed.map_or(since, |failed| failed.max(since));
            let took = at.saturating_duration_since(from);
            {
                let mut state = self.state.lock().unwrap();
                state.longest = state.longest.max(took);
                if is_timed && took > NEXT_WITHIN {
                    let chat = self.chat;
                    let told = format!("{chat} waited {took:?} for {}", sent.text);
                    state.wrong.push(told);
                }
                if state.acts >= acts {
                    return;
                }
            }
            let thinks = Duration::from_millis(100 + self.roll(1_500) as u64);
            tokio::time::sleep(thinks).await;
            since = Instant::now();
            self.answers(&platform, on, &sent);
        }
    }

    /// The first screen that is newer than what was answered.
    async fn next_screen(
        &self,
        platform: &SimPlatform,
        changes: &mut tokio::sync::watch::Receiver<u64>,
    ) -> (On, Sent, Instant) {
        loop {
            let answered = self.state.lock().unwrap().answered;
            let newest = self.newest(platform);
            let is_new = |on: On| answered.is_none_or(|before| on.revision > before.revision);
            if let Some(newest) = newest.filter(|(on, ..)| is_new(*on)) {
                return newest;
            }
            changes.changed().await.unwrap();
        }
    }

    fn answers(&self, platform: &SimPlatform, on: On, sent: &Sent) {
        let choices: Vec<&str> = sent
            .buttons
            .iter()
            .map(|(_, data)| data.as_str())
            .filter(|data| matches!(Token::decode(data), Some(Token::Choose(..))))
            .collect();
        {
            let mut state = self.state.lock().unwrap();
            state.answered = Some(on);
            state.acts += 1;
        }
        match choices.is_empty() {
            true => platform.types(self.chat, &format!("{} V", 200 + self.roll(40))),
            // The first leads on and on; the last would end it.
            false => platform.presses(self.chat, sent, choices[0]),
        }
    }
}
