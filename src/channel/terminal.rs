//! The terminal: one person, one job at a time, also with piped input.
//!
//! A line answers the screen that was shown before it was read. A line that was typed ahead, or
//! piped in, is read only then: it answers the next screen, as in any program at a terminal.

mod begin;
mod besides;

use std::io::{BufRead, Write};

use jiff::Timestamp;

use super::lines::{self, LineRole};
use crate::desk::screen::{Outcome, Screen};
use crate::desk::{Actor, ChannelAddress, Desk, DeskError, Seen};
use crate::flow::name::ChoiceKey;
use crate::store::InputKey;
use crate::walk::input::Input;
use crate::walk::prompt::{Action, Ask, EMERGENCY, Tone};

/// What a person may do on a screen, by the word they type after a slash.
const ACTIONS: &[(&str, Action)] = &[
    ("back", Action::Back),
    ("pause", Action::Pause),
    ("resume", Action::Resume),
    ("stop", Action::Stop),
    ("hurt", Action::Emergency),
    ("handover", Action::HandOver),
    ("take", Action::TakeOver),
    ("keepjob", Action::KeepJob),
    ("supervisor", Action::CallSupervisor),
    ("why", Action::Why),
    ("how", Action::How),
    ("working", Action::Working),
    ("beside", Action::StandBeside),
    ("lift", Action::LiftStop),
    ("leave", Action::LeaveLockedOut),
    ("stay", Action::KeepWorking),
    ("mylock", Action::TakeOwnLockOff),
    ("lockon", Action::HangOwnLock),
    ("handin", Action::HandIn),
    ("open", Action::Share),
    ("close", Action::EndSharing),
    ("checkonme", Action::CheckOnMe),
    ("well", Action::AmWell),
    ("out", Action::AmOut),
    ("foundwell", Action::FoundWell),
];

/// Why the terminal ended before the person did.
#[derive(Debug, thiserror::Error)]
pub enum TerminalError {
    /// The desk said no, or has a fault.
    #[error(transparent)]
    Desk(#[from] DeskError),
    /// The terminal itself cannot be read or written.
    #[error("The terminal cannot be read or written: {0}. Check it and start again.")]
    Io(#[from] std::io::Error),
}

/// A conversation in a terminal.
pub struct Terminal<'a> {
    desk: Desk,
    address: ChannelAddress,
    input: &'a mut (dyn BufRead + Send),
    output: &'a mut (dyn Write + Send),
    now: &'a (dyn Fn() -> Timestamp + Sync),
    /// Tells the inputs of this conversation from those of every other.
    run: String,
    inputs: u64,
}

impl<'a> Terminal<'a> {
    /// A conversation of the person at `account`; `run` must differ from every other one's.
    pub fn new(
        desk: Desk,
        account: &str,
        run: String,
        streams: (&'a mut (dyn BufRead + Send), &'a mut (dyn Write + Send)),
        now: &'a (dyn Fn() -> Timestamp + Sync),
    ) -> Self {
        let address = ChannelAddress::Terminal {
            account: account.to_owned(),
        };
        Self {
            desk,
            address,
            input: streams.0,
            output: streams.1,
            now,
            run,
            inputs: 0,
        }
    }

    /// Talks until the person leaves or the input ends.
    ///
    /// # Errors
    /// When the desk has a fault, or the terminal is gone.
    pub async fn talk(mut self) -> Result<(), TerminalError> {
        let Some(actor) = self.come_in().await? else {
            return Ok(());
        };
        let mut job = match self.desk.job_at_hand(&actor).await? {
            Some(job) => job,
            None => match self.choose_job(&actor).await? {
                Some(job) => job,
                None => return Ok(()),
            },
        };
        loop {
            self.news(&actor).await?;
            let screen = self.desk.screen(&actor, job).await?;
            self.show(&screen)?;
            match self.exchange(&actor, &screen).await? {
                Next::Screen => {}
                Next::Jobs => {
                    let Some(next) = self.choose_job(&actor).await? else {
                        return Ok(());
                    };
                    job = next;
                }
                Next::Leave => return Ok(()),
            }
        }
    }

    fn key(&mut self) -> InputKey {
        self.inputs += 1;
        InputKey(format!("terminal:{}:{}", self.run, self.inputs))
    }

    fn say(&mut self, text: &str) -> Result<(), TerminalError> {
        writeln!(self.output, "{text}")?;
        Ok(())
    }

    /// Asks and reads one line; none when the input is over.
    fn ask(&mut self, text: &str) -> Result<Option<String>, TerminalError> {
        writeln!(self.output, "{text}")?;
        loop {
            write!(self.output, "> ")?;
            self.output.flush()?;
            let mut line = Vec::new();
            if self.input.read_until(b'\n', &mut line)? == 0 {
                writeln!(self.output)?;
                return Ok(None);
            }
            match std::str::from_utf8(&line) {
                Ok(line) => return Ok(Some(line.trim().to_owned())),
                Err(_) => writeln!(self.output, "{NO_TEXT}")?,
            }
        }
    }

    fn show(&mut self, screen: &Screen) -> Result<(), TerminalError> {
        let mut text = String::from("\n");
        for line in lines::lines(screen, (self.now)()) {
            let before = match line.role {
                LineRole::Training => "### ",
                LineRole::Where => "== ",
                LineRole::Note(Tone::Warning) => "!  ",
                LineRole::Note(Tone::Good) => "+  ",
                LineRole::Note(Tone::Plain) => "·  ",
                LineRole::Caution => "CAUTION: ",
                LineRole::Say | LineRole::HowTo => "",
                LineRole::Cite => "   [",
            };
            let after = if line.role == LineRole::Cite { "]" } else { "" };
            text.push_str(&format!("{before}{}{after}\n", line.text));
        }
        if let Some(picture) = &screen.prompt.picture {
            text.push_str(&format!("   (picture: {picture})\n"));
        }
        let buttons = match &screen.prompt.ask {
            Ask::Press(buttons)
            | Ask::Tick {
                options: buttons, ..
            } => buttons.as_slice(),
            _ => &[],
        };
        for (index, button) in buttons.iter().enumerate() {
            text.push_str(&format!("  {}) {}\n", index + 1, button.label));
        }
        if let Ask::Tick { done, .. } = &screen.prompt.ask {
            text.push_str(&format!(
                "  {done}: type the numbers, like 1 3, or 0 for none.\n"
            ));
        }
        if let Some(keep) = &screen.prompt.keep {
            text.push_str(&format!("  /keep  {keep}\n"));
        }
        let actions: Vec<String> = screen
            .prompt
            .actions
            .iter()
            .filter_map(|action| word_of(*action).map(|word| format!("/{word}")))
            .collect();
        text.push_str(&format!("  {}  /way  /jobs  /quit", actions.join("  ")));
        self.say(&text)
    }

    /// Reads one line and does what it says.
    async fn exchange(&mut self, actor: &Actor, screen: &Screen) -> Result<Next, TerminalError> {
        let Some(line) = self.ask("")? else {
            return Ok(Next::Leave);
        };
        if let Some(command) = line.strip_prefix('/') {
            return self.command(actor, screen, command).await;
        }
        let input = match &screen.prompt.ask {
            Ask::Press(buttons) => {
                let chosen = number(&line).and_then(|number| buttons.get(number - 1));
                match chosen {
                    Some(button) => Input::Press {
                        revision: screen.prompt.revision,
                        key: button.key.clone(),
                    },
                    None => Input::Text(line),
                }
            }
            Ask::Tick { options, .. } => {
                let keys: Option<Vec<ChoiceKey>> = if line == "0" {
                    Some(Vec::new())
                } else {
                    line.split([' ', ','])
                        .filter(|part| !part.is_empty())
                        .map(|part| Some(options.get(number(part)? - 1)?.key.clone()))
                        .collect()
                };
                match keys {
                    Some(keys) => Input::Tick {
                        revision: screen.prompt.revision,
                        keys,
                    },
                    None => Input::Text(line),
                }
            }
            Ask::Photo { .. } => return self.photo(actor, screen, &line).await,
            _ => Input::Text(line),
        };
        self.hand_over_the_counter(actor, screen, input).await
    }

    async fn hand_over_the_counter(
        &mut self,
        actor: &Actor,
        screen: &Screen,
        input: Input,
    ) -> Result<Next, TerminalError> {
        let (key, job) = (self.key(), screen.job);
        let seen = match input {
            // The job may have gone on elsewhere since its screen was shown here.
            Input::Text(_) | Input::Photo(_) => Seen::Question(screen.prompt.asked_since),
            _ => Seen::Anything,
        };
        let handled = self.desk.handle_seen(key, actor, job, (seen, input));
        let handled = handled.await?;
        if let Outcome::Refused(sentence) = handled.outcome {
            self.say(&sentence)?;
        }
        Ok(Next::Screen)
    }

    /// Asks to whom the job goes, and offers it to them.
    async fn hand_over(&mut self, actor: &Actor, screen: &Screen) -> Result<Next, TerminalError> {
        let people = self.desk.colleagues(actor).await?;
        let lines: Vec<String> = people
            .iter()
            .enumerate()
            .map(|(index, line)| format!("  {}) {}", index + 1, lines::person(line)))
            .collect();
        let question = format!(
            "To whom do you hand the job over?\n{}\n  0) Anybody of the crew\nType the number, or \
             Enter to keep the job.",
            lines.join("\n")
        );
        let Some(answer) = self.ask(&question)? else {
            return Ok(Next::Leave);
        };
        let to = match answer.parse::<usize>() {
            Ok(0) => None,
            Ok(number) if number <= people.len() => Some(people[number - 1].person),
            _ => {
                self.say("The job stays in your hands.")?;
                return Ok(Next::Screen);
            }
        };
        self.hand_over_the_counter(actor, screen, Input::HandOver(to))
            .await
    }

    async fn photo(
        &mut self,
        actor: &Actor,
        screen: &Screen,
        path: &str,
    ) -> Result<Next, TerminalError> {
        let bytes = match tokio::fs::read(path).await {
            Ok(bytes) => bytes,
            Err(why) => {
                self.say(&format!(
                    "“{path}” cannot be read: {why}. Type the path of a photo."
                ))?;
                return Ok(Next::Screen);
            }
        };
        match self.desk.take_photo(bytes).await {
            Ok(photo) => {
                self.hand_over_the_counter(actor, screen, Input::Photo(photo))
                    .await
            }
            Err(error) if error.is_fault() => Err(error.into()),
            Err(error) => {
                self.say(&error.to_string())?;
                Ok(Next::Screen)
            }
        }
    }

    async fn command(
        &mut self,
        actor: &Actor,
        screen: &Screen,
        command: &str,
    ) -> Result<Next, TerminalError> {
        match command {
            "quit" => return Ok(Next::Leave),
            "jobs" => return Ok(Next::Jobs),
            "way" => {
                let goes_on = self.way(actor).await?;
                return Ok(if goes_on { Next::Screen } else { Next::Leave });
            }
            "handover" if screen.prompt.actions.contains(&Action::HandOver) => {
                return self.hand_over(actor, screen).await;
            }
            "keep" => return self.hand_over_the_counter(actor, screen, Input::Keep).await,
            _ => {}
        }
        let action = ACTIONS
            .iter()
            .find(|(word, _)| *word == command)
            .map(|(_, action)| *action);
        let Some(action) = action.filter(|action| screen.prompt.actions.contains(action)) else {
            self.say("There is no such word here. Use one of those in the last line.")?;
            return Ok(Next::Screen);
        };
        if let Some(told) = lines::told_on_request(&screen.prompt, action) {
            self.say(&told)?;
            return Ok(Next::Screen);
        }
        if action == Action::Emergency {
            self.say(EMERGENCY)?;
        }
        let Some(input) = action.input() else {
            return Ok(Next::Screen);
        };
        self.hand_over_the_counter(actor, screen, input).await
    }
}

const NO_TEXT: &str = "That line is not UTF-8 text and has no effect. Type it again.";

/// What the terminal does after an exchange.
enum Next {
    Screen,
    Jobs,
    Leave,
}

/// The word that stands for an action, without its slash.
pub fn word_of(action: Action) -> Option<&'static str> {
    ACTIONS
        .iter()
        .find(|(_, other)| *other == action)
        .map(|(word, _)| *word)
}

/// A number from 1.
fn number(text: &str) -> Option<usize> {
    text.trim().parse().ok().filter(|number| *number > 0)
}
