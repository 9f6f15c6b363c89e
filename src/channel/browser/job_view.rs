//! A screen as the template of a job's page reads it.

use jiff::Timestamp;
use serde::Serialize;

use super::job_form::word_of;
use crate::channel::lines::{self, how_to};
use crate::desk::Actor;
use crate::desk::screen::{Closing, Phase, Screen};
use crate::trade::chart::Chart;
use crate::walk::prompt::{Action, Ask, Button, Prompt, Tone, Working};

/// A job's page.
#[derive(Debug, Serialize)]
pub(super) struct JobView {
    /// The one-time token of every form of the page.
    pub(super) token: String,
    /// Why nothing changed, after a refusal.
    pub(super) sentence: Option<String>,
    /// What the person had typed then.
    pub(super) typed: String,
    id: String,
    revision: u64,
    evaporator: String,
    evaporator_id: String,
    title: String,
    heading: String,
    /// Steps done and steps in all, where that can be told.
    progress: Option<(u32, u32)>,
    /// Whose job it is, when it is not the viewer's.
    holder: Option<String>,
    phase: Phase,
    phase_words: &'static str,
    training: Option<&'static str>,
    notes: Vec<NoteView>,
    caution: Option<String>,
    say: String,
    cite: Vec<String>,
    picture: Option<String>,
    /// A chart as SVG, drawn by this program: its texts are escaped.
    chart: Option<String>,
    ask: AskView,
    how_to: Option<String>,
    /// What the person may do while somebody else has to act.
    meanwhile: Option<&'static str>,
    keep: Option<String>,
    why: Option<String>,
    how: Option<String>,
    working: Option<String>,
    /// Buttons that lead on.
    ahead: Vec<ActionView>,
    /// Buttons that lead elsewhere.
    aside: Vec<ActionView>,
    /// Whether the viewer may take off the lock of somebody who is away.
    pub(super) takes_lock_off: bool,
    can_stop: bool,
    can_tell: bool,
    accepts: bool,
    sends_back: bool,
    decides_row: bool,
}

#[derive(Debug, Serialize)]
struct NoteView {
    tone: &'static str,
    text: String,
}

#[derive(Debug, Serialize)]
struct ButtonView {
    key: String,
    label: String,
}

#[derive(Debug, Serialize)]
struct ActionView {
    word: &'static str,
    label: &'static str,
}

/// What the page lets the person answer.
#[derive(Debug, Serialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
enum AskView {
    Press {
        buttons: Vec<ButtonView>,
    },
    Tick {
        buttons: Vec<ButtonView>,
        done: String,
    },
    Reading {
        example: String,
        units: String,
        /// Which keys the phone shows.
        keys: &'static str,
    },
    Words {
        characters_max: u32,
    },
    Photo {
        of: String,
    },
    Wait {
        until_ms: i64,
        now_ms: i64,
        left: String,
    },
    WaitFor,
    Nothing,
}

impl JobView {
    /// The view of a screen for this person. Token, sentence and typed text come after it.
    pub(super) fn of(screen: &Screen, actor: &Actor, now: Timestamp) -> JobView {
        let prompt = &screen.prompt;
        let actions = |wanted: fn(Action) -> bool| {
            let shown = prompt.actions.iter().copied().filter(|it| wanted(*it));
            shown.filter_map(ActionView::of).collect()
        };
        JobView {
            token: String::new(),
            sentence: None,
            typed: String::new(),
            id: screen.job.to_string(),
            revision: prompt.revision,
            evaporator: screen.evaporator.line(),
            evaporator_id: screen.evaporator.id.to_string(),
            title: prompt.title.clone(),
            heading: lines::heading(screen),
            progress: prompt
                .to_go
                .filter(|_| screen.phase.is_open())
                .map(|to_go| (prompt.step, prompt.step.saturating_add(to_go.job))),
            holder: (screen.holder.person != actor.person).then(|| screen.holder.name.clone()),
            phase: screen.phase,
            phase_words: screen.phase.words(),
            training: prompt.training.then_some(lines::TRAINING),
            notes: prompt.notes.iter().map(NoteView::of).collect(),
            caution: prompt.caution.clone(),
            say: prompt.say.clone(),
            cite: prompt.cite.clone(),
            picture: prompt.picture.as_ref().map(ToString::to_string),
            chart: prompt.chart.as_ref().and_then(drawn),
            ask: AskView::of(&prompt.ask, now),
            how_to: how_to(prompt, now).filter(|_| !matches!(prompt.ask, Ask::Wait { .. })),
            meanwhile: meanwhile(prompt),
            keep: prompt.keep.clone(),
            why: prompt.why.clone(),
            how: prompt.how.clone(),
            working: prompt.working.as_ref().map(working),
            ahead: actions(leads_on),
            aside: actions(|it| !leads_on(it) && !matches!(it, Action::Stop | Action::Emergency)),
            takes_lock_off: false,
            can_stop: prompt.actions.contains(&Action::Stop),
            can_tell: prompt.actions.contains(&Action::Emergency),
            accepts: screen.closing.contains(&Closing::Accept),
            sends_back: screen.closing.contains(&Closing::SendBack),
            decides_row: screen
                .closing
                .iter()
                .any(|closing| matches!(closing, Closing::Row(_))),
        }
    }
}

/// A chart as SVG; a page is shown without one that cannot be drawn.
fn drawn(chart: &Chart) -> Option<String> {
    let svg = crate::report::chart::draw(chart);
    svg.inspect_err(|error| tracing::error!(%error, "a chart was left out"))
        .ok()
}

/// Whoever can act is told by the desk; the holder need not stand and wait.
fn meanwhile(prompt: &Prompt) -> Option<&'static str> {
    let waits = matches!(&prompt.ask, Ask::WaitFor { roles } if !roles.is_empty());
    (waits && prompt.actions.contains(&Action::HandOver)).then_some(
        "Whoever of your crew can do it is told. You may call them too, or hand the job over to \
         them below.",
    )
}

fn working(working: &Working) -> String {
    lines::working(working)
}

/// Whether an action is what the person most likely came for, so that it stands with the answers.
fn leads_on(action: Action) -> bool {
    match action {
        Action::Resume
        | Action::TakeOver
        | Action::KeepJob
        | Action::StandBeside
        | Action::LiftStop
        | Action::KeepWorking
        | Action::HangOwnLock
        | Action::TakeOwnLockOff
        | Action::AmWell
        | Action::FoundWell
        | Action::HandIn => true,
        Action::Back
        | Action::CheckOnMe
        | Action::AmOut
        | Action::Pause
        | Action::Stop
        | Action::Emergency
        | Action::HandOver
        | Action::CallSupervisor
        | Action::Why
        | Action::How
        | Action::Working
        | Action::LeaveLockedOut
        | Action::Share
        | Action::EndSharing => false,
    }
}

impl NoteView {
    fn of(note: &crate::walk::prompt::Note) -> NoteView {
        NoteView {
            tone: match note.tone {
                Tone::Plain => "plain",
                Tone::Good => "good",
                Tone::Warning => "warning",
            },
            text: note.text.clone(),
        }
    }
}

impl ButtonView {
    fn all(buttons: &[Button]) -> Vec<ButtonView> {
        let view = |button: &Button| ButtonView {
            key: button.key.to_string(),
            label: button.label.clone(),
        };
        buttons.iter().map(view).collect()
    }
}

impl ActionView {
    fn of(action: Action) -> Option<ActionView> {
        word_of(action).map(|word| ActionView {
            word,
            label: action.label(),
        })
    }
}

impl AskView {
    fn of(ask: &Ask, now: Timestamp) -> AskView {
        match ask {
            Ask::Press(buttons) => AskView::Press {
                buttons: ButtonView::all(buttons),
            },
            Ask::Tick { options, done } => AskView::Tick {
                buttons: ButtonView::all(options),
                done: done.clone(),
            },
            Ask::Reading { example, units } => AskView::Reading {
                example: example.clone(),
                units: units.join(", "),
                keys: keys(example, units),
            },
            Ask::Words { characters_max } => AskView::Words {
                characters_max: *characters_max,
            },
            Ask::Photo { of } => AskView::Photo { of: of.clone() },
            Ask::Wait { until } => AskView::Wait {
                until_ms: until.as_millisecond(),
                now_ms: now.as_millisecond(),
                left: lines::left(*until, now),
            },
            Ask::WaitFor { .. } => AskView::WaitFor,
            Ask::Nothing => AskView::Nothing,
        }
    }
}

/// The keys that a phone shows for a reading. Those for figures alone lack, on many phones, the
/// minus sign and every letter: they are for volts and amps, and for what has no unit.
fn keys(example: &str, units: &[&str]) -> &'static str {
    let is_negative = example.starts_with(['-', '\u{2212}']);
    let is_plain = units.first().is_none_or(|unit| ["V", "A"].contains(unit));
    match is_plain && !is_negative {
        true => "decimal",
        false => "text",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_reading_that_may_need_a_sign_or_another_unit_gets_all_keys() {
        assert_eq!(keys("208 V", &["V", "mV"]), "decimal");
        assert_eq!(keys("4", &[]), "decimal");
        assert_eq!(keys("-10 °F", &["°F", "°C"]), "text");
        assert_eq!(keys("12 °F", &["°F", "°C"]), "text");
        assert_eq!(keys("2.1 kΩ", &["Ω", "kΩ"]), "text");
        assert_eq!(keys("-3", &[]), "text");
    }
}
