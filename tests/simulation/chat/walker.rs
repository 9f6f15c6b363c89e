//! Somebody in a chat: reads the newest screen, thinks, answers it, and waits for the next. Now and
//! then they type the same twice, because the chat is slow.

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

/// What is told of words that were typed before the question that is asked now.
const CAME_BEFORE: &str = "That came before this question.";

/// Whether a message tells that words had no effect.
pub(super) fn tells_of_early_words(sent: &Sent) -> bool {
    sent.text.starts_with(CAME_BEFORE)
}

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
    /// The message in which words were typed for it, the last of several.
    typed: Option<i32>,
    /// So often they expect to be told that words had no effect.
    expected: usize,
    /// How often words were typed twice.
    doubled: usize,
    /// How often they were typed again, since they had no effect.
    again: usize,
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

    /// How often they typed the same words twice.
    pub(super) fn doubled(&self) -> usize {
        self.state.lock().unwrap().doubled
    }

    /// How often they were told that words had no effect, and typed them again.
    pub(super) fn again(&self) -> usize {
        self.state.lock().unwrap().again
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

    /// Walks until they answered so many screens. Under `is_timed` every answer must come in time,
    /// and some words are typed twice.
    pub(super) async fn walk(&self, platform: Arc<SimPlatform>, acts: usize, is_timed: bool) {
        let mut changes = platform.changes();
        let mut since = Instant::now();
        if self.newest(&platform).is_none() {
            platform.types(self.chat, "/job");
        }
        loop {
            let waited = self.next_screen(&platform, &mut changes);
            let Ok(next) = tokio::time::timeout(PATIENCE, waited).await else {
                let told = format!("{} was left without the next question", self.chat);
                return self.state.lock().unwrap().wrong.push(told);
            };
            let Some((on, sent, at)) = next else {
                {
                    let mut state = self.state.lock().unwrap();
                    state.again += 1;
                    state.expected = state.expected.max(self.told(&platform));
                }
                since = Instant::now();
                self.types(&platform, 1);
                continue;
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
            self.answers(&platform, (on, &sent), is_timed);
        }
    }

    /// The first screen that is newer than what was answered; none if the words that were typed
    /// for that had no effect.
    async fn next_screen(
        &self,
        platform: &SimPlatform,
        changes: &mut tokio::sync::watch::Receiver<u64>,
    ) -> Option<(On, Sent, Instant)> {
        loop {
            let answered = self.state.lock().unwrap().answered;
            let newest = self.newest(platform);
            let is_new = |on: On| answered.is_none_or(|before| on.revision > before.revision);
            if let Some(newest) = newest.filter(|(on, ..)| is_new(*on)) {
                return Some(newest);
            }
            if self.is_asked_again(platform) {
                return None;
            }
            changes.changed().await.unwrap();
        }
    }

    /// Whether the question whose answer is awaited was asked again: all words that were typed for
    /// it came before it as far as the server knows, or the server was away since.
    fn is_asked_again(&self, platform: &SimPlatform) -> bool {
        let state = self.state.lock().unwrap();
        let Some(typed) = state.typed else {
            return false;
        };
        let shown = platform.shown(self.chat);
        let is_back = |sent: &Sent| {
            let mut carried = sent.buttons.iter();
            let on = carried.find_map(|(_, data)| screen_of(data));
            let is_away = sent.text.starts_with("The server was away");
            sent.id > typed && is_away && on == state.answered
        };
        self.told(platform) > state.expected || shown.iter().any(|shown| is_back(&shown.sent))
    }

    /// How often they were told that words had no effect.
    fn told(&self, platform: &SimPlatform) -> usize {
        let shown = platform.shown(self.chat).into_iter();
        shown.filter(|it| tells_of_early_words(&it.sent)).count()
    }

    fn answers(&self, platform: &SimPlatform, (on, sent): (On, &Sent), may_double: bool) {
        let choices: Vec<&str> = sent
            .buttons
            .iter()
            .map(|(_, data)| data.as_str())
            .filter(|data| matches!(Token::decode(data), Some(Token::Choose(..))))
            .collect();
        {
            let mut state = self.state.lock().unwrap();
            state.answered = Some(on);
            state.typed = None;
            state.acts += 1;
        }
        if !choices.is_empty() {
            // The first leads on and on; the last would end it.
            return platform.presses(self.chat, sent, choices[0]);
        }
        let times = match may_double && self.roll(3) == 0 {
            true => 2,
            false => 1,
        };
        {
            let mut state = self.state.lock().unwrap();
            state.doubled += times - 1;
            state.expected += times - 1;
        }
        self.types(platform, times);
    }

    /// Types the same words so often.
    fn types(&self, platform: &SimPlatform, times: usize) {
        let words = format!("{} V", 200 + self.roll(40));
        let typed = (0..times).map(|_| platform.types(self.chat, &words));
        let last = typed.last();
        self.state.lock().unwrap().typed = last;
    }
}
