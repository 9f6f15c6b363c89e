//! What a flow or a formula gave another time does not hold when it gives nothing this time.

use fanwright::flow::library::{Library, Sources};
use fanwright::flow::name::FactName;
use fanwright::walk::GO;

use super::bench::{Bench, Person, crew};
use super::lockout::{press, say, step};

const JOB: &str = "\
flow: job
title: Job
language: en
hands_off: true
outcomes: { done: Done }
facts:
  air: { measures: air_flow }
  again: { one_of: { again: Again, enough: Enough } }
start: look
steps:
  look: { run: look-at-air, take: { air: air }, then: once_more }
  once_more:
    choose: again
    say: Again?
    then:
      - { when: 'again == \"again\"', go: look }
      - { when: 'known(air)', go: with_air }
      - { go: without_air }
  with_air: { tell: Go on, say: 'Air: {air}.', then: end }
  without_air: { tell: Go on, say: 'Air: {air}.', then: end }
  end: { finish: done, say: Done. }
";

const LOOK: &str = "\
flow: look-at-air
title: Look at the air
language: en
hands_off: true
outcomes: { looked: Looked }
gives: [air]
facts:
  air: { measures: air_flow }
  coil: { one_of: { clear: Clear, frosted: Frosted } }
start: which
steps:
  which:
    choose: coil
    say: How is the coil?
    then:
      - { when: 'coil == \"clear\"', go: read }
      - { when: 'coil == \"frosted\"', go: end }
  read:
    measure: air
    plausible: { from: 'cfm(0)', to: 'cfm(9000)' }
    say: How much air?
    then: end
  end: { finish: looked, say: Looked. }
";

fn begun(flows: &[(&str, &str)], holder: &Person) -> Bench {
    let mut sources = Sources::default();
    for (name, text) in flows {
        sources
            .files
            .insert(format!("{name}.yaml"), (*text).to_owned());
    }
    let library = Library::load(sources).unwrap_or_else(|problems| panic!("{problems:?}"));
    Bench::begin_with(library.edition(&"job".into()).unwrap(), holder)
}

fn knows(bench: &Bench, fact: &str) -> bool {
    use fanwright::flow::expression::Facts;
    bench.state.facts().value(&FactName::from(fact)).is_some()
}

#[test]
fn what_a_flow_gave_is_open_again_when_it_gives_nothing() {
    let [_, tom, ..] = crew();
    let mut bench = begun(&[("job", JOB), ("look-at-air", LOOK)], &tom);
    press(&mut bench, &tom, "clear");
    say(&mut bench, &tom, "300 cfm");
    assert!(knows(&bench, "air"));
    press(&mut bench, &tom, "again");
    press(&mut bench, &tom, "frosted");
    assert!(!knows(&bench, "air"), "300 cfm was another time");
    press(&mut bench, &tom, "enough");
    assert_eq!(step(&bench), "without_air");
    assert_eq!(bench.prompt(&tom).say, "Air: not known.");
}

#[test]
fn what_a_flow_gives_anew_holds_again() {
    let [_, tom, ..] = crew();
    let mut bench = begun(&[("job", JOB), ("look-at-air", LOOK)], &tom);
    press(&mut bench, &tom, "frosted");
    press(&mut bench, &tom, "again");
    press(&mut bench, &tom, "clear");
    say(&mut bench, &tom, "300 cfm");
    press(&mut bench, &tom, "enough");
    assert_eq!(step(&bench), "with_air");
}

/// What a defrost heater gives cannot be worked out where its plate says no volts.
const WORKED: &str = "\
flow: job
title: Job
language: en
hands_off: true
outcomes: { done: Done }
facts:
  plate: { measures: voltage }
  heat: { measures: power }
  more: { one_of: { again: Again, enough: Enough } }
start: read
steps:
  read:
    measure: plate
    plausible: { from: 'volt(0)', to: 'volt(700)' }
    say: Volts on the plate?
    then: work
  work:
    work_out: heater_watts
    with: { rated_watts: 'watt(1000)', rated_volts: plate, measured_volts: 'volt(208)' }
    store: { heat: watts }
    unable: once_more
    say: What it gives.
    then: once_more
  once_more:
    choose: more
    say: Once more?
    then:
      - { when: 'more == \"again\"', go: read }
      - { go: end }
  end: { finish: done, say: Done. }
";

#[test]
fn what_was_worked_out_is_open_again_when_it_cannot_be_worked_out() {
    let [_, tom, ..] = crew();
    let mut bench = begun(&[("job", WORKED)], &tom);
    for (typed, is_known) in [("230 V", true), ("0 V", false), ("240 V", true)] {
        say(&mut bench, &tom, typed);
        assert_eq!(knows(&bench, "heat"), is_known, "{typed}");
        press(&mut bench, &tom, GO);
        press(&mut bench, &tom, "again");
    }
}
