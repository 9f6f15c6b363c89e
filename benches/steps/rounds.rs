//! A small flow that goes round and round, and how somebody answers it.

use fanwright::flow::library::Library;
use fanwright::walk::input::Input;
use fanwright::walk::prompt::{Ask, Prompt};

use crate::library;

/// A flow that goes round: a reading, a choice, a confirmation.
const ROUNDS: &str = r#"
flow: rounds
title: Round of the fans
language: en
hands_off: true
outcomes: { well: All fans are well }
facts:
  supply: { measures: voltage, show_in: V, label: Supply voltage }
  fan: { one_of: { well: It turns, slow: It is slow, over: The round is over }, label: Fan }
start: read
steps:
  read:
    measure: supply
    plausible: { from: 'volt(0)', to: 'volt(700)' }
    expect: { from: 'volt(187)', to: 'volt(253)' }
    say: What does the meter read?
    then: look
  look:
    choose: fan
    say: Does the fan turn?
    then:
      - { when: 'fan == "over"', go: over }
      - { go: note }
  note:
    confirm: I have written it down
    say: Write it on the card at the door.
    then: read
  over: { finish: well, say: The round is over. }
"#;

/// The library of [`ROUNDS`].
pub(crate) fn library() -> Library {
    library::library([("rounds.yaml".to_owned(), ROUNDS.to_owned())])
}

/// What somebody answers who presses the first button and types the example.
pub(crate) fn answer(prompt: &Prompt) -> Input {
    match &prompt.ask {
        Ask::Press(buttons) => Input::Press {
            revision: prompt.revision,
            key: buttons[0].key.clone(),
        },
        Ask::Reading { example, .. } if !example.is_empty() => Input::Text(example.clone()),
        Ask::Tick { .. } => Input::Tick {
            revision: prompt.revision,
            keys: Vec::new(),
        },
        _ => Input::Text("3".to_owned()),
    }
}
