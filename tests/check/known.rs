//! What `known(…)` guards, and what it does not: an expression must come to a value without the
//! fact.

use fanwright::check;
use fanwright::flow::library::Sources;

/// Whether a branch on volts that were read on one way alone is found.
fn is_found(condition: &str) -> bool {
    let text = format!(
        "flow: volts\ntitle: Volts\nlanguage: en\nhands_off: true\noutcomes: {{ done: Done }}\n\
         facts:\n  volts: {{ measures: voltage, show_in: V }}\n  \
         meter: {{ one_of: {{ here: Here, away: Not here }} }}\nstart: which\nsteps:\n  \
         which:\n    \
         choose: meter\n    say: Do you have a meter?\n    cite: common practice\n    then:\n      \
         - {{ when: 'meter == \"here\"', go: read }}\n      \
         - {{ when: 'meter == \"away\"', go: look }}\n  read:\n    measure: volts\n    \
         plausible: {{ from: 'volt(0)', to: 'volt(600)' }}\n    say: Type the volts.\n    \
         cite: common practice\n    then: look\n  look:\n    tell: Go on\n    \
         say: Look at it.\n    \
         cite: common practice\n    then:\n      - {{ when: '{condition}', go: high }}\n      \
         - {{ go: end_done }}\n  high:\n    tell: Go on\n    say: It is high.\n    \
         cite: common practice\n    then: end_done\n  end_done:\n    finish: done\n    \
         say: Finished.\n"
    );
    let mut sources = Sources::default();
    sources.files.insert("volts.yaml".to_owned(), text);
    let findings = check::findings(sources);
    let found = findings
        .iter()
        .filter(|it| it.name == "used_before_answered");
    found.count() > 0
}

#[test]
fn what_comes_to_a_value_without_the_fact_is_guarded() {
    for condition in [
        "known(volts)",
        "known(volts) && volts > volt(200)",
        "volts > volt(200) && known(volts)",
        "!known(volts) || volts > volt(200)",
        "known(volts) ? volts > volt(200) : meter == \"here\"",
        "!(known(volts) && volts > volt(200))",
        "meter == \"away\" || known(volts) && volts / 2 > volt(100)",
        "(known(volts) ? volts : volt(0)) > volt(200)",
    ] {
        assert!(!is_found(condition), "{condition}");
    }
}

#[test]
fn what_has_no_value_without_the_fact_is_found_though_it_asks_known() {
    for condition in [
        "volts > volt(200)",
        "known(volts) || volts > volt(200)",
        "!known(volts) && volts > volt(200)",
        "known(volts) ? meter == \"here\" : volts > volt(200)",
        "known(meter) && volts > volt(200)",
        "(known(volts) ? volt(0) : volts) > volt(200)",
    ] {
        assert!(is_found(condition), "{condition}");
    }
}
