//! A screen as lines of text in the one order that every channel keeps: where we are, what the
//! last answer meant, the warning, and only then the question.

use std::collections::BTreeSet;

use jiff::Timestamp;

use crate::desk::competence::SignOffLine;
use crate::desk::lists::Reason;
use crate::desk::open_codes::OpenCode;
use crate::desk::people::PersonLine;
use crate::desk::screen::{JobLine, Screen};
use crate::flow::model::Role;
use crate::walk::prompt::{Action, Ask, Prompt, Tone, Working};

/// One line of a screen.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Line {
    /// What it is, for the channel to dress.
    pub role: LineRole,
    /// Its text.
    pub text: String,
}

/// What a line is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LineRole {
    /// The mark of a training walk.
    Training,
    /// The title of the flow and how far it is.
    Where,
    /// A line about the answer before.
    Note(Tone),
    /// The warning.
    Caution,
    /// The sentence of the screen.
    Say,
    /// How to answer.
    HowTo,
    /// The published source.
    Cite,
}

/// The mark of a training walk.
pub const TRAINING: &str = "TRAINING. Nothing here counts as a record.";

/// The lines of a screen.
pub fn lines(screen: &Screen, now: Timestamp) -> Vec<Line> {
    let prompt = &screen.prompt;
    let mut lines = Vec::new();
    let mut add = |role, text: String| lines.push(Line { role, text });
    if prompt.training {
        add(LineRole::Training, TRAINING.to_owned());
    }
    add(LineRole::Where, heading(screen));
    for note in &prompt.notes {
        add(LineRole::Note(note.tone), note.text.clone());
    }
    if let Some(caution) = &prompt.caution {
        add(LineRole::Caution, caution.clone());
    }
    add(LineRole::Say, prompt.say.clone());
    if let Some(how_to) = how_to(prompt, now) {
        add(LineRole::HowTo, how_to);
    }
    if !prompt.cite.is_empty() {
        add(LineRole::Cite, prompt.cite.join("; "));
    }
    lines
}

/// `Make it safe · step 14, about 20 to go`.
pub fn heading(screen: &Screen) -> String {
    let prompt = &screen.prompt;
    let Prompt { title, step, .. } = prompt;
    if !screen.phase.is_open() {
        let phase = screen.phase.words();
        if title.to_lowercase() == phase {
            return title.clone();
        }
        return format!("{title} · {phase}");
    }
    match prompt.to_go.and_then(|to_go| to_go.part) {
        Some(to_go) => format!("{title} · step {step}, about {to_go} to go in this part"),
        None => format!("{title} · step {step}"),
    }
}

/// How to answer, where a button does not say it.
pub fn how_to(prompt: &Prompt, now: Timestamp) -> Option<String> {
    match &prompt.ask {
        Ask::Reading { example, units } if units.is_empty() => {
            Some(format!("Type a number, like {example}."))
        }
        Ask::Reading { example, units } if example.is_empty() => {
            Some(format!("Type what it reads, in {}.", units.join(" or ")))
        }
        Ask::Reading { example, .. } => Some(format!("Type the reading, like {example}.")),
        Ask::Words { characters_max } => {
            Some(format!("Type it, at most {characters_max} characters."))
        }
        Ask::Photo { of } => Some(format!("Send a photo: {of}.")),
        Ask::Tick { done, .. } => Some(format!("Tick all that fit, then press “{done}”.")),
        Ask::Wait { until } => Some(format!(
            "{} to go. The button comes when the time is over.",
            left(*until, now)
        )),
        Ask::WaitFor { roles } if roles.is_empty() => {
            Some("The person whose job this is answers here.".to_owned())
        }
        Ask::WaitFor { roles } => {
            let words: Vec<&str> = roles.iter().map(|role| role.with_article()).collect();
            Some(format!("Waiting for {}.", words.join(" or ")))
        }
        Ask::Press(_) | Ask::Nothing => None,
    }
}

/// `4 min 30 s`.
pub fn left(until: Timestamp, now: Timestamp) -> String {
    let seconds = (until.as_second() - now.as_second()).max(0);
    match (seconds / 3600, seconds % 3600 / 60, seconds % 60) {
        (0, 0, seconds) => format!("{seconds} s"),
        (0, minutes, 0) => format!("{minutes} min"),
        (0, minutes, seconds) => format!("{minutes} min {seconds} s"),
        (hours, minutes, _) => format!("{hours} h {minutes} min"),
    }
}

/// What a person may ask about a screen; nothing of it is an input to the job.
pub fn told_on_request(prompt: &Prompt, action: Action) -> Option<String> {
    match action {
        Action::Why => prompt.why.clone(),
        Action::How => prompt.how.clone(),
        Action::Working => prompt.working.as_ref().map(working),
        _ => None,
    }
}

/// A computation with everything that is needed to check it by hand.
pub fn working(working: &Working) -> String {
    let mut text = format!("{}\n", working.symbols);
    for (name, value) in &working.inputs.0 {
        text.push_str(&format!("{} = {}\n", name.replace('_', " "), value.words()));
    }
    for (name, value) in &working.results.values {
        text.push_str(&format!(
            "→ {} = {}\n",
            name.replace('_', " "),
            value.words()
        ));
    }
    for warning in &working.results.warnings {
        text.push_str(&format!("{warning}\n"));
    }
    text.push_str(&format!("Source: {}", working.source));
    text
}

/// One line of a list of jobs: why it is there, what it works on, how far it is.
pub fn job(why: Reason, line: &JobLine) -> String {
    let why = match why {
        Reason::Mine => "",
        Reason::Offered => "Offered: ",
        Reason::WaitsForRole => "Waits for your role: ",
        Reason::ToReview => "Review: ",
        Reason::OfTheCrew => "Crew: ",
    };
    let training = if line.training { "TRAINING · " } else { "" };
    let evaporator = line.evaporator.line();
    format!("{why}{training}{evaporator} · {}", line.phase.words())
}

/// A person of the crew with their roles.
pub fn person(line: &PersonLine) -> String {
    format!("{}, {}", line.name, roles(&line.roles))
}

/// What somebody has shown: `Ann: live tests. Signed by Sam, until 2032-05-04`.
pub fn sign_off(name: &str, line: &SignOffLine) -> String {
    let SignOffLine { label, by, .. } = line;
    let until = line
        .until
        .map(|until| until.strftime("%Y-%m-%d").to_string());
    let until = match (until, line.counts) {
        (Some(until), true) => format!(", until {until}"),
        (Some(until), false) => format!(", ended {until}"),
        (None, _) => String::new(),
    };
    format!("{name}: {label}. Signed by {}{until}", by.name)
}

/// A code that nobody used yet.
pub fn open_code(open: &OpenCode) -> String {
    let by = open.by.as_ref().map_or("the operator", |by| &by.name);
    let until = open.until.strftime("%Y-%m-%d %H:%M UTC");
    format!("For {}, until {until}, from {by}", roles(&open.roles))
}

/// `a technician and a supervisor`.
pub fn roles(roles: &BTreeSet<Role>) -> String {
    let words: Vec<&str> = roles.iter().map(|role| role.with_article()).collect();
    words.join(" and ")
}

/// A role, for a box to tick.
pub fn role_label(role: Role) -> &'static str {
    match role {
        Role::Apprentice => "Apprentice",
        Role::Technician => "Technician",
        Role::Electrician => "Licensed electrician",
        Role::Supervisor => "Supervisor",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn time_left_reads_plainly() {
        let at = |seconds| Timestamp::from_second(seconds).unwrap();
        for (seconds, text) in [
            (0, "0 s"),
            (59, "59 s"),
            (60, "1 min"),
            (90, "1 min 30 s"),
            (3700, "1 h 1 min"),
        ] {
            assert_eq!(left(at(seconds), at(0)), text);
        }
        assert_eq!(left(at(0), at(50)), "0 s");
    }
}
