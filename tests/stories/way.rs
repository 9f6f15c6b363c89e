//! The ways in which the people of a story can talk.

pub(crate) mod chats;
pub(crate) mod desk;
pub(crate) mod pages;
pub(crate) mod terminal;

use std::sync::Arc;

use fanwright::desk::screen::Screen;
use fanwright::desk::{Actor, Desk};
use fanwright::walk::input::Input;
use fanwright::walk::prompt::{Action, Ask};
use jiff::Timestamp;

use crate::desk::TestClock;

/// The smallest picture that a phone could send.
pub(crate) const PHOTO: &[u8] = include_bytes!("photo.png");

/// Where that picture is.
pub(crate) const PHOTO_PATH: &str = "tests/stories/photo.png";

/// The desk that everybody talks to, and its clock.
pub(crate) struct Floor {
    pub(crate) desk: Desk,
    pub(crate) clock: Arc<TestClock>,
}

impl Floor {
    pub(crate) fn now(&self) -> Timestamp {
        self.clock.0.lock().unwrap().0
    }
}

/// What a person does on a screen.
pub(crate) enum Deed {
    Input(Input),
    Photo,
}

/// A way to talk. What is meant is given; how it is pressed, typed and shown is the way's own.
pub(crate) trait Way: Sized {
    /// The channel that entries name.
    const CHANNEL: &'static str;

    /// Opens the way to this desk.
    async fn open(floor: &Floor) -> Self;

    /// A person whom the desk knows comes in.
    async fn come_in(&mut self, floor: &Floor, actor: &Actor);

    /// The person adds an evaporator and begins the job on it.
    async fn begin(&mut self, floor: &Floor, actor: &Actor);

    /// The person, who is shown this screen, does something on it. Gives what they are told.
    async fn does(&mut self, floor: &Floor, actor: &Actor, screen: &Screen, deed: Deed) -> String;

    /// The server was killed and came back with this desk.
    async fn comes_back(&mut self, floor: &Floor);

    /// The story is over.
    async fn close(self) {}
}

/// The first line of what a screen says: every way has to show it.
pub(crate) fn first_line(screen: &Screen) -> &str {
    screen.prompt.say.lines().next().unwrap_or_default()
}

/// The label of the button that gives this input on this screen; none for what is typed.
pub(crate) fn label(screen: &Screen, input: &Input) -> Option<String> {
    if let (Input::Press { key, .. }, Ask::Press(buttons)) = (input, &screen.prompt.ask) {
        let button = buttons.iter().find(|button| button.key == *key);
        return button.map(|button| button.label.clone());
    }
    action(screen, input).map(|action| action.label().to_owned())
}

/// The action of this screen that gives this input.
pub(crate) fn action(screen: &Screen, input: &Input) -> Option<Action> {
    let to_anybody = Input::HandOver(None);
    let input = match input {
        Input::HandOver(_) => &to_anybody,
        input => input,
    };
    let mut actions = screen.prompt.actions.iter().copied();
    actions.find(|action| action.input().as_ref() == Some(input))
}
