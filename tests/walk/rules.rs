//! What a screen must never do.

use fanwright::walk::State;
use fanwright::walk::prompt::{Action, Ask, Prompt};

/// The most characters of a chat message on Telegram (Bot API, sendMessage: 1-4096 after
/// entities parsing).
const MESSAGE_CHARACTERS_MAX: usize = 4096;
/// The most bytes of a button's callback data (Bot API, InlineKeyboardButton: 1-64 bytes).
const CALLBACK_BYTES_MAX: usize = 64;

/// Checks a screen against every rule.
pub(crate) fn assert_all(prompt: &Prompt, state: &State) {
    never_says_dead_or_safe_as_true_now(prompt);
    has_a_way_out(prompt, state);
    fits_every_channel(prompt);
    never_shows_the_limit_before_a_reading(prompt);
    never_offers_a_short_cut(prompt);
    keeps_no_answer_to_a_wait(prompt);
}

fn texts(prompt: &Prompt) -> impl Iterator<Item = &str> {
    prompt
        .notes
        .iter()
        .map(|note| note.text.as_str())
        .chain(prompt.caution.as_deref())
        .chain([prompt.say.as_str()])
}

/// What is said of a reading that proves nothing.
const DENIED: [&str; 2] = [
    "does not mean that it is dead",
    "never proves that the circuit is dead",
];

/// "Recorded … proved dead at …" is what a record can say; "it is dead" or "it is safe" is not.
fn never_says_dead_or_safe_as_true_now(prompt: &Prompt) {
    for text in texts(prompt) {
        let mut lower = text.to_lowercase();
        for denied in DENIED {
            lower = lower.replace(denied, "");
        }
        for claim in [
            "is dead",
            "now dead",
            "is safe",
            "now safe",
            "safe to touch",
        ] {
            assert!(!lower.contains(claim), "a screen says “{claim}”: {text}");
        }
    }
}

fn has_a_way_out(prompt: &Prompt, state: &State) {
    if state.is_open() {
        let ways = [
            Action::Stop,
            Action::CallSupervisor,
            Action::Resume,
            Action::Emergency,
        ];
        assert!(
            ways.iter().any(|way| prompt.actions.contains(way)),
            "no way out: {prompt:?}"
        );
        assert!(prompt.actions.contains(&Action::Emergency), "{prompt:?}");
    }
}

fn fits_every_channel(prompt: &Prompt) {
    let length: usize = texts(prompt).map(|text| text.chars().count() + 10).sum();
    assert!(
        length < MESSAGE_CHARACTERS_MAX - 400,
        "{length} characters: {}",
        prompt.say
    );
    let buttons = match &prompt.ask {
        Ask::Press(buttons)
        | Ask::Tick {
            options: buttons, ..
        } => buttons.as_slice(),
        _ => &[],
    };
    assert!(
        buttons.len() <= 30,
        "{} buttons: {}",
        buttons.len(),
        prompt.say
    );
    for button in buttons {
        assert!(
            !button.label.is_empty() && button.label.chars().count() <= 60,
            "{button:?}"
        );
        // A button carries the job (16 bytes), the revision and the choice.
        assert!(
            button.key.as_str().len() <= CALLBACK_BYTES_MAX - 16,
            "{button:?}"
        );
    }
}

fn never_shows_the_limit_before_a_reading(prompt: &Prompt) {
    let in_proof = prompt
        .notes
        .iter()
        .any(|note| note.text.starts_with("Live-dead-live test"));
    if !in_proof {
        return;
    }
    let question = format!(
        "{} {}",
        prompt.say,
        prompt.caution.as_deref().unwrap_or_default()
    );
    for limit in ["3 V", "50 V", "below 3", "under 50"] {
        assert!(
            !question.contains(limit),
            "a proof screen tells the limit: {question}"
        );
    }
    assert!(
        prompt.keep.is_none(),
        "a proof screen offers to keep an answer"
    );
}

fn never_offers_a_short_cut(prompt: &Prompt) {
    let buttons = match &prompt.ask {
        Ask::Press(buttons) => buttons.as_slice(),
        _ => return,
    };
    for button in buttons {
        let label = button.label.to_lowercase();
        for short_cut in ["all good", "skip", "not applicable", "n/a"] {
            assert!(!label.contains(short_cut), "a button offers “{short_cut}”");
        }
        assert!(
            label != "ok" && label != "yes" && label != "no",
            "a button says “{label}”"
        );
    }
}

/// Nobody gets past a wait with what they answered before.
fn keeps_no_answer_to_a_wait(prompt: &Prompt) {
    if let Ask::Wait { .. } = prompt.ask {
        assert!(prompt.keep.is_none());
    }
}
