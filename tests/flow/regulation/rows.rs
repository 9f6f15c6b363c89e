//! What the published rules of lockout ask for, and the steps of the shipped flows that carry it.
//!
//! Sources, each read in a public copy: 29 CFR 1910.147 (control of hazardous energy), 29 CFR
//! 1910.331 to .335 (electrical work practices), NFPA 70E-2018 120.5 (its eight steps, as listed
//! in the trade press), DOE-HDBK-1092 section 2.13. The rows say it in our own words.

/// One thing that a rule asks for.
pub(super) struct Row {
    /// A short name for messages.
    pub(super) what: &'static str,
    /// The paragraph; each of the steps must cite it, or a paragraph inside it.
    pub(super) cite: &'static str,
    /// The steps that carry it, `flow/step`; all of them must be there.
    pub(super) steps: &'static [&'static str],
}

const fn row(what: &'static str, cite: &'static str, steps: &'static [&'static str]) -> Row {
    Row { what, cite, steps }
}

/// 29 CFR 1910.147, applying control.
pub(super) const LOCKOUT: &[Row] = &[
    row(
        "kind and size of each energy are known before the shutdown",
        "29 CFR 1910.147(d)(1)",
        &[
            "make-safe/fan_volts",
            "make-safe/heater_volts",
            "make-safe/other_energy",
        ],
    ),
    row(
        "affected people are told before the locks go on",
        "29 CFR 1910.147(c)(9)",
        &["make-safe/tell_people"],
    ),
    row(
        "shut down in good order, the normal way",
        "29 CFR 1910.147(d)(2)",
        &[
            "make-safe/end_cooling",
            "make-safe/close_liquid",
            "make-safe/compressor_stops",
            "live-checks/end_cooling",
            "live-checks/compressor_stops",
        ],
    ),
    row(
        "each isolating device is named and operated",
        "29 CFR 1910.147(d)(3)",
        &[
            "make-safe/fan_device",
            "make-safe/open_fan",
            "make-safe/heater_device",
            "make-safe/open_heaters",
            "make-safe/drain_device",
            "make-safe/open_drain",
            "make-safe/feed_device",
            "make-safe/open_feed",
        ],
    ),
    row(
        "each device gets the own lock and tag",
        "29 CFR 1910.147(d)(4)(i)",
        &[
            "make-safe/lock_fan",
            "make-safe/lock_heaters",
            "make-safe/lock_drain",
            "make-safe/lock_feed",
            "make-safe/lock_plug",
        ],
    ),
    row(
        "a lock holds its device off",
        "29 CFR 1910.147(d)(4)(ii)",
        &["make-safe/lock_fan", "make-safe/pull_each_lock"],
    ),
    row(
        "a tag forbids operating",
        "29 CFR 1910.147(d)(4)(iii)",
        &["make-safe/lock_fan"],
    ),
    row(
        "stored and residual energy is relieved or restrained",
        "29 CFR 1910.147(d)(5)(i)",
        &[
            "make-safe/blades_look",
            "make-safe/this_blade_stands",
            "make-safe/charge_wait",
            "make-safe/charge_wait_printed",
            "make-safe/wedge_blade",
            "mount/wedge_new_blade",
            "change-the-part/wedge_in",
            "put-it-right/wedged_for_work",
            "put-it-right/wedged_at_last",
        ],
    ),
    row(
        "what can build up again is looked at again",
        "29 CFR 1910.147(d)(5)(ii)",
        &[
            "make-safe/charge_rest",
            "make-safe/charge_again",
            "make-safe/charge_came_back",
            "condemn-the-part/charge_is_back",
            "change-the-part/charge_is_back",
        ],
    ),
    row(
        "isolation is verified before the work begins",
        "29 CFR 1910.147(d)(6)",
        &[
            "make-safe/try_to_start",
            "make-safe/prove_capacitor",
            "make-safe/prove_capacitor_three",
            "make-safe/prove_leads",
            "make-safe/prove_leads_three",
            "make-safe/prove_heaters",
            "make-safe/prove_heaters_three",
            "make-safe/prove_drain",
            "make-safe/prove_feed",
        ],
    ),
    row(
        "a plug counts only while it is out and in the worker's own control",
        "29 CFR 1910.147(a)(2)(iii)(A)",
        &[
            "make-safe/pull_plug",
            "make-safe/plug_in_sight",
            "make-safe/lock_plug",
        ],
    ),
    row(
        "the flow stands on both parts of the law: lockout",
        "29 CFR 1910.147(a)(1)(ii)(C)",
        &["make-safe/which_procedure"],
    ),
    row(
        "several people: each a lock, one who leads",
        "29 CFR 1910.147(f)(3)",
        &["make-safe/who_works", "make-safe/lockout_leader"],
    ),
    row(
        "another person takes over without a gap, and tests again",
        "29 CFR 1910.147(f)(4)",
        &["make-safe/stays_good", "leave-locked-out/whose_lock"],
    ),
];

/// 29 CFR 1910.147(e), back to service.
pub(super) const RELEASE: &[Row] = &[
    row(
        "the area is inspected: things out, machine whole",
        "29 CFR 1910.147(e)(1)",
        &[
            "put-back-in-service/count_tools_out",
            "put-back-in-service/look_for_leftovers",
            "put-back-in-service/refit_guard",
            "live-checks/count_out",
            "live-checks/guard_seen",
        ],
    ),
    row(
        "everybody is clear",
        "29 CFR 1910.147(e)(2)(i)",
        &[
            "put-back-in-service/count_people",
            "live-checks/look_for_people",
        ],
    ),
    row(
        "each lock is taken off by the person who hung it, or by the exception's three conditions",
        "29 CFR 1910.147(e)(3)",
        &[
            "put-back-in-service/other_locks",
            "put-back-in-service/feed_lock_off",
            "put-back-in-service/drain_lock_off",
            "put-back-in-service/heater_lock_off",
            "put-back-in-service/fan_lock_off",
            "live-checks/locks_off",
        ],
    ),
    row(
        "people are told after the removal and before the start",
        "29 CFR 1910.147(e)(2)(ii)",
        &[
            "put-back-in-service/tell_the_people",
            "live-checks/tell_power",
        ],
    ),
];

/// 29 CFR 1910.333(b)(2) and .334(c), with the handbook on testing.
pub(super) const ELECTRICAL: &[Row] = &[
    row(
        "a written procedure is at hand",
        "29 CFR 1910.333(b)(2)(i)",
        &["make-safe/which_procedure"],
    ),
    row(
        "the way to do it is settled before anything is opened",
        "29 CFR 1910.333(b)(2)(ii)(A)",
        &["make-safe/which_procedure"],
    ),
    row(
        "the flow stands on both parts of the law: electrical",
        "29 CFR 1910.333(b)(2) Note 2",
        &["make-safe/which_procedure"],
    ),
    row(
        "every source is disconnected",
        "29 CFR 1910.333(b)(2)(ii)(B)",
        &["make-safe/count_feeds", "make-safe/feed_check"],
    ),
    row(
        "a control device is never the isolation",
        "29 CFR 1910.333(b)(2)(ii)(B)",
        &["make-safe/kind_of_isolation"],
    ),
    row(
        "stored electric energy is released",
        "29 CFR 1910.333(b)(2)(ii)(C)",
        &[
            "make-safe/charge_minutes",
            "make-safe/charge_wait",
            "make-safe/charge_wait_printed",
            "make-safe/has_bleeder",
            "make-safe/bleed",
        ],
    ),
    row(
        "other stored energy is blocked",
        "29 CFR 1910.333(b)(2)(ii)(D)",
        &["make-safe/blades_look"],
    ),
    row(
        "the parts to be touched are tested, each source",
        "29 CFR 1910.333(b)(2)(iv)(B)",
        &[
            "make-safe/prove_capacitor",
            "make-safe/prove_capacitor_three",
            "make-safe/prove_leads",
            "make-safe/prove_leads_three",
            "make-safe/prove_heaters",
            "make-safe/prove_heaters_three",
            "make-safe/prove_drain",
            "make-safe/prove_feed",
        ],
    ),
    row(
        "instrument and leads are looked over and rated for the place",
        "29 CFR 1910.334(c)",
        &[
            "make-safe/kind_of_meter",
            "make-safe/meter_rating",
            "make-safe/open_the_box",
        ],
    ),
    row(
        "meter and leads are rated for the volts that they may meet",
        "29 CFR 1910.334(c)(3)",
        &[
            "make-safe/meter_rating",
            "live-checks/meter_marks",
            "iced-coil/heater_meter",
            "prove-it/read_the_meter",
            "recheck-24h/read_the_meter",
        ],
    ),
    row(
        "tested against a known source before and after also under 600 V; no proximity tester",
        "DOE-HDBK-1092, section 2.13",
        &[
            "make-safe/kind_of_meter",
            "make-safe/get_meter",
            "make-safe/prove_capacitor",
            "make-safe/prove_leads",
        ],
    ),
];

/// NFPA 70E-2018 120.5, step by step.
pub(super) const EIGHT_STEPS: &[Row] = &[
    row(
        "1: find all sources",
        "NFPA 70E-2018, 120.5(1)",
        &["make-safe/count_feeds"],
    ),
    row(
        "2: open each disconnect",
        "NFPA 70E-2018, 120.5(2)",
        &[
            "make-safe/open_fan",
            "make-safe/open_heaters",
            "make-safe/open_drain",
            "make-safe/open_feed",
        ],
    ),
    row(
        "3: see that it is open",
        "NFPA 70E-2018, 120.5(3)",
        &["make-safe/see_fan_open"],
    ),
    row(
        "4: release stored electrical energy",
        "NFPA 70E-2018, 120.5(4)",
        &["make-safe/charge_minutes", "make-safe/bleed"],
    ),
    row(
        "5: block mechanical energy",
        "NFPA 70E-2018, 120.5(5)",
        &["make-safe/wedge_blade"],
    ),
    row(
        "6: lock and tag",
        "NFPA 70E-2018, 120.5(6)",
        &[
            "make-safe/lock_fan",
            "make-safe/lock_heaters",
            "make-safe/lock_drain",
            "make-safe/lock_feed",
        ],
    ),
    row(
        "7: absence of voltage, live-dead-live",
        "NFPA 70E-2018, 120.5(7)",
        &[
            "make-safe/prove_capacitor",
            "make-safe/prove_capacitor_three",
            "make-safe/prove_leads",
            "make-safe/prove_leads_three",
            "make-safe/prove_heaters",
            "make-safe/prove_heaters_three",
            "make-safe/prove_drain",
            "make-safe/prove_feed",
        ],
    ),
    row(
        "8: ground what may be induced or stored",
        "NFPA 70E-2018, 120.5(8)",
        &["make-safe/why_live"],
    ),
];
