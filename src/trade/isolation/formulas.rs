//! The isolation topic's formulas by name.

use uom::si::f64::ElectricPotential;

use super::{
    CONDUCTORS_MAX, Instrument, InstrumentCheck, IsolationMeans, PROOF_ORDER, Proof, ProofVerdict,
    ReadingVerdict, accepted, covered_by, instrument_check, isolates, judge_proof, judge_reading,
    readings_needed,
};
use crate::trade::formula::{
    Arguments, CannotWorkOut, Confidence, Formula, Output, Parameter, Results, Value, ValueType,
};
use crate::trade::goods::Goods;
use crate::trade::quantity::Kind;
use crate::trade::typed::{TRUE_OR_FALSE, VOLTAGE, chosen, given, maybe_truth, several};

const LIVE_WORK: &str =
    "Looking for voltage is live work: qualified person, rated meter, gear on until proved.";

/// The formulas of this topic.
pub(crate) const FORMULAS: &[Formula] = &[
    Formula {
        name: "absence_of_voltage",
        version: 1,
        about: "What a recorded live-dead-live test is worth.",
        symbols: "known source → all readings ≤ limit → known source",
        source: "NFPA 70E-2018 120.5 step 7; limit: the row absence_of_voltage_limit",
        confidence: Confidence::Seen,
        takes: &[
            Parameter::needed(
                "instrument",
                ValueType::Word(Instrument::WORDS),
                "the tester",
            ),
            Parameter::needed("known_before", VOLTAGE, "at the known live source, before"),
            Parameter::needed(
                "readings",
                ValueType::Quantities(Kind::Voltage),
                "AC, every pair of conductors and each to ground",
            ),
            Parameter::needed("known_after", VOLTAGE, "at the known live source, after"),
            Parameter::optional(
                "conductors",
                ValueType::Number,
                "as many as the readings cover",
                "conductors that end here, neutral included, 1 to 12",
            ),
            Parameter::optional(
                "direct",
                ValueType::Quantities(Kind::Voltage),
                "not measured",
                "DC across what stores charge",
            ),
            Parameter::optional(
                "stores_charge",
                TRUE_OR_FALSE,
                "nothing stores charge",
                "whether a capacitor or an EC motor is there",
            ),
        ],
        gives: &[
            Output::of(
                "verdict",
                ValueType::Word(ProofVerdict::WORDS),
                "what it is worth",
            ),
            Output::of(
                "readings_needed",
                ValueType::Number,
                "AC readings that it takes",
            ),
        ],
        run: absence_of_voltage,
    },
    Formula {
        name: "voltage_reading",
        version: 1,
        about: "What one reading on a circuit that should be off says.",
        symbols: "|V| ≤ limit",
        source: "the rows absence_of_voltage_limit and never_dead_voltage, from memory",
        confidence: Confidence::FromMemory,
        takes: &[Parameter::needed("reading", VOLTAGE, "V, AC or DC")],
        gives: &[Output::of(
            "verdict",
            ValueType::Word(ReadingVerdict::WORDS),
            "the verdict",
        )],
        run: |arguments, _| {
            let verdict = judge_reading(given(arguments, "reading")?)?;
            let sentence = match verdict {
                ReadingVerdict::WithinLimit => "Within the limit. It alone proves nothing.",
                ReadingVerdict::NotDead => "Not dead: find the source.",
                ReadingVerdict::Live => "Live. Stop, and find the source.",
            };
            Ok(Results::default()
                .put_word("verdict", verdict.word())
                .warn(LIVE_WORK)
                .say(sentence))
        },
    },
    Formula {
        name: "instrument_check",
        version: 1,
        about: "Why the meter is checked at a known source immediately before and after.",
        symbols: "over 600 V: by law",
        source: "29 CFR 1910.333(b)(2)(iv)(B); DOE electrical-safety handbook 2.13; NFPA 70E 120.5",
        confidence: Confidence::Seen,
        takes: &[Parameter::needed(
            "nominal",
            VOLTAGE,
            "the circuit's nominal volts",
        )],
        gives: &[Output::of(
            "check",
            ValueType::Word(InstrumentCheck::WORDS),
            "the reason",
        )],
        run: |arguments, _| {
            let check = instrument_check(given(arguments, "nominal")?)?;
            let sentence = match check {
                InstrumentCheck::Mandatory => {
                    "Check the meter immediately before and after: mandatory over 600 V."
                }
                InstrumentCheck::ByStandard => {
                    "Check the meter before and after: NFPA 70E 120.5 asks for it, the DOE \
                     handbook recommends it."
                }
            };
            Ok(Results::default()
                .put_word("check", check.word())
                .say(sentence))
        },
    },
    Formula {
        name: "instrument_accepted",
        version: 1,
        about: "Whether an instrument may prove absence of voltage.",
        symbols: "contact meter only",
        source: "DOE electrical-safety handbook 2.13.2.1; OSHA interpretation, 2012",
        confidence: Confidence::Seen,
        takes: &[Parameter::needed(
            "instrument",
            ValueType::Word(Instrument::WORDS),
            "the tester",
        )],
        gives: &[Output::of("accepted", TRUE_OR_FALSE, "whether it may")],
        run: |arguments, _| {
            let accepted = accepted(chosen(arguments, "instrument")?);
            let sentence = if accepted {
                "A contact meter, rated for the circuit, may prove it."
            } else {
                "Not accepted for a proof: use a contact meter rated for the circuit."
            };
            Ok(Results::default()
                .put_truth("accepted", accepted)
                .say(sentence))
        },
    },
    Formula {
        name: "counts_as_isolation",
        version: 1,
        about: "Whether something may be relied on to keep the energy away.",
        symbols: "control devices never",
        source: "29 CFR 1910.333(b)(2)(ii)(B)",
        confidence: Confidence::Seen,
        takes: &[Parameter::needed(
            "means",
            ValueType::Word(IsolationMeans::WORDS),
            "what is relied on",
        )],
        gives: &[Output::of(
            "isolates",
            TRUE_OR_FALSE,
            "whether it isolates, once locked",
        )],
        run: |arguments, _| {
            let isolates = isolates(chosen(arguments, "means")?);
            let sentence = if isolates {
                "It isolates once it is open and your own lock is on it."
            } else {
                "A control device is never isolation: open and lock the disconnect."
            };
            Ok(Results::default()
                .put_truth("isolates", isolates)
                .say(sentence))
        },
    },
    Formula {
        name: "proof_order",
        version: 1,
        about: "The order of a live-dead-live test.",
        symbols: "live → dead → live",
        source: "NFPA 70E-2018 120.5 step 7",
        confidence: Confidence::Seen,
        takes: &[],
        gives: &[Output::of(
            "order",
            ValueType::Text,
            "the parts, one a line",
        )],
        run: |_, _| {
            let order: Vec<&str> = PROOF_ORDER.iter().map(|step| step.word()).collect();
            Ok(Results::default().with("order", Value::Text(order.join("\n"))))
        },
    },
];

fn absence_of_voltage(arguments: &Arguments, _: &Goods<'_>) -> Result<Results, CannotWorkOut> {
    let alternating: Vec<ElectricPotential> = several(arguments, "readings")?;
    let direct = if arguments.has("direct") {
        several(arguments, "direct")?
    } else {
        Vec::new()
    };
    let conductors = if arguments.has("conductors") {
        count(arguments.number("conductors")?)?
    } else {
        covered_by(alternating.len())
    };
    let proof = Proof {
        instrument: chosen(arguments, "instrument")?,
        conductors,
        known_before: given(arguments, "known_before")?,
        alternating,
        direct,
        stores_charge: maybe_truth(arguments, "stores_charge")?.unwrap_or(false),
        known_after: given(arguments, "known_after")?,
    };
    let verdict = judge_proof(&proof)?;
    let sentence = match verdict {
        ProofVerdict::Holds => "The test holds as recorded.",
        ProofVerdict::NotDead => "Not dead: a reading shows voltage. Find the source.",
        ProofVerdict::Void => {
            "Void: the meter did not show the known source. Treat as live and repeat it all."
        }
        ProofVerdict::Incomplete => {
            "Not complete: measure every pair, each to ground, and what stores charge."
        }
        ProofVerdict::NotAccepted => "This tester proves nothing: use a contact meter.",
    };
    Ok(Results::default()
        .put_word("verdict", verdict.word())
        .with(
            "readings_needed",
            Value::Number(f64::from(readings_needed(conductors))),
        )
        .warn(LIVE_WORK)
        .say(sentence))
}

fn count(number: f64) -> Result<u32, CannotWorkOut> {
    if number.fract() == 0.0 && (1.0..=f64::from(CONDUCTORS_MAX)).contains(&number) {
        return Ok(number as u32);
    }
    Err(CannotWorkOut(format!(
        "{number} conductors cannot be; count those that end here, 1 to {CONDUCTORS_MAX}."
    )))
}
