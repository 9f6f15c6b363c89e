//! The lockout topic's formulas by name.

use super::{
    APPLY_ORDER, Gate, HandoverVerdict, INTERLUDE_ORDER, InterludeStep, LockoutNeed, NoticeVerdict,
    RELEASE_ORDER, RemovalConditions, RemovalVerdict, cord_and_plug, group_gate, in_order,
    judge_handover, judge_notice, judge_removal, parse_time, stored_energy_gate,
};
use crate::trade::formula::{
    Arguments, CannotWorkOut, Confidence, Formula, Output, Parameter, Results, Value, ValueType,
};
use crate::trade::goods::Goods;
use crate::trade::typed::{TRUE_OR_FALSE, maybe_truth};

const GATE: Output = Output::of(
    "gate",
    ValueType::Word(Gate::WORDS),
    "whether work may go on",
);
const ORDER: Output = Output::of("order", ValueType::Text, "the steps, one a line");

/// The formulas of this topic.
pub(crate) const FORMULAS: &[Formula] = &[
    Formula {
        name: "lockout_order",
        version: 1,
        about: "The order of applying control of energy.",
        symbols: "(d)(1) → (d)(6)",
        source: "29 CFR 1910.147(d)",
        confidence: Confidence::Seen,
        takes: &[],
        gives: &[ORDER],
        run: |_, _| {
            let lines = APPLY_ORDER
                .iter()
                .map(|step| format!("{} {}", step.cite(), step.word()));
            Ok(Results::default().with("order", list(lines)))
        },
    },
    Formula {
        name: "release_order",
        version: 1,
        about: "The order of returning equipment to service.",
        symbols: "(e)(1) → (e)(2)(i) → (e)(3) → (e)(2)(ii) → start",
        source: "29 CFR 1910.147(e)",
        confidence: Confidence::Seen,
        takes: &[],
        gives: &[ORDER],
        run: |_, _| {
            let lines = RELEASE_ORDER.iter().map(|step| match step.cite() {
                Some(cite) => format!("{cite} {}", step.word()),
                None => step.word().to_owned(),
            });
            Ok(Results::default().with("order", list(lines)))
        },
    },
    Formula {
        name: "test_interlude",
        version: 1,
        about: "Whether a test with the locks off was made in its order, back to full lockout.",
        symbols: "clear tools → clear people → remove → energise and test → apply again",
        source: "29 CFR 1910.147(f)(1), from memory",
        confidence: Confidence::FromMemory,
        takes: &[Parameter::needed(
            "steps",
            ValueType::Text,
            "the steps taken, by name with commas: clear_tools, clear_people, remove_devices, \
             energise_and_test, apply_again",
        )],
        gives: &[Output::of(
            "in_order",
            TRUE_OR_FALSE,
            "whether the order was kept",
        )],
        run: test_interlude,
    },
    Formula {
        name: "restart_notice",
        version: 1,
        about: "Whether people were told between the last lock and the start.",
        symbols: "removed < notified < started",
        source: "29 CFR 1910.147(e)(2)(ii)",
        confidence: Confidence::Seen,
        takes: &[
            Parameter::needed("removed_at", ValueType::Text, "when the last lock came off"),
            Parameter::needed("notified_at", ValueType::Text, "when people were told"),
            Parameter::needed("started_at", ValueType::Text, "when it was started"),
        ],
        gives: &[Output::of(
            "verdict",
            ValueType::Word(NoticeVerdict::WORDS),
            "the verdict",
        )],
        run: restart_notice,
    },
    Formula {
        name: "lock_removal",
        version: 1,
        about: "Whether a person may remove a lock.",
        symbols: "own lock, or every condition of the exception",
        source: "29 CFR 1910.147(e)(3)(i)-(iii)",
        confidence: Confidence::Seen,
        takes: &[
            Parameter::needed("applied_by", ValueType::Text, "who hung it"),
            Parameter::needed("removed_by", ValueType::Text, "who would remove it"),
            Parameter::optional("verified_absent", TRUE_OR_FALSE, "false", "not at the site"),
            Parameter::optional("contact_tried", TRUE_OR_FALSE, "false", "all efforts made"),
            Parameter::optional(
                "will_be_told",
                TRUE_OR_FALSE,
                "false",
                "before work resumes",
            ),
            Parameter::optional(
                "procedure_and_training",
                TRUE_OR_FALSE,
                "false",
                "written procedure and training exist",
            ),
        ],
        gives: &[Output::of(
            "verdict",
            ValueType::Word(RemovalVerdict::WORDS),
            "the verdict",
        )],
        run: lock_removal,
    },
    Formula {
        name: "lock_handover",
        version: 1,
        about: "Whether protection was continuous over a change of person.",
        symbols: "incoming on ≤ outgoing off, then proved again",
        source: "29 CFR 1910.147(f)(4)",
        confidence: Confidence::Seen,
        takes: &[
            Parameter::needed("incoming_applied", ValueType::Text, "incoming lock on"),
            Parameter::needed("outgoing_removed", ValueType::Text, "outgoing lock off"),
            Parameter::optional("verified_again", TRUE_OR_FALSE, "false", "by the incoming"),
        ],
        gives: &[Output::of(
            "verdict",
            ValueType::Word(HandoverVerdict::WORDS),
            "the verdict",
        )],
        run: lock_handover,
    },
    Formula {
        name: "group_locks",
        version: 1,
        about: "Whether everyone exposed has an own lock on.",
        symbols: "locks ≥ people",
        source: "29 CFR 1910.147(f)(3)(ii)(D)",
        confidence: Confidence::Seen,
        takes: &[
            Parameter::needed("workers", ValueType::Number, "people exposed"),
            Parameter::needed(
                "personal_locks",
                ValueType::Number,
                "their own locks that are on",
            ),
        ],
        gives: &[GATE],
        run: |arguments, _| {
            let gate = group_gate(
                count(arguments, "workers")?,
                count(arguments, "personal_locks")?,
            );
            Ok(gated(
                gate,
                "Everyone has a lock on.",
                "Someone has no lock on: nobody works.",
            ))
        },
    },
    Formula {
        name: "cord_and_plug",
        version: 1,
        about: "Whether cord-and-plug equipment still needs a lock.",
        symbols: "unplugged and under exclusive control",
        source: "29 CFR 1910.147(a)(2)(iii)(A)",
        confidence: Confidence::Seen,
        takes: &[
            Parameter::needed("unplugged", TRUE_OR_FALSE, "the plug is out"),
            Parameter::needed(
                "exclusive_control",
                TRUE_OR_FALSE,
                "in your own sight and reach",
            ),
        ],
        gives: &[Output::of(
            "lockout",
            ValueType::Word(LockoutNeed::WORDS),
            "the verdict",
        )],
        run: |arguments, _| {
            let need = cord_and_plug(
                arguments.truth("unplugged")?,
                arguments.truth("exclusive_control")?,
            );
            let sentence = match need {
                LockoutNeed::Required => "Lock the plug, or keep it in your own hands.",
                LockoutNeed::NotRequired => "Keep the plug with you. Prove dead all the same.",
            };
            Ok(Results::default()
                .put_word("lockout", need.word())
                .say(sentence))
        },
    },
    Formula {
        name: "stored_energy",
        version: 1,
        about: "Whether parts may be touched while a capacitor is there.",
        symbols: "discharged, else handled as energised",
        source: "29 CFR 1910.333(b)(2)(ii)(C)",
        confidence: Confidence::Seen,
        takes: &[Parameter::needed(
            "discharged",
            TRUE_OR_FALSE,
            "measured as discharged",
        )],
        gives: &[GATE],
        run: |arguments, _| {
            let gate = stored_energy_gate(arguments.truth("discharged")?);
            Ok(gated(
                gate,
                "The charge was measured as gone.",
                "Treat it as live: discharge it through a resistor and measure.",
            ))
        },
    },
];

fn list(lines: impl Iterator<Item = String>) -> Value {
    Value::Text(lines.collect::<Vec<_>>().join("\n"))
}

fn gated(gate: Gate, open: &str, closed: &str) -> Results {
    let sentence = match gate {
        Gate::Open => open,
        Gate::Closed => closed,
    };
    Results::default()
        .put_word("gate", gate.word())
        .say(sentence)
}

fn count(arguments: &Arguments, name: &str) -> Result<u32, CannotWorkOut> {
    let number = arguments.number(name)?;
    if number.fract() == 0.0 && (0.0..=1000.0).contains(&number) {
        return Ok(number as u32);
    }
    Err(CannotWorkOut(format!(
        "{name} is {number}; it must be a whole number, zero or above."
    )))
}

fn test_interlude(arguments: &Arguments, _: &Goods<'_>) -> Result<Results, CannotWorkOut> {
    let mut taken = Vec::new();
    for word in arguments.word("steps")?.split(',').map(str::trim) {
        taken.push(InterludeStep::named(word).ok_or_else(|| {
            CannotWorkOut(format!(
                "{word} is no step of a test; the steps are {}.",
                InterludeStep::WORDS.join(", ")
            ))
        })?);
    }
    let kept = in_order(&taken, &INTERLUDE_ORDER);
    let sentence = if kept {
        "The order was kept."
    } else {
        "The order is required: back to the first step of lockout, never to the middle."
    };
    Ok(Results::default().put_truth("in_order", kept).say(sentence))
}

fn restart_notice(arguments: &Arguments, _: &Goods<'_>) -> Result<Results, CannotWorkOut> {
    let time = |name| parse_time(arguments.word(name)?);
    let verdict = judge_notice(
        time("removed_at")?,
        time("notified_at")?,
        time("started_at")?,
    );
    let sentence = match verdict {
        NoticeVerdict::InOrder => "People were told between the last lock and the start.",
        NoticeVerdict::BeforeRemoval => "People must be told after the last lock is off.",
        NoticeVerdict::AfterStart => "People must be told before the start.",
    };
    Ok(Results::default()
        .put_word("verdict", verdict.word())
        .say(sentence))
}

fn lock_removal(arguments: &Arguments, _: &Goods<'_>) -> Result<Results, CannotWorkOut> {
    let so = |name| maybe_truth(arguments, name).map(|truth| truth.unwrap_or(false));
    let verdict = judge_removal(
        arguments.word("applied_by")?,
        arguments.word("removed_by")?,
        RemovalConditions {
            verified_absent: so("verified_absent")?,
            contact_tried: so("contact_tried")?,
            will_be_told: so("will_be_told")?,
            procedure_and_training: so("procedure_and_training")?,
        },
    );
    let sentence = match verdict {
        RemovalVerdict::OwnLock => "Your own lock: you may remove it.",
        RemovalVerdict::ByException => "Every condition holds; the employer decides.",
        RemovalVerdict::Refused => "Not yours, and not every condition holds: leave it on.",
    };
    Ok(Results::default()
        .put_word("verdict", verdict.word())
        .say(sentence))
}

fn lock_handover(arguments: &Arguments, _: &Goods<'_>) -> Result<Results, CannotWorkOut> {
    let verdict = judge_handover(
        parse_time(arguments.word("incoming_applied")?)?,
        parse_time(arguments.word("outgoing_removed")?)?,
        maybe_truth(arguments, "verified_again")?.unwrap_or(false),
    );
    let sentence = match verdict {
        HandoverVerdict::Continuous => "Protection was continuous.",
        HandoverVerdict::Gap => "For a while no lock was on: treat as live and prove again.",
        HandoverVerdict::NotVerified => "The incoming person must prove it again first.",
    };
    Ok(Results::default()
        .put_word("verdict", verdict.word())
        .say(sentence))
}
