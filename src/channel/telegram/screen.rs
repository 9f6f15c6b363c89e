//! A screen of a job as a message: its text, its picture, its buttons.

use jiff::Timestamp;
use teloxide::types::{InlineKeyboardButton, InlineKeyboardMarkup};

use super::rich::{Rich, Style};
use super::token::{Choice, On, TICKS_MAX, Token};
use crate::channel::lines::{self, LineRole};
use crate::desk::screen::{Closing, Screen};
use crate::walk::prompt::{Action, Ask, Button, Tone};

/// The most buttons that the platform takes under one message.
pub(super) const BUTTONS_MAX: usize = 100;

/// Answers beyond these go under a message of their own; the rest is left for actions.
const ANSWERS_MAX: usize = BUTTONS_MAX - 24;

/// What of a screen can be changed in place.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct View {
    /// The ticked choices, a bit each.
    pub(super) ticked: u128,
    /// Whether the seldom needed actions are shown.
    pub(super) more: bool,
}

/// Rows of buttons.
pub(super) type Rows = Vec<Vec<InlineKeyboardButton>>;

/// The text of a screen, after a sentence about what just happened.
pub(super) fn text(screen: &Screen, before: Option<&str>, now: Timestamp) -> Rich {
    let mut rich = Rich::default();
    if let Some(before) = before {
        rich.paragraph(Style::Plain, before);
    }
    let mut last = None;
    for line in lines::lines(screen, now) {
        let (style, mark) = dress(line.role);
        let text = format!("{mark}{}", line.text);
        let together = matches!(
            (last, line.role),
            (Some(LineRole::Training), LineRole::Where)
                | (Some(LineRole::Note(_)), LineRole::Note(_))
        );
        if together {
            rich.line(style, &text);
        } else {
            rich.paragraph(style, &text);
        }
        last = Some(line.role);
    }
    rich
}

fn dress(role: LineRole) -> (Style, &'static str) {
    match role {
        LineRole::Training => (Style::Bold, "🎓 "),
        LineRole::Where => (Style::Bold, ""),
        LineRole::Note(Tone::Plain) => (Style::Plain, "· "),
        LineRole::Note(Tone::Good) => (Style::Plain, "✓ "),
        LineRole::Note(Tone::Warning) => (Style::Plain, "❗ "),
        LineRole::Caution => (Style::Bold, "⚠️ "),
        LineRole::Say => (Style::Plain, ""),
        LineRole::HowTo | LineRole::Cite => (Style::Italic, ""),
    }
}

/// The buttons of a screen: what answers it, large, one a row; then the actions.
///
/// The last of the keyboards belongs under the screen's text; those before it hold answers that
/// do not fit there.
pub(super) fn keyboards(screen: &Screen, view: View) -> Vec<InlineKeyboardMarkup> {
    let mut answers = answers(screen, view);
    let mut keyboards = Vec::new();
    while answers.len() > ANSWERS_MAX {
        let rest = answers.split_off(ANSWERS_MAX);
        keyboards.push(InlineKeyboardMarkup::new(answers));
        answers = rest;
    }
    answers.extend(actions(screen, view));
    keyboards.push(InlineKeyboardMarkup::new(answers));
    keyboards
}

/// The keyboard under the text itself.
pub(super) fn keyboard(screen: &Screen, view: View) -> InlineKeyboardMarkup {
    keyboards(screen, view).pop().unwrap_or_default()
}

fn on(screen: &Screen) -> On {
    On {
        job: screen.job,
        revision: screen.prompt.revision,
    }
}

/// A button; a label that has nothing to see gets something.
pub(super) fn button(label: &str, token: Token) -> InlineKeyboardButton {
    let label = if label.trim().is_empty() {
        "…"
    } else {
        label
    };
    InlineKeyboardButton::callback(label, token.encode())
}

fn answers(screen: &Screen, view: View) -> Rows {
    let on = on(screen);
    let prompt = &screen.prompt;
    let mut rows = Vec::new();
    match &prompt.ask {
        Ask::Press(buttons) => {
            for (index, answer) in numbered(buttons) {
                let token = Token::Choose(on, Choice::of(index, answer));
                rows.push(vec![button(&answer.label, token)]);
            }
        }
        Ask::Tick { options, done } => {
            for (index, option) in numbered(options).take(TICKS_MAX) {
                let is_ticked = view.ticked & (1 << index) != 0;
                let mark = if is_ticked { "☑" } else { "☐" };
                let token = Token::Toggle(on, index, view.ticked);
                rows.push(vec![button(&format!("{mark} {}", option.label), token)]);
            }
            rows.push(vec![button(done, Token::Ticked(on, view.ticked))]);
        }
        _ => {}
    }
    if let Some(keep) = &prompt.keep {
        rows.push(vec![button(keep, Token::Keep(on))]);
    }
    for closing in &screen.closing {
        let label = match closing {
            Closing::Accept => "Accept the job",
            Closing::SendBack => "Send it back",
        };
        rows.push(vec![button(label, Token::Close(on, *closing))]);
    }
    rows
}

fn numbered(buttons: &[Button]) -> impl Iterator<Item = (u8, &Button)> {
    (0..=u8::MAX).zip(buttons)
}

/// Where an action stands.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Rank {
    /// What most will want: large.
    First,
    /// To understand the question.
    Ask,
    /// To move about.
    Move,
    /// Seldom needed.
    Seldom,
    /// Always the last row, always there.
    Stop,
}

fn rank(action: Action) -> Rank {
    match action {
        Action::Resume
        | Action::TakeOver
        | Action::KeepJob
        | Action::StandBeside
        | Action::LiftStop
        | Action::KeepWorking
        | Action::TakeOwnLockOff
        | Action::HandIn => Rank::First,
        Action::Why | Action::How | Action::Working => Rank::Ask,
        Action::Back => Rank::Move,
        Action::Pause | Action::HandOver | Action::CallSupervisor | Action::LeaveLockedOut => {
            Rank::Seldom
        }
        Action::Stop | Action::Emergency => Rank::Stop,
    }
}

fn actions(screen: &Screen, view: View) -> Rows {
    let on = on(screen);
    let of = |rank_of_row: Rank| -> Vec<InlineKeyboardButton> {
        let all = screen.prompt.actions.iter().copied();
        all.filter(|action| rank(*action) == rank_of_row)
            .map(|action| button(action.label(), Token::Do(on, action)))
            .collect()
    };
    let mut rows: Rows = of(Rank::First)
        .into_iter()
        .map(|first| vec![first])
        .collect();
    rows.push(of(Rank::Ask));
    let mut moves = of(Rank::Move);
    let seldom = of(Rank::Seldom);
    if view.more || seldom.len() < 2 {
        rows.push(moves);
        rows.extend(seldom.chunks(2).map(<[_]>::to_vec));
    } else {
        moves.push(button("More", Token::More(on, view.ticked)));
        rows.push(moves);
    }
    rows.push(of(Rank::Stop));
    rows.retain(|row| !row.is_empty());
    rows
}
