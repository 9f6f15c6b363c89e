//! The capacitor topic's formulas by name.

use uom::si::f64::{Capacitance, ElectricPotential, Frequency, Ratio};
use uom::si::frequency::hertz;
use uom::si::ratio::ratio;

use super::{
    CapacitorFit, CapacitorVerdict, bleed_peak_power, discharge_time, discharged, expected_current,
    judge, microfarads, peak, replacement, tolerance_band, under_load, under_load_factor,
    usual_tolerance, wait,
};
use crate::trade::formula::{
    Arguments, CannotWorkOut, Confidence, Formula, Output, Parameter, Results, Value, ValueType,
};
use crate::trade::goods::Goods;
use crate::trade::typed::{
    CAPACITANCE, CURRENT, DURATION, FREQUENCY, Measured, POWER, RATIO, RESISTANCE, VOLTAGE, given,
    maybe,
};

const HERTZ: Parameter = Parameter::optional("frequency", FREQUENCY, "60 Hz", "f of the supply");
const ACROSS: Parameter = Parameter::needed("across", VOLTAGE, "V across the capacitor");
const PRINTED: Parameter = Parameter::needed("printed", CAPACITANCE, "C on the label");
const TOLERANCE: Parameter = Parameter::optional(
    "tolerance",
    RATIO,
    "6 %",
    "the printed tolerance, 0 to 50 %",
);
const PHYSICS: &str = "definition";
const CHARGED: &str =
    "Until it is measured, treat a capacitor as live; discharge through a resistor, never a short.";

/// The formulas of this topic.
pub(crate) const FORMULAS: &[Formula] = &[
    Formula {
        name: "capacitor_under_load",
        version: 1,
        about: "A run capacitor's value while the motor runs.",
        symbols: "C = I/(2πfV) = 2652.58·I/V at 60 Hz",
        source: PHYSICS,
        confidence: Confidence::Computed,
        takes: &[
            Parameter::needed("current", CURRENT, "I through the capacitor's lead"),
            ACROSS,
            HERTZ,
        ],
        gives: &[
            Output::of("capacitance", CAPACITANCE, "C"),
            Output::of("factor", ValueType::Number, "10⁶/(2πf), µF·V/A"),
        ],
        run: |arguments, _| {
            let frequency = hertz_of(arguments)?;
            let capacitance = under_load(
                given(arguments, "current")?,
                given(arguments, "across")?,
                frequency,
            )?;
            Ok(Results::default()
                .put("capacitance", capacitance)
                .with("factor", Value::Number(under_load_factor(frequency)?))
                .warn("Live measurement: qualified person, guard on, clamp and meter rated."))
        },
    },
    Formula {
        name: "capacitor_current",
        version: 1,
        about: "The current that a healthy run capacitor draws.",
        symbols: "I = 2πfCV",
        source: PHYSICS,
        confidence: Confidence::Computed,
        takes: &[PRINTED, ACROSS, HERTZ],
        gives: &[Output::of("current", CURRENT, "I")],
        run: |arguments, _| {
            let current = expected_current(
                given(arguments, "printed")?,
                given(arguments, "across")?,
                hertz_of(arguments)?,
            )?;
            Ok(Results::default().put("current", current))
        },
    },
    Formula {
        name: "capacitor_verdict",
        version: 1,
        about: "How a measured capacitor stands against its printed value.",
        symbols: "C(1−t) ≤ measured ≤ C(1+t)",
        source: "the printed tolerance; ±6 % usual by trade pages",
        confidence: Confidence::Seen,
        takes: &[
            Parameter::needed("measured", CAPACITANCE, "the reading, zero or above"),
            PRINTED,
            TOLERANCE,
            Parameter::optional(
                "accuracy",
                RATIO,
                "the reading is taken as exact",
                "the meter's error as a share of the reading, 0 to 20 %",
            ),
        ],
        gives: &[
            Output::of(
                "verdict",
                ValueType::Word(CapacitorVerdict::WORDS),
                "the verdict",
            ),
            Output::of("low", CAPACITANCE, "the lowest value allowed"),
            Output::of("high", CAPACITANCE, "the highest value allowed"),
        ],
        run: capacitor_verdict,
    },
    Formula {
        name: "capacitor_replacement",
        version: 1,
        about: "Whether another capacitor may take the old one's place.",
        symbols: "C equal, V equal or higher",
        source: "from memory; the motor's sheet governs",
        confidence: Confidence::FromMemory,
        takes: &[
            Parameter::needed("old", CAPACITANCE, "the old label's C"),
            Parameter::needed("old_rated", VOLTAGE, "the old label's volts"),
            Parameter::needed("new", CAPACITANCE, "the new label's C"),
            Parameter::needed("new_rated", VOLTAGE, "the new label's volts"),
        ],
        gives: &[Output::of(
            "fit",
            ValueType::Word(CapacitorFit::WORDS),
            "the verdict",
        )],
        run: capacitor_replacement,
    },
    Formula {
        name: "capacitor_discharge",
        version: 1,
        about: "How long a resistor takes to lead a capacitor's charge off.",
        symbols: "t = R·C·ln(V₀/V); P = V₀²/R",
        source: PHYSICS,
        confidence: Confidence::Computed,
        takes: &[
            Parameter::needed("capacitance", CAPACITANCE, "C, above zero"),
            Parameter::needed("resistor", RESISTANCE, "R, above zero"),
            Parameter::needed("from", VOLTAGE, "V₀, the peak that may stand on it"),
            Parameter::optional("to", VOLTAGE, "50 V", "V at the end, above zero"),
        ],
        gives: &[
            Output::of("time", DURATION, "t"),
            Output::of("peak_power", POWER, "what the resistor takes at first"),
        ],
        run: capacitor_discharge,
    },
    Formula {
        name: "peak_voltage",
        version: 1,
        about: "The peak of an alternating voltage, which may stand on a capacitor.",
        symbols: "V₀ = √2·V",
        source: PHYSICS,
        confidence: Confidence::Computed,
        takes: &[Parameter::needed("voltage", VOLTAGE, "V, effective")],
        gives: &[Output::of("peak", VOLTAGE, "V₀")],
        run: |arguments, _| Ok(Results::default().put("peak", peak(given(arguments, "voltage")?)?)),
    },
    Formula {
        name: "stored_charge_wait",
        version: 1,
        about: "How long to wait before a stored charge is measured.",
        symbols: "nameplate, else the row stored_charge_wait",
        source: "the nameplate; else from memory",
        confidence: Confidence::FromMemory,
        takes: &[Parameter::optional(
            "nameplate",
            DURATION,
            "none printed",
            "the wait that the nameplate names",
        )],
        gives: &[Output::of(
            "wait",
            DURATION,
            "the wait; it never replaces the measurement",
        )],
        run: |arguments, _| {
            let time = wait(maybe(arguments, "nameplate")?)?;
            let results = Results::default().put("wait", time).warn(CHARGED);
            Ok(if arguments.has("nameplate") {
                results
            } else {
                results.warn("No time on the nameplate: this one is from memory.")
            })
        },
    },
];

fn hertz_of(arguments: &Arguments) -> Result<Frequency, CannotWorkOut> {
    Ok(maybe(arguments, "frequency")?.unwrap_or_else(|| Frequency::new::<hertz>(60.0)))
}

fn capacitor_verdict(arguments: &Arguments, _: &Goods<'_>) -> Result<Results, CannotWorkOut> {
    let measured: Capacitance = given(arguments, "measured")?;
    let printed: Capacitance = given(arguments, "printed")?;
    let tolerance = match maybe(arguments, "tolerance")? {
        Some(tolerance) => tolerance,
        None => usual_tolerance()?,
    };
    let accuracy = maybe(arguments, "accuracy")?.unwrap_or_else(|| Ratio::new::<ratio>(0.0));
    let verdict = judge(measured, printed, tolerance, accuracy)?;
    let band = tolerance_band(printed, tolerance)?;
    let text = format!(
        "{} on a {} capacitor ({} to {})",
        microfarads(measured),
        microfarads(printed),
        microfarads(band.low),
        microfarads(band.high)
    );
    let sentence = match verdict {
        CapacitorVerdict::Good => format!("{text}: good."),
        CapacitorVerdict::Low => format!("{text}: too low, replace it."),
        CapacitorVerdict::High => format!("{text}: too high, replace it."),
        CapacitorVerdict::TooCloseToCall => format!("{text}: too close to call."),
        CapacitorVerdict::Failed => format!("{text}: it has failed, replace it."),
    };
    let results = Results::default()
        .put_word("verdict", verdict.word())
        .put("low", band.low)
        .put("high", band.high)
        .say(sentence);
    Ok(if arguments.has("tolerance") {
        results
    } else {
        results.warn("The usual 6 % is assumed; the tolerance printed on the label governs.")
    })
}

fn capacitor_replacement(arguments: &Arguments, _: &Goods<'_>) -> Result<Results, CannotWorkOut> {
    let fit = replacement(
        (given(arguments, "old")?, given(arguments, "old_rated")?),
        (given(arguments, "new")?, given(arguments, "new_rated")?),
    )?;
    let sentence = match fit {
        CapacitorFit::Fits => "It may take the old one's place.",
        CapacitorFit::WrongCapacitance => "The microfarads must be equal; get the right one.",
        CapacitorFit::VoltageTooLow => "Its voltage rating is below the old one's; get a higher.",
    };
    Ok(Results::default()
        .put_word("fit", fit.word())
        .warn(CHARGED)
        .say(sentence))
}

fn capacitor_discharge(arguments: &Arguments, _: &Goods<'_>) -> Result<Results, CannotWorkOut> {
    let from: ElectricPotential = given(arguments, "from")?;
    let resistor = given(arguments, "resistor")?;
    let to = match maybe(arguments, "to")? {
        Some(to) => to,
        None => discharged()?,
    };
    let time = discharge_time(resistor, given(arguments, "capacitance")?, from, to)?;
    let power = bleed_peak_power(from, resistor)?;
    Ok(Results::default()
        .put("time", time)
        .put("peak_power", power)
        .warn(CHARGED)
        .warn("The time is arithmetic; only the meter tells whether the charge is gone.")
        .say(format!(
            "{} to fall from {} to {}.",
            seconds(time),
            from.shown(),
            to.shown()
        )))
}

fn seconds(time: uom::si::f64::Time) -> String {
    format!("{} s", crate::trade::quantity::plain_number(time.si()))
}
