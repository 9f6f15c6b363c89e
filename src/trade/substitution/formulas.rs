//! The substitution topic's formula by name.

use uom::si::angle::radian;
use uom::si::f64::Angle;

use super::{ColdBox, FanPart, MakersWord, SubstitutionVerdict, judge};
use crate::trade::formula::{
    Arguments, CannotWorkOut, Confidence, Formula, Output, Parameter, Results, Value, ValueType,
};
use crate::trade::goods::Goods;
use crate::trade::kit::{AirDirection, End, Rotation, Spin};
use crate::trade::motor::MotorType;
use crate::trade::protection::IpCode;
use crate::trade::quantity::Kind;
use crate::trade::rating::RatedVoltage;
use crate::trade::refrigerant::SafetyGroup;
use crate::trade::typed::{LENGTH, POWER, SPEED, TEMPERATURE, VOLTAGE, maybe, maybe_chosen};

const SPINS: ValueType = ValueType::Word(&["clockwise", "counterclockwise"]);
const ENDS: ValueType = ValueType::Word(&["lead_end", "shaft_end"]);
const AIRS: ValueType = ValueType::Word(&["away_from_motor", "towards_motor"]);
const GROUPS: ValueType = ValueType::Word(&["A1", "A2L", "A3"]);
const ANGLE: ValueType = ValueType::Quantity(Kind::Angle);
const MOTORS: ValueType = ValueType::Word(MotorType::WORDS);

const fn known(name: &'static str, takes: ValueType, about: &'static str) -> Parameter {
    Parameter::optional(name, takes, "not known: it is asked", about)
}

const PARAMETERS: &[Parameter] = &[
    known("old_motor", MOTORS, "the old motor's kind"),
    known("new_motor", MOTORS, "the new one's kind"),
    known("old_shaft", POWER, "shaft power, old"),
    known("new_shaft", POWER, "shaft power, new"),
    known(
        "new_blade_power",
        POWER,
        "what the new blade takes in air of 70 °F",
    ),
    known("old_speed", SPEED, "rated speed, old"),
    known("new_speed", SPEED, "rated speed, new"),
    known("old_spin", SPINS, "which way the old one turns"),
    known("old_seen_from", ENDS, "seen from which end"),
    known("new_spin", SPINS, "which way the new one turns"),
    known("new_seen_from", ENDS, "seen from which end"),
    known("old_air", AIRS, "which way the old one blows"),
    known("new_air", AIRS, "which way the new one blows"),
    known("old_diameter", LENGTH, "blade, old"),
    known("new_diameter", LENGTH, "blade, new"),
    known("old_pitch", ANGLE, "blade, old"),
    known("new_pitch", ANGLE, "blade, new"),
    known("old_bore", LENGTH, "hub, old"),
    known("new_bore", LENGTH, "hub, new"),
    known(
        "new_rated",
        ValueType::Text,
        "the new nameplate's volts, like 208-230 V",
    ),
    known("supply", VOLTAGE, "volts measured at the leads"),
    known("old_protection", ValueType::Text, "IP code, old"),
    known("new_protection", ValueType::Text, "IP code, new"),
    known(
        "new_coldest",
        TEMPERATURE,
        "coldest air the new one may run in",
    ),
    known(
        "new_warmest",
        TEMPERATURE,
        "warmest air the new one may run in",
    ),
    known("box", TEMPERATURE, "the coldest that the box gets"),
    known(
        "old_mounting",
        ValueType::Text,
        "the old pattern, as the crew calls it",
    ),
    known(
        "new_mounting",
        ValueType::Text,
        "the new patterns, with commas",
    ),
    known("refrigerant_group", GROUPS, "safety group by ASHRAE 34"),
    known(
        "makers_word",
        ValueType::Word(MakersWord::WORDS),
        "by the evaporator's maker",
    ),
];

/// The formulas of this topic.
pub(crate) const FORMULAS: &[Formula] = &[Formula {
    name: "substitution",
    version: 1,
    about: "Whether one given part may stand in for the old fan motor.",
    symbols: "rules",
    source: "common practice, no source; IEC 60529; NEMA MG 1-12.44.1; refrigerant from memory",
    confidence: Confidence::CommonPractice,
    takes: PARAMETERS,
    gives: &[
        Output::of(
            "verdict",
            ValueType::Word(SubstitutionVerdict::WORDS),
            "the verdict",
        ),
        Output::of(
            "reasons",
            ValueType::Text,
            "what is broken or to be asked, one a line",
        ),
    ],
    run: substitution,
}];

fn substitution(arguments: &Arguments, _: &Goods<'_>) -> Result<Results, CannotWorkOut> {
    let old = FanPart {
        motor: maybe_chosen(arguments, "old_motor")?,
        shaft: maybe(arguments, "old_shaft")?,
        speed: maybe(arguments, "old_speed")?,
        rotation: rotation(arguments, "old_spin", "old_seen_from")?,
        air: listed(arguments, "old_air", AirDirection::WORDS)?,
        diameter: maybe(arguments, "old_diameter")?,
        pitch: angle(arguments, "old_pitch")?,
        bore: maybe(arguments, "old_bore")?,
        protection: code(arguments, "old_protection")?,
        mounting: patterns(arguments, "old_mounting")?,
        ..FanPart::default()
    };
    let new = new_part(arguments)?;
    let place = ColdBox {
        supply: maybe(arguments, "supply")?,
        temperature: maybe(arguments, "box")?,
        group: listed(arguments, "refrigerant_group", SAFETY_GROUPS)?,
    };
    let judged = judge(&old, &new, &place)?;
    let reasons = judged.reasons();
    let sentence = match judged.verdict {
        SubstitutionVerdict::Fits => "It may stand in for the old one.".to_owned(),
        SubstitutionVerdict::AskFirst => format!("Not yet: {}", reasons.join(" ")),
        SubstitutionVerdict::DoesNotFit => {
            format!(
                "It does not fit. {}",
                reasons.first().copied().unwrap_or_default()
            )
        }
    };
    Ok(Results::default()
        .put_word("verdict", judged.verdict.word())
        .with("reasons", Value::Text(reasons.join("\n")))
        .say(sentence))
}

fn new_part(arguments: &Arguments) -> Result<FanPart, CannotWorkOut> {
    let rated = if arguments.has("new_rated") {
        Some(RatedVoltage::parse(arguments.word("new_rated")?)?)
    } else {
        None
    };
    Ok(FanPart {
        motor: maybe_chosen(arguments, "new_motor")?,
        shaft: maybe(arguments, "new_shaft")?,
        speed: maybe(arguments, "new_speed")?,
        rated,
        rotation: rotation(arguments, "new_spin", "new_seen_from")?,
        air: listed(arguments, "new_air", AirDirection::WORDS)?,
        diameter: maybe(arguments, "new_diameter")?,
        pitch: angle(arguments, "new_pitch")?,
        bore: maybe(arguments, "new_bore")?,
        protection: code(arguments, "new_protection")?,
        mounting: patterns(arguments, "new_mounting")?,
        ambient: (
            maybe(arguments, "new_coldest")?,
            maybe(arguments, "new_warmest")?,
        ),
        blade_power: maybe(arguments, "new_blade_power")?,
        makers_word: maybe_chosen(arguments, "makers_word")?,
    })
}

const SAFETY_GROUPS: &[(&str, SafetyGroup)] = &[
    ("A1", SafetyGroup::A1),
    ("A2L", SafetyGroup::A2L),
    ("A3", SafetyGroup::A3),
];

fn listed<T: Copy>(
    arguments: &Arguments,
    name: &str,
    words: &[(&str, T)],
) -> Result<Option<T>, CannotWorkOut> {
    if !arguments.has(name) {
        return Ok(None);
    }
    let word = arguments.word(name)?;
    match words.iter().find(|(listed, _)| *listed == word) {
        Some((_, value)) => Ok(Some(*value)),
        None => {
            let list: Vec<&str> = words.iter().map(|(word, _)| *word).collect();
            Err(CannotWorkOut(format!(
                "{name} is {word}; it must be one of {}.",
                list.join(", ")
            )))
        }
    }
}

/// A direction without the end it is seen from means nothing.
fn rotation(
    arguments: &Arguments,
    spin: &str,
    seen_from: &str,
) -> Result<Option<Rotation>, CannotWorkOut> {
    let spin = listed(arguments, spin, Spin::WORDS)?;
    let seen_from = listed(arguments, seen_from, End::WORDS)?;
    Ok(spin
        .zip(seen_from)
        .map(|(spin, seen_from)| Rotation { spin, seen_from }))
}

fn angle(arguments: &Arguments, name: &str) -> Result<Option<Angle>, CannotWorkOut> {
    if !arguments.has(name) {
        return Ok(None);
    }
    arguments
        .si(name, Kind::Angle)
        .map(|si| Some(Angle::new::<radian>(si)))
}

fn code(arguments: &Arguments, name: &str) -> Result<Option<IpCode>, CannotWorkOut> {
    if arguments.has(name) {
        IpCode::parse(arguments.word(name)?).map(Some)
    } else {
        Ok(None)
    }
}

fn patterns(arguments: &Arguments, name: &str) -> Result<Vec<String>, CannotWorkOut> {
    if !arguments.has(name) {
        return Ok(Vec::new());
    }
    let text = arguments.word(name)?;
    Ok(text
        .split(',')
        .map(|one| one.trim().to_owned())
        .filter(|one| !one.is_empty())
        .collect())
}
