//! One small flow, looked at whole.

use std::path::PathBuf;

use fanwright::report::diagram::{self, Energy, Kind};

use super::{diagram_of, shipped};

fn file(name: &str) -> PathBuf {
    let root = PathBuf::from(env!("CARGO_MANIFEST_DIR"));
    root.join("tests/draw").join(name)
}

fn small() -> diagram::Diagram {
    diagram_of(&std::fs::read_to_string(file("small.yaml")).unwrap())
}

/// Compares with a file of what is expected; `UPDATE_GOLDEN=1` writes it anew.
fn golden(name: &str, found: &str) {
    let path = file(name);
    if std::env::var_os("UPDATE_GOLDEN").is_some() {
        return std::fs::write(path, found).unwrap();
    }
    let expected = std::fs::read_to_string(path).unwrap();
    for (at, (expected, found)) in expected.lines().zip(found.lines()).enumerate() {
        assert_eq!(found, expected, "{name}:{}", at + 1);
    }
    assert_eq!(found, expected, "{name}");
}

#[test]
fn a_small_flow_is_drawn_as_it_was_looked_at() {
    let diagram = small();
    golden(
        "small.svg",
        &diagram::svg(&diagram, &diagram::sheet(&diagram)),
    );
    golden("small.dot", &diagram::dot(&diagram));
}

#[test]
fn branches_are_told_in_words() {
    let diagram = small();
    let whens = |step: usize| -> Vec<Option<&str>> {
        let exits = diagram.cards[step].exits.iter();
        exits.map(|exit| exit.when.as_deref()).collect()
    };
    assert_eq!(
        whens(0),
        [Some("It does not fit"), Some("The plug fits and locks")]
    );
    assert_eq!(
        whens(1),
        [Some("below 187 V or above 253 V"), Some("Otherwise")]
    );
    assert_eq!(whens(2), [None]);
    assert_eq!(
        whens(4),
        [Some("Every source is proved"), Some("Something is live")]
    );
    assert_eq!(diagram.cards[8].says, "The supply was ‹Supply voltage›.");
}

#[test]
fn the_ground_tells_the_least_safe_state_of_all_ways_to_a_step() {
    let energies: Vec<Energy> = small().cards.iter().map(|card| card.energy).collect();
    let expected = [
        Energy::Live,   // look
        Energy::Live,   // read_supply
        Energy::Live,   // open_it
        Energy::Opened, // lock_it
        Energy::Locked, // test_it
        Energy::Live,   // electrician: also straight from the first step
        Energy::Proved, // take_photo: the engine leads through the proof first
        Energy::Proved, // connected
        Energy::Live,   // stop
    ];
    assert_eq!(energies, expected);
}

#[test]
fn make_safe_comes_to_the_proof_and_hands_go_in_only_where_all_is_proved() {
    for (name, diagram, _) in shipped() {
        if name.as_str() == "make-safe" {
            let states: std::collections::HashSet<Energy> =
                diagram.cards.iter().map(|card| card.energy).collect();
            for state in [Energy::Live, Energy::Opened, Energy::Locked, Energy::Proved] {
                assert!(states.contains(&state), "{state:?}");
            }
            let proofs = diagram.cards.iter().filter(|card| card.kind == Kind::Prove);
            for proof in proofs {
                assert_eq!(proof.energy, Energy::Locked, "{}", proof.step);
            }
        }
    }
}
