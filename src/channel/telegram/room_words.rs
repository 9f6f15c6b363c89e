//! The sentences about jobs that are run in a group.

pub(super) const ROOM_OVER: &str = "That job is not run here any more.";

pub(super) const NO_ROOM_JOB: &str = "You have no job at hand that could be opened here. Its holder \
     or a supervisor sends /here.";

pub(super) const NO_OPEN_JOB: &str = "Nobody of the crew has a job that is open.";

pub(super) const WHICH_JOB_HERE: &str = "Which job is to be open to the crew here?";

pub(super) const IN_ITS_TOPIC: &str = "That job has a topic of its own here. It goes on there.";

/// A newer message takes the place of this one.
pub(super) const ROOM_BELOW: &str = "This job goes on in a newer message.";

pub(super) const ROOM_ENDED: &str = "This job is not open to the crew here any more.";

pub(super) const TOLD_PRIVATELY: &str = "I wrote it to you in our private chat.";

pub(super) const MORE_ANSWERS_PRIVATELY: &str =
    "Some of the answers have no room here. The holder has all of them in the private chat.";

pub(super) const TOO_LONG_HERE: &str =
    "What is asked now is too long for a group. The holder has it in the private chat.";

/// Who the person at the evaporator is.
pub(super) fn at_the_evaporator(name: &str) -> String {
    format!("At the evaporator: {name}")
}

/// Before the number of a screen.
const SCREEN: &str = "Screen ";

/// The number of a screen, by which a reply says what it answers.
pub(super) fn screen_number(revision: u64, is_typed: bool) -> String {
    match is_typed {
        true => format!("{SCREEN}{revision}. Answer as a reply to this message."),
        false => format!("{SCREEN}{revision}."),
    }
}

/// The number of the screen that a message shows, if it says one.
pub(super) fn screen_of(text: &str) -> Option<u64> {
    let numbered = text
        .lines()
        .rev()
        .find_map(|line| line.strip_prefix(SCREEN));
    let (number, _) = numbered?.split_once('.')?;
    number.parse().ok()
}
