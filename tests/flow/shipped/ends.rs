//! Every end of a whole job, each by the answers that lead to it.

use fanwright::trade::chart::Chart;

use super::walker::{Script, Walker, edition};

/// A cooler with two fans, one dead, shaded pole on 208 V; the small assembly fits.
const A_DEAD_MOTOR: &[(&str, &str)] = &[
    ("arrive/count_fans", "2"),
    ("arrive/temperature_now", "41 F"),
    ("arrive/temperature_wanted", "35 F"),
    ("meant-to-be-off/door_switch", "no_switch"),
    ("meant-to-be-off/count_dead", "1"),
    ("iced-coil/old_ice", "not_iced"),
    ("live-checks/meter_marks", "cat_four"),
    ("live-checks/rated_lower", "208 V"),
    ("live-checks/rated_higher", "230 V"),
    ("live-checks/supply_reading", "208 V"),
    ("live-checks/does_it_turn", "stands"),
    ("condemn-the-part/one_winding", "over_limit"),
    ("make-safe/goes_off_too", "none_else"),
    ("match-the-replacement/model_first", "NQ-LP-2060"),
    ("match-the-replacement/old_power", "9 W"),
    ("match-the-replacement/which_rotation", "counterclockwise"),
    (
        "match-the-replacement/which_air_direction",
        "away_from_motor",
    ),
    ("match-the-replacement/blade_diameter", "10 in"),
    (
        "match-the-replacement/mounting_pattern",
        "four holes on 5 in",
    ),
    ("match-the-replacement/protection_class", "IP44"),
    (
        "match-the-replacement/name_the_plug",
        "NQ three-pin, earth in the middle",
    ),
    ("match-the-replacement/how_many_rows", "3"),
    ("match-the-replacement/how_long_coil", "24 in"),
    ("match-the-replacement/amps_on_plate", "0.8 A"),
    ("set-the-speed/type_setting", "3"),
    ("put-back-in-service/count_tools_in", "4"),
    ("put-back-in-service/count_people", "0"),
    ("put-back-in-service/last_look", "all_clear"),
    ("check-the-air/measure_face", "225 fpm"),
    ("hand-over/what_is_open", "nothing_open"),
];

pub(super) fn script(changes: &[(&'static str, &'static str)]) -> Script {
    let mut script = Script::new();
    for (name, answers) in A_DEAD_MOTOR.iter().chain(changes) {
        script.insert(name, answers.split(" | ").collect());
    }
    script
}

pub(super) fn walked(changes: &[(&'static str, &'static str)], end: &str) -> Walker {
    let mut job = Walker::begin(edition("dead-fan"), script(changes));
    assert_eq!(job.walk(), end);
    job
}

#[test]
fn a_dead_motor_is_replaced_and_its_fan_proved() {
    let job = walked(&[], "replaced");
    let order = [
        "condemn-the-part/name_the_part",
        "match-the-replacement/choose_by_book",
        "set-the-speed/photo_as_set",
        "mount/lowest_plug_out",
        "connect-the-leads/plug_in",
        "put-back-in-service/fan_lock_off",
        "put-back-in-service/tell_the_people",
        "put-back-in-service/close_fans",
        "prove-it/measure_amps",
        "show-the-gain/tell_the_owner",
        "hand-over/recheck_when",
    ];
    job.saw_in_order(&order);
    assert!(!job.saw("mount/electrician_takes_over"));
}

#[test]
fn the_choice_of_the_setting_and_the_gain_are_drawn() {
    let job = walked(&[], "replaced");
    for screen in [
        "match-the-replacement/choose_by_book",
        "set-the-speed/which_setting",
    ] {
        let charts = job.charts(screen);
        let [Chart::Settings { steps, wanted }] = charts.as_slice() else {
            panic!("{screen}: {charts:?}");
        };
        assert!(steps.len() > 1 && wanted.is_some(), "{screen}: {steps:?}");
        assert!(steps.iter().all(|step| step.cfm.is_some()), "{steps:?}");
        assert_eq!(steps.iter().filter(|step| step.chosen).count(), 1);
    }
    for screen in [
        "show-the-gain/gain_with_money",
        "show-the-gain/tell_the_owner",
    ] {
        let charts = job.charts(screen);
        let [Chart::BeforeAndAfter { pairs, .. }] = charts.as_slice() else {
            panic!("{screen}: {charts:?}");
        };
        assert_eq!(pairs.len(), 2, "watts and heat");
    }
}

#[test]
fn a_lead_that_must_be_cut_is_held_for_an_electrician_before_anything_comes_out() {
    let job = walked(
        &[
            ("match-the-replacement/look_at_old_end", "joint"),
            ("match-the-replacement/plug_or_cut", "plug | cut"),
        ],
        "replaced",
    );
    job.saw_in_order(&[
        "match-the-replacement/no_plug_there",
        "mount/electrician_takes_over",
        "mount/cut_the_lead",
        "mount/electrician_takes_it_out",
        "connect-the-leads/package_goes_on",
        "connect-the-leads/earth_wire_first",
        "connect-the-leads/join_the_rest",
        "connect-the-leads/seal_each_joint",
        "connect-the-leads/electrician_releases",
        "connect-the-leads/measure_earth",
        "put-back-in-service/pause_and_look",
    ]);
}

#[test]
fn what_is_put_right_after_power_goes_through_the_whole_of_making_safe() {
    let job = walked(
        &[
            ("prove-it/listen", "rub | smooth"),
            ("put-it-right/look_at_blade", "off_centre"),
        ],
        "replaced",
    );
    job.saw_in_order(&[
        "prove-it/bad_sound",
        "prove-it/stop_it_again",
        "make-safe/begin",
        "make-safe/lock_fan",
        "make-safe/prove_leads",
        "put-it-right/no_short_way",
        "put-it-right/guard_off",
        "put-it-right/centre_it",
        "put-back-in-service/fan_lock_off",
        "prove-it/measure_amps",
    ]);
}

#[test]
fn air_that_disagrees_leads_to_another_setting_under_lock() {
    let job = walked(
        &[
            ("check-the-air/measure_face", "150 fpm | 225 fpm"),
            ("check-the-air/choose_cause", "setting"),
            ("set-the-speed/where_is_it", "bench | in_place"),
        ],
        "replaced",
    );
    job.saw_in_order(&[
        "check-the-air/weigh_it",
        "dead-fan/stop_it_for_air",
        "make-safe/prove_leads",
        "set-the-speed/set_in_place",
        "put-back-in-service/close_fans",
        "show-the-gain/tell_the_owner",
    ]);
}

#[test]
fn a_speed_that_disagrees_is_named_by_the_numbers_and_put_right() {
    let job = walked(
        &[
            ("prove-it/measure_speed", "1100 rpm | 1100 rpm | 1550 rpm"),
            ("prove-it/choose_by_numbers", "setting"),
            ("set-the-speed/where_is_it", "bench | in_place"),
        ],
        "replaced",
    );
    job.saw_in_order(&[
        "prove-it/weigh_it",
        "prove-it/choose_by_numbers",
        "make-safe/prove_leads",
        "set-the-speed/which_setting",
        "prove-it/weigh_it",
        "show-the-gain/tell_the_owner",
        "dead-fan/propose_row",
    ]);
}

#[test]
fn a_capacitor_is_changed_for_its_like() {
    let job = walked(
        &[
            ("arrive/kind_of_motor", "psc"),
            ("make-safe/charge_again", "0.2 V"),
            ("condemn-the-part/capacitor_volts", "0.2 V"),
            ("condemn-the-part/name_the_part", "capacitor"),
            ("change-the-part/charge_gone", "0.2 V"),
            ("change-the-part/capacitor_old", "5 uF"),
            ("change-the-part/capacitor_new", "7.5 uF | 5 uF"),
            ("change-the-part/capacitor_new_volts", "440 V"),
        ],
        "repaired",
    );
    job.saw_in_order(&[
        "change-the-part/another_capacitor",
        "change-the-part/move_wires",
        "put-back-in-service/fan_lock_off",
        "prove-it/measure_amps",
    ]);
}

#[test]
fn a_burnt_connector_is_held_for_an_electrician() {
    let job = walked(
        &[
            ("condemn-the-part/name_the_part", "connector"),
            ("change-the-part/look_at_connector", "burnt"),
        ],
        "repaired",
    );
    job.saw_in_order(&[
        "change-the-part/electrician_for_plug",
        "change-the-part/earth_first",
        "change-the-part/electrician_released",
        "put-back-in-service/pause_and_look",
    ]);
}

#[test]
fn a_blade_is_changed_for_its_like() {
    let job = walked(&[("condemn-the-part/name_the_part", "blade")], "repaired");
    job.saw_in_order(&[
        "dead-fan/blade_or_assembly",
        "change-the-part/pull_the_blade",
    ]);
}

#[test]
fn nothing_that_fits_leaves_it_locked_out_with_an_owner() {
    let job = walked(
        &[
            ("match-the-replacement/blade_diameter", "17 in"),
            ("match-the-replacement/decide_what_now", "stop"),
        ],
        "left_locked_out",
    );
    job.saw_in_order(&[
        "match-the-replacement/nothing_fits_here",
        "dead-fan/until_it_is_mended",
        "leave-locked-out/whose_lock",
        "leave-locked-out/when_back",
    ]);
    assert!(job.has_locks());
}

#[test]
fn the_other_fans_may_run_until_the_part_comes() {
    let job = walked(
        &[
            ("match-the-replacement/blade_diameter", "17 in"),
            ("match-the-replacement/decide_what_now", "ask"),
            ("dead-fan/until_it_is_mended", "others_run"),
        ],
        "passed_on",
    );
    job.saw_in_order(&["put-back-in-service/fan_lock_off", "pass-on/who_takes_it"]);
    assert!(!job.has_locks());
}

#[test]
fn a_coil_with_one_fan_does_not_run_without_it() {
    let job = walked(
        &[
            ("arrive/count_fans", "1"),
            ("match-the-replacement/blade_diameter", "17 in"),
            ("match-the-replacement/decide_what_now", "ask"),
            ("dead-fan/until_it_is_mended", "others_run"),
        ],
        "left_locked_out",
    );
    assert!(!job.saw("put-back-in-service/pause_and_look"));
}

#[test]
fn a_rule_of_thumb_waits_for_a_supervisor() {
    let job = walked(
        &[
            ("match-the-replacement/model_first", "no plate"),
            ("match-the-replacement/known_from", "rule_of_thumb"),
            ("match-the-replacement/how_high_coil", "8 in"),
            ("match-the-replacement/count_fins", "4 fpi"),
            ("match-the-replacement/how_deep_coil", "3 in"),
            ("match-the-replacement/how_many_rows", "2"),
            ("set-the-speed/type_setting", "1"),
            ("set-the-speed/speed_of_setting", "1000 rpm"),
            ("prove-it/measure_speed", "1000 rpm"),
            ("check-the-air/anemometer", "not_here"),
        ],
        "replaced",
    );
    job.saw_in_order(&[
        "match-the-replacement/thumb_is_held",
        "set-the-speed/look_at_choice",
    ]);
}

#[test]
fn what_the_fan_needs_comes_from_what_is_known_and_says_so() {
    let unknown_model = ("match-the-replacement/model_first", "no plate");
    for (from, more, origin) in [
        (
            "label_speed",
            ("match-the-replacement/speed_on_label", "1550 rpm"),
            "told",
        ),
        (
            "label_air",
            ("match-the-replacement/air_on_label", "400 cfm"),
            "told",
        ),
        (
            "fan_law",
            ("match-the-replacement/is_rpm_known", "printed"),
            "fan law",
        ),
        (
            "coil_and_duty",
            ("match-the-replacement/capacity_of_coil", "7000 Btu/h"),
            "coil and duty",
        ),
    ] {
        let changes = [
            unknown_model,
            ("match-the-replacement/known_from", from),
            more,
            ("match-the-replacement/decide_what_now", "ask"),
            ("set-the-speed/not_that_setting", "sheet_differs"),
        ];
        let mut job = Walker::begin(edition("dead-fan"), script(&changes));
        job.walk();
        let told = job.result("choose_replacement", "needed_from");
        assert_eq!(told, origin, "{from}");
        let words = job.result("choose_replacement", "needed");
        assert!(words.starts_with("Needed: "), "{words}");
    }
}

#[test]
fn a_coil_outside_the_window_of_the_sheet_asks_for_a_closer_look() {
    let job = walked(
        &[
            ("match-the-replacement/how_many_rows", "12"),
            ("match-the-replacement/decide_what_now", "ask"),
        ],
        "left_locked_out",
    );
    job.saw_in_order(&[
        "match-the-replacement/choose_by_book",
        "match-the-replacement/nothing_fits_here",
        "match-the-replacement/decide_what_now",
    ]);
    let ranking = job.result("choose_replacement", "ranking");
    assert!(ranking.contains("closer look"), "{ranking}");
}

#[test]
fn where_nothing_is_found_the_fan_is_proved_all_the_same() {
    let job = walked(
        &[("condemn-the-part/name_the_part", "nothing_found")],
        "not_a_motor_fault",
    );
    job.saw_in_order(&["dead-fan/nothing_was_found", "prove-it/measure_amps"]);
}

#[test]
fn a_fault_upstream_is_passed_on_without_a_lock() {
    let job = walked(
        &[
            ("live-checks/supply_reading", "0 V"),
            ("live-checks/who_goes_up", "nobody"),
        ],
        "passed_on",
    );
    assert!(!job.has_locks());
}

#[test]
fn ammonia_is_passed_on_before_anything_else() {
    let job = walked(&[("arrive/what_gas", "ammonia")], "passed_on");
    assert!(!job.saw("meant-to-be-off/look_only"));
}

#[test]
fn the_look_after_a_day_ends_well_or_with_a_new_job() {
    let day_after = |changes: &[(&'static str, &'static str)]| {
        Walker::begin(edition("recheck-24h"), script(changes)).walk()
    };
    let well = ("recheck-24h/plate_amps", "0.8 A");
    assert_eq!(day_after(&[well]), "good");
    assert_eq!(
        day_after(&[well, ("recheck-24h/open_items", "still_open")]),
        "small_things"
    );
    assert_eq!(
        day_after(&[well, ("recheck-24h/look_at_coil", "ice")]),
        "new_job"
    );
}

#[test]
fn a_setting_that_needs_power_is_made_from_outside_the_guard() {
    let job = walked(
        &[("set-the-speed/needs_power", "hands_in | later")],
        "replaced",
    );
    job.saw_in_order(&[
        "set-the-speed/not_by_hand_under_power",
        "put-back-in-service/close_fans",
        "dead-fan/set_from_outside",
        "prove-it/measure_amps",
    ]);
    assert!(!job.saw("set-the-speed/set_on_bench"));
}

#[test]
fn a_flammable_refrigerant_is_never_measured_inside() {
    let job = walked(
        &[
            ("arrive/what_gas", "a2l"),
            ("match-the-replacement/model_first", "NQ-HV-4120"),
            ("match-the-replacement/blade_diameter", "12 in"),
            (
                "match-the-replacement/mounting_pattern",
                "four holes on 6 in",
            ),
            (
                "match-the-replacement/name_the_plug",
                "NQ four-pin, earth on pin 4",
            ),
            ("match-the-replacement/count_fins", "4 fpi"),
            ("match-the-replacement/how_deep_coil", "3 in"),
            ("set-the-speed/type_setting", "high"),
            ("prove-it/no_spark_inside", "only_inside"),
            ("check-the-air/anemometer", "not_here"),
        ],
        "replaced",
    );
    job.saw_in_order(&[
        "match-the-replacement/maker_names_it",
        "prove-it/where_is_held",
        "prove-it/measure_volts",
    ]);
}
