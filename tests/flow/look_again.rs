//! `look_again` in the head of a flow.

use fanwright::flow::library::{Library, Sources};

const FLOW: &str = include_str!("../desk/promise.yaml");
const LINE: &str = "look_again: { after: 24 h, owner: who, date: day }";

/// What the loader says of the flow with another line in this place.
fn told(line: &str) -> Vec<String> {
    assert!(FLOW.contains(LINE));
    let mut sources = Sources::default();
    let text = FLOW.replace(LINE, line);
    sources
        .files
        .insert("promise-to-look.yaml".to_owned(), text);
    match Library::load(sources) {
        Ok(_) => Vec::new(),
        Err(problems) => problems.iter().map(ToString::to_string).collect(),
    }
}

#[test]
fn a_promise_names_a_time_and_two_texts() {
    assert_eq!(told(LINE), Vec::<String>::new());
    assert_eq!(told(""), Vec::<String>::new());
    for (line, says) in [
        ("look_again: { after: 24 h, owner: who }", "`date`"),
        (
            "look_again: { after: soon, owner: who, date: day }",
            "no length of time",
        ),
        (
            "look_again: { after: 24 h, owner: whom, date: day }",
            "not declared under `facts`",
        ),
        (
            "look_again: { after: 24 h, owner: who, date: day, to: sam }",
            "`to`",
        ),
    ] {
        let told = told(line)
            .join("\n")
            .replace("is not a length", "no length");
        assert!(told.contains(says), "{line}: {told}");
    }
    let choice = "facts:\n  pick: { one_of: { a: A, b: B } }";
    let mut sources = Sources::default();
    let text = FLOW
        .replace("owner: who", "owner: pick")
        .replacen("facts:", choice, 1);
    sources
        .files
        .insert("promise-to-look.yaml".to_owned(), text);
    let problems = Library::load(sources).unwrap_err();
    assert!(
        problems[0].to_string().contains("`pick` is no text"),
        "{}",
        problems[0]
    );
}
