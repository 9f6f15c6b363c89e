//! A flow that nobody checked and that runs in a circle is refused, and does not hang the engine.

use fanwright::flow::library::{Library, Sources};
use fanwright::walk::input::Input;

use super::bench::{Bench, crew};

/// After its one question it runs another flow round and round.
const ROUND: &str = "\
flow: round
title: Round
language: en
hands_off: true
outcomes: { done: Done }
start: begin
steps:
  begin: { tell: Go on, say: Begin., then: look }
  look: { run: look, then: look_again }
  look_again: { run: look, then: look }
  over: { finish: done, say: Done. }
";

const LOOK: &str = "\
flow: look
title: Look
language: en
hands_off: true
outcomes: { looked: Looked }
start: looked
steps:
  looked: { finish: looked, say: Looked. }
";

#[test]
fn a_flow_that_goes_on_for_ever_by_itself_is_refused_and_nothing_changes() {
    let mut sources = Sources::default();
    for (file, text) in [("round.yaml", ROUND), ("look.yaml", LOOK)] {
        sources.files.insert(file.to_owned(), text.to_owned());
    }
    let library = Library::load(sources).unwrap();
    let [_, technician, ..] = crew();
    let mut bench = Bench::begin_with(library.edition(&"round".into()).unwrap(), &technician);
    let prompt = bench.prompt(&technician);
    let go = Input::Press {
        revision: prompt.revision,
        key: "go".into(),
    };
    let before = bench.state.clone();
    let refused = bench.give(&technician, &go).unwrap_err().to_string();
    assert!(
        refused.starts_with("This flow runs in a circle"),
        "{refused}"
    );
    assert_eq!(bench.state, before);
}
