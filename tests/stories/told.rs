//! The conversation as it is kept.

use fanwright::channel::lines::{self, LineRole};
use fanwright::desk::screen::Screen;
use fanwright::walk::prompt::{Ask, Tone};
use jiff::Timestamp;

/// A conversation in the making.
#[derive(Default)]
pub(crate) struct Told {
    text: String,
    screens: usize,
}

impl Told {
    pub(crate) fn text(&self) -> &str {
        &self.text
    }

    pub(crate) fn screens(&self) -> usize {
        self.screens
    }

    /// The end of it, for a failed assertion.
    pub(crate) fn tail(&self) -> String {
        let lines: Vec<&str> = self.text.lines().collect();
        lines[lines.len().saturating_sub(40)..].join("\n")
    }

    pub(crate) fn line(&mut self, line: &str) {
        self.text.push_str(line);
        self.text.push('\n');
    }

    /// What the bot shows.
    pub(crate) fn screen(&mut self, screen: &Screen, now: Timestamp) {
        self.screens += 1;
        self.line("");
        for line in lines::lines(screen, now) {
            let mark = match line.role {
                LineRole::Where => "== ",
                LineRole::Caution => "CAUTION ",
                LineRole::Note(Tone::Warning) => "! ",
                LineRole::Note(Tone::Good) => "+ ",
                LineRole::Note(Tone::Plain) => "- ",
                LineRole::Cite => "cite: ",
                LineRole::Training | LineRole::Say | LineRole::HowTo => "",
            };
            for part in line.text.lines().filter(|part| !part.is_empty()) {
                self.line(&format!("bot< {mark}{part}"));
            }
        }
        let buttons = match &screen.prompt.ask {
            Ask::Press(buttons)
            | Ask::Tick {
                options: buttons, ..
            } => buttons.as_slice(),
            _ => return,
        };
        let labels: Vec<String> = buttons
            .iter()
            .map(|button| format!("[{}]", button.label))
            .collect();
        self.line(&format!("bot< {}", labels.join(" ")));
    }

    /// What a person does.
    pub(crate) fn person(&mut self, name: &str, what: &str) {
        self.line(&format!("{name}> {what}"));
    }
}
