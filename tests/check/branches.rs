//! Branches on numbers that lay claim to the same values: which are told, with which sample.

use fanwright::check::{self, Grade};
use fanwright::flow::library::Sources;

/// The findings about a reading of volts that branches like this.
fn told(branches: &str) -> Vec<String> {
    let text = format!(
        "flow: volts\ntitle: Volts\nlanguage: en\nhands_off: true\noutcomes: {{ done: Done }}\n\
         facts: {{ volts: {{ measures: voltage, show_in: V, label: Volts at the terminals }} }}\n\
         start: read\nsteps:\n  read:\n    measure: volts\n    \
         plausible: {{ from: 'volt(0)', to: 'volt(600)' }}\n    say: Type the volts.\n    \
         cite: common practice\n    then:\n{branches}  low:\n    tell: Go on\n    \
         say: It is low.\n    then: end_done\n  high:\n    tell: Go on\n    say: It is high.\n    \
         then: end_done\n  end_done:\n    finish: done\n    say: Finished.\n"
    );
    let mut sources = Sources::default();
    sources.files.insert("volts.yaml".to_owned(), text);
    let findings = check::findings(sources);
    let told = findings.into_iter().map(|finding| {
        assert_eq!(finding.name, "branch_overlap", "{finding}");
        assert_eq!(finding.grade, Grade::Advice);
        finding.wrong
    });
    told.collect()
}

#[test]
fn two_stretches_that_cross_are_told_with_a_value_in_both() {
    let told = told(
        "      - { when: 'volts < volt(250)', go: low }\n      \
         - { when: 'volts > volt(200)', go: high }\n",
    );
    assert_eq!(
        told,
        ["In `read` the branches to `low` and to `high` both hold where `volts` is 225 V."]
    );
}

#[test]
fn a_special_case_before_the_general_one_is_meant() {
    let told = told(
        "      - { when: 'volts < volt(50)', go: low }\n      \
         - { when: 'volts < volt(250)', go: high }\n      - { go: end_done }\n",
    );
    assert_eq!(told, Vec::<String>::new());
}

#[test]
fn branches_that_cross_and_lead_to_the_same_step_do_no_harm() {
    let told = told(
        "      - { when: 'volts < volt(250)', go: low }\n      \
         - { when: 'volts > volt(200) && volts < volt(300)', go: low }\n      \
         - { go: high }\n",
    );
    assert_eq!(told.len(), 0, "{told:?}");
}

#[test]
fn what_an_earlier_branch_has_taken_is_not_told_of_later_ones() {
    let told = told(
        "      - { when: 'volts >= volt(200) && volts <= volt(250)', go: end_done }\n      \
         - { when: 'volts < volt(250)', go: low }\n      \
         - { when: 'volts > volt(200)', go: high }\n",
    );
    assert_eq!(told.len(), 2, "{told:?}");
    assert!(told.iter().all(|told| told.contains("`end_done`")));
}
