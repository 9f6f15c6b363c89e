//! In terminals, with piped input: every deed is a conversation of its own over the same data.

use std::io::Cursor;

use fanwright::channel::terminal::{Terminal, word_of};
use fanwright::desk::Actor;
use fanwright::desk::screen::Screen;
use fanwright::walk::input::Input;
use fanwright::walk::prompt::Ask;

use super::{Deed, Floor, PHOTO_PATH, Way, action, first_line};

/// A terminal for each person.
pub(crate) struct InTerminals {
    talks: u64,
}

impl InTerminals {
    /// Types these lines and gives everything that was shown.
    async fn types(&mut self, floor: &Floor, actor: &Actor, lines: &[String]) -> String {
        self.talks += 1;
        let mut input = Cursor::new(
            lines
                .iter()
                .map(|line| format!("{line}\n"))
                .collect::<String>(),
        );
        let mut output = Vec::new();
        let now = || floor.now();
        let terminal = Terminal::new(
            floor.desk.clone(),
            &actor.name,
            self.talks.to_string(),
            (&mut input, &mut output),
            &now,
        );
        terminal.talk().await.unwrap();
        String::from_utf8(output).unwrap()
    }

    /// Has the job at hand: whoever has none is shown a list.
    async fn look(&mut self, floor: &Floor, actor: &Actor) {
        if floor.desk.job_at_hand(actor).await.unwrap().is_none() {
            let shown = self.types(floor, actor, &[]).await;
            let number = number_of(&shown, "Corner Market");
            self.types(floor, actor, &[number]).await;
        }
    }
}

impl Way for InTerminals {
    const CHANNEL: &'static str = "terminal";

    async fn open(_: &Floor) -> Self {
        InTerminals { talks: 0 }
    }

    async fn come_in(&mut self, _: &Floor, _: &Actor) {}

    async fn begin(&mut self, floor: &Floor, actor: &Actor) {
        // The first flow, and no training walk.
        let lines = ["Corner Market", "EV-3", "meat cooler left", "", ""].map(str::to_owned);
        self.types(floor, actor, &lines).await;
    }

    async fn does(&mut self, floor: &Floor, actor: &Actor, screen: &Screen, deed: Deed) -> String {
        self.look(floor, actor).await;
        let mut lines = Vec::new();
        match deed {
            Deed::Photo => lines.push(PHOTO_PATH.to_owned()),
            Deed::Input(input) => {
                lines.push(line(screen, &input));
                if let Input::HandOver(Some(person)) = input {
                    let people = floor.desk.colleagues(actor).await.unwrap();
                    let to = people.iter().find(|line| line.person == person).unwrap();
                    let asked = self.types(floor, actor, &lines).await;
                    lines.push(number_of(&asked, &to.name));
                }
            }
        }
        let shown = self.types(floor, actor, &lines).await;
        assert!(shown.contains(first_line(screen)), "{shown}");
        shown
    }

    async fn comes_back(&mut self, _: &Floor) {}
}

/// What a person types for this input.
fn line(screen: &Screen, input: &Input) -> String {
    match (input, &screen.prompt.ask) {
        (Input::Press { key, .. }, Ask::Press(buttons)) => {
            let at = buttons.iter().position(|button| button.key == *key);
            (at.unwrap() + 1).to_string()
        }
        (Input::Tick { keys, .. }, Ask::Tick { .. }) if keys.is_empty() => "0".to_owned(),
        (Input::Tick { keys, .. }, Ask::Tick { options, .. }) => {
            let chosen = options.iter().enumerate();
            let chosen = chosen.filter(|(_, option)| keys.contains(&option.key));
            let numbers: Vec<String> = chosen.map(|(at, _)| (at + 1).to_string()).collect();
            numbers.join(" ")
        }
        (Input::Text(text), _) => text.clone(),
        (input, _) => format!("/{}", word_of(action(screen, input).unwrap()).unwrap()),
    }
}

/// The number of the line of a list that holds these words.
fn number_of(shown: &str, words: &str) -> String {
    let mut lines = shown.lines().filter(|line| line.contains(words));
    let line = lines.find_map(|line| line.trim_start().split_once(") "));
    line.unwrap_or_else(|| panic!("no line with {words} in\n{shown}"))
        .0
        .to_owned()
}
