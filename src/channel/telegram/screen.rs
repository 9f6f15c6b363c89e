//! A screen of a job as a message: its text, its picture, its buttons.

use jiff::Timestamp;
use teloxide::types::{InlineKeyboardButton, InlineKeyboardMarkup};

use super::rich::{Rich, Style};
use super::token::{Choice, On, TICKS_MAX, Token};
use super::words;
use crate::channel::lines::{self, LineRole};
use crate::desk::screen::Screen;
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
    if screen.photos > 0 {
        let label = words::show_photos(screen.photos);
        rows.push(vec![button(&label, Token::Photos(screen.job))]);
    }
    for closing in &screen.closing {
        rows.push(vec![button(closing.label(), Token::Close(on, *closing))]);
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
        | Action::HangOwnLock
        | Action::TakeOwnLockOff
        | Action::AmWell
        | Action::FoundWell
        | Action::HandIn => Rank::First,
        Action::Why | Action::How | Action::Working => Rank::Ask,
        Action::Back | Action::AmOut => Rank::Move,
        Action::CheckOnMe
        | Action::Pause
        | Action::HandOver
        | Action::CallSupervisor
        | Action::LeaveLockedOut
        | Action::Share
        | Action::EndSharing => Rank::Seldom,
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::channel::telegram::token::DATA_BYTES_MAX;
    use crate::desk::id::{EvaporatorId, JobId};
    use crate::desk::screen::{EvaporatorLabel, Named, Phase};
    use crate::record::person::PersonId;
    use crate::walk::prompt::Prompt;
    use teloxide::types::InlineKeyboardButtonKind;
    use uuid::Uuid;

    fn choices(count: usize) -> Vec<Button> {
        let button = |at| Button {
            key: format!("a-rather-long-key-of-a-choice-that-would-not-fit-a-button-{at}")
                .as_str()
                .into(),
            label: format!("Choice {at}"),
        };
        (0..count).map(button).collect()
    }

    fn screen(ask: Ask, actions: Vec<Action>) -> Screen {
        Screen {
            job: JobId(Uuid::from_u128(7)),
            evaporator: EvaporatorLabel {
                id: EvaporatorId(Uuid::from_u128(8)),
                site: "Corner Market".to_owned(),
                tag: String::new(),
                hangs: String::new(),
            },
            holder: Named {
                person: PersonId(Uuid::from_u128(9)),
                name: "Toni".to_owned(),
            },
            phase: Phase::Open,
            prompt: Prompt {
                revision: 3,
                asked_since: 3,
                title: "Look".to_owned(),
                training: true,
                step: 1,
                to_go: None,
                notes: Vec::new(),
                caution: Some("Hot.".to_owned()),
                say: "Look.".to_owned(),
                picture: None,
                chart: None,
                cite: Vec::new(),
                why: None,
                how: None,
                working: None,
                lacks: Vec::new(),
                ask,
                keep: None,
                actions,
            },
            closing: Vec::new(),
            photos: 0,
        }
    }

    fn labels(rows: &InlineKeyboardMarkup) -> Vec<&str> {
        let all = rows.inline_keyboard.iter().flatten();
        all.map(|button| button.text.as_str()).collect()
    }

    #[test]
    fn no_keyboard_breaks_a_limit_and_no_choice_is_left_out() {
        for count in [1, 75, 77, 100, 250] {
            let screen = screen(Ask::Press(choices(count)), vec![Action::Stop]);
            let keyboards = keyboards(&screen, View::default());
            let mut seen = 0;
            for keyboard in &keyboards {
                let buttons: Vec<_> = keyboard.inline_keyboard.iter().flatten().collect();
                assert!((1..=BUTTONS_MAX).contains(&buttons.len()), "{count}");
                for button in buttons {
                    let InlineKeyboardButtonKind::CallbackData(data) = &button.kind else {
                        panic!("{button:?}");
                    };
                    assert!((1..=DATA_BYTES_MAX).contains(&data.len()));
                    seen += usize::from(button.text.starts_with("Choice"));
                }
            }
            assert_eq!(seen, count);
            assert!(labels(keyboards.last().unwrap()).contains(&"Stop work"));
        }
    }

    #[test]
    fn what_is_seldom_needed_waits_under_more_and_stop_is_always_there() {
        let actions = vec![
            Action::Back,
            Action::Pause,
            Action::Stop,
            Action::Emergency,
            Action::HandOver,
            Action::CallSupervisor,
            Action::Why,
        ];
        let screen = screen(Ask::Press(choices(2)), actions);
        let closed = keyboard(&screen, View::default());
        assert_eq!(
            labels(&closed),
            [
                "Choice 0",
                "Choice 1",
                "Why?",
                "Back one step",
                "More",
                "Stop work",
                "Someone is hurt / gas alarm"
            ]
        );
        let open = View {
            more: true,
            ..View::default()
        };
        let open = keyboard(&screen, open);
        let open = labels(&open);
        assert!(open.contains(&"Pause") && open.contains(&"Call the supervisor"));
        assert!(!open.contains(&"More") && open.contains(&"Stop work"));
    }

    #[test]
    fn what_is_ticked_is_shown() {
        let done = "That is all".to_owned();
        let options = choices(3);
        let screen = screen(Ask::Tick { options, done }, Vec::new());
        let view = View {
            ticked: 0b101,
            more: false,
        };
        let keyboard = keyboard(&screen, view);
        assert_eq!(
            labels(&keyboard),
            ["☑ Choice 0", "☐ Choice 1", "☑ Choice 2", "That is all"]
        );
    }

    #[test]
    fn the_warning_stands_above_the_question() {
        let screen = screen(Ask::Nothing, Vec::new());
        let rich = text(&screen, Some("Just so."), Timestamp::UNIX_EPOCH);
        let html = rich.parts(4096).join("");
        assert_eq!(
            html,
            "Just so.\n\n<b>🎓 TRAINING. Nothing here counts as a record.</b>\n\
             <b>Look · step 1</b>\n\n<b>⚠️ Hot.</b>\n\nLook."
        );
    }
}
