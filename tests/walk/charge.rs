//! A charge that a meter with swapped leads shows below nought.

use fanwright::record::entry::{ProofFailure, What};

use super::bench::crew;
use super::lockout::{bench, lock, press, say, step, test_dead, up_to_the_proof};

#[test]
fn a_charge_below_nought_is_one_and_swapped_leads_on_a_battery_are_no_fault() {
    let [ann, ..] = crew();
    let swapped = ["121 V", "0.2 V", "121 V", "-9 V", "-0.1 V", "-9 V"];
    let mut passes = bench(&ann);
    up_to_the_proof(&mut passes, &ann);
    lock(&mut passes, &ann);
    let mut charged = passes.clone();
    test_dead(&mut passes, &ann, swapped);
    assert_eq!(step(&passes), "loosen");

    say(&mut charged, &ann, "meter 4");
    press(&mut charged, &ann, "cat_iii_600");
    press(&mut charged, &ann, "whole");
    for text in [
        "the light circuit",
        "121 V",
        "0.2 V",
        "121 V",
        "a battery",
        "9 V",
        "-35 V",
    ] {
        say(&mut charged, &ann, text);
    }
    assert_eq!(step(&charged), "is_live");
    let found = |what: &What| {
        matches!(what, What::ProofFailed { why: ProofFailure::NotDead { read, .. }, .. }
            if read.si == -35.0)
    };
    assert!(
        charged.entries.iter().any(|entry| found(&entry.what)),
        "it is kept as found"
    );
}
