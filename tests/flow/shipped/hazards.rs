//! What is found dangerous on the way, and where it leads.

use super::ends::{script, walked};
use super::walker::{Walker, edition};

#[test]
fn every_circuit_of_the_arrival_list_may_be_counted_and_one_more_is_asked_about() {
    for (drain, feed, feeds, is_more) in [
        ("none", "none", "1", false),
        ("same_circuit", "none", "2", false),
        ("own_circuit", "none", "2", false),
        ("none", "same_circuit", "2", false),
        ("same_circuit", "same_circuit", "3", false),
        ("none", "none", "2 | 1", true),
        ("same_circuit", "none", "3 | 2", true),
    ] {
        let answers = [
            ("arrive/kind_of_defrost", "air"),
            ("arrive/drain_heater", drain),
            ("arrive/other_feed", feed),
            ("make-safe/count_feeds", feeds),
        ];
        let mut job = Walker::begin(edition("dead-fan"), script(&answers));
        job.walk_to("make-safe/who_employs", 1);
        let asked = job.saw("make-safe/feed_check");
        assert_eq!(asked, is_more, "{drain} {feed} {feeds}");
    }
}

/// A job with a weak capacitor, on which a charge is read once, at `place`.
fn charged(place: &'static str, volts: &'static str) -> Vec<(&'static str, &'static str)> {
    let mut answers = vec![
        ("arrive/kind_of_motor", "psc"),
        ("make-safe/charge_again", "0.2 V"),
        ("condemn-the-part/capacitor_volts", "0.2 V"),
        ("condemn-the-part/name_the_part", "capacitor"),
        ("change-the-part/charge_gone", "0.2 V"),
        ("change-the-part/capacitor_old", "5 uF"),
        ("change-the-part/capacitor_new", "5 uF"),
        ("change-the-part/capacitor_new_volts", "440 V"),
    ];
    answers.push((place, volts));
    answers
}

#[test]
fn a_charge_that_came_back_is_drained_and_tested_by_the_whole_of_making_safe() {
    for volts in ["35 V | 0.2 V", "-35 V | 0.2 V"] {
        for (flow, place, goes_on) in [
            (
                "condemn-the-part",
                "condemn-the-part/capacitor_volts",
                "condemn-the-part/capacitor_lead_off",
            ),
            (
                "change-the-part",
                "change-the-part/charge_gone",
                "change-the-part/capacitor_old",
            ),
        ] {
            let job = walked(&charged(place, volts), "repaired");
            let again = format!("{flow}/charge_is_back");
            job.saw_in_order(&[
                place,
                &again,
                "make-safe/begin",
                "make-safe/charge_wait_printed",
                "make-safe/bleed_time",
                "make-safe/prove_capacitor",
                "make-safe/charge_again",
                place,
                goes_on,
            ]);
            let mut between = job.between(&again, place).iter();
            assert!(between.all(|screen| screen.starts_with("make-safe/")));
        }
    }
}

#[test]
fn a_charge_that_comes_back_within_the_test_ends_its_proof() {
    let answers = charged("make-safe/charge_again", "-35 V | 0.2 V");
    let mut job = Walker::begin(edition("dead-fan"), script(&answers));
    job.walk_to("make-safe/charge_came_back", 1);
    assert!(job.is_proved("stored_charge"));
    job.walk_to("make-safe/try_to_start", 2);
    assert!(!job.is_proved("stored_charge"));
    assert_eq!(job.walk(), "repaired");
}

#[test]
fn a_speed_that_turned_out_unknown_is_not_taken_for_the_old_fans() {
    let mut job = Walker::begin(
        edition("dead-fan"),
        script(&[
            ("match-the-replacement/model_first", "no plate"),
            (
                "match-the-replacement/known_from",
                "fan_law | fan_law | label_speed",
            ),
            ("match-the-replacement/is_rpm_known", "printed | not_known"),
            ("match-the-replacement/blade_diameter", "17 in | 10 in"),
            ("match-the-replacement/decide_what_now", "read_again"),
        ]),
    );
    job.walk();
    job.saw_in_order(&[
        "match-the-replacement/choose_by_old_speed",
        "match-the-replacement/decide_what_now",
        "match-the-replacement/no_old_speed",
        "match-the-replacement/choose_by_label_speed",
    ]);
}

#[test]
fn a_circuit_of_three_wires_is_tested_at_every_pair_and_each_to_ground() {
    for (motor, fan_test) in [
        ("shaded_pole", "make-safe/prove_leads_three"),
        ("unknown", "make-safe/prove_capacitor_three"),
    ] {
        let job = walked(
            &[
                ("arrive/kind_of_motor", motor),
                ("arrive/kind_of_defrost", "electric"),
                ("condemn-the-part/motor_kind", "shaded_pole"),
                ("make-safe/charge_again", "0.2 V"),
                ("make-safe/fan_wires", "three"),
                ("make-safe/heater_wires", "three"),
            ],
            "replaced",
        );
        for (test, points) in [
            (
                fan_test,
                [
                    "L1 to L2",
                    "L1 to L3 or neutral",
                    "L2 to L3 or neutral",
                    "L1 to ground",
                    "L2 to ground",
                    "L3 or neutral to ground",
                ],
            ),
            (
                "make-safe/prove_heaters_three",
                [
                    "First heater lead to second heater lead",
                    "First heater lead to third heater lead",
                    "Second heater lead to third heater lead",
                    "First heater lead to ground",
                    "Second heater lead to ground",
                    "Third heater lead to ground",
                ],
            ),
        ] {
            let asked = job.said_at(test);
            for point in points {
                let wanted = format!("Meter on AC volts, {point}. ");
                assert!(
                    asked.iter().any(|it| it.contains(&wanted)),
                    "{test}: {point}"
                );
            }
            let points = asked.iter().filter(|it| it.contains("Meter on AC volts, "));
            assert_eq!(points.count(), 6, "{test}: {asked:?}");
        }
    }
}

#[test]
fn wires_that_nobody_can_count_are_left_locked_for_an_electrician() {
    for step in ["make-safe/fan_wires", "make-safe/heater_wires"] {
        let job = walked(&[(step, "more")], "left_locked_out");
        job.saw_in_order(&[step, "make-safe/who_answers", "make-safe/when_next"]);
        assert!(job.has_locks());
    }
}

#[test]
fn a_blade_is_free_where_it_is_turned_by_hand_and_wedged_again_after() {
    let rub = [
        ("prove-it/listen", "rub | smooth"),
        ("put-it-right/look_at_blade", "off_centre"),
    ];
    let blade = [("condemn-the-part/name_the_part", "blade")];
    for (answers, turned, goes_on) in [
        (&[][..], "mount/gap_of_new", "mount/which_way_air"),
        (&[][..], "mount/spin_it", "mount/which_way_air"),
        (
            &rub[..],
            "put-it-right/look_at_blade",
            "put-it-right/centre_it",
        ),
        (&rub[..], "put-it-right/spin_it", "put-it-right/guard_on"),
        (
            &blade[..],
            "change-the-part/spin_the_blade",
            "change-the-part/photo_last",
        ),
    ] {
        let mut job = Walker::begin(edition("dead-fan"), script(answers));
        job.walk_to(turned, 1);
        assert!(!job.is_proved("blade"), "{turned}");
        job.walk_to(goes_on, 1);
        assert!(job.is_proved("blade"), "{goes_on}");
        job.walk();
    }
}

#[test]
fn nothing_ticked_is_not_taken_for_nothing_that_goes_off() {
    let job = walked(&[("make-safe/goes_off_too", " | none_else")], "replaced");
    job.saw_in_order(&[
        "make-safe/goes_off_too",
        "make-safe/look_what_goes_off",
        "make-safe/goes_off_too",
        "make-safe/light_at_hand",
    ]);
}

#[test]
fn a_fresh_start_of_an_ec_motor_ends_the_cooling_call_first_and_gives_it_back() {
    let job = walked(
        &[
            ("arrive/kind_of_motor", "ec"),
            ("live-checks/does_it_turn", "stands | well"),
            ("live-checks/kind_of_signal", "none_needed"),
            ("live-checks/started_now", "still_stands"),
            ("live-checks/started_at_last", "turns_now"),
            ("live-checks/air_direction", "as_siblings"),
            ("live-checks/speed_reading", "lack"),
        ],
        "not_a_motor_fault",
    );
    job.saw_in_order(&[
        "live-checks/end_cooling",
        "live-checks/compressor_stops",
        "live-checks/rotor_pause",
        "live-checks/rotor_restart",
        "live-checks/call_fans_again",
        "live-checks/cooling_again",
        "live-checks/fan_amps",
        "hand-over/what_was_wrong",
    ]);
}
