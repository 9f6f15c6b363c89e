//! Rules of the place: disconnect in sight, damp and wet locations, sealed raceways, splices,
//! ladders.

use uom::si::f64::{Length, Mass};
use uom::si::length::foot;

use super::formula::{
    Arguments, CannotWorkOut, Confidence, Formula, Output, Parameter, Results, Value, ValueType,
};
use super::goods::Goods;
use super::quantity::Kind;
use super::typed::{
    LENGTH, Measured, TRUE_OR_FALSE, above_zero, chosen, given, maybe_truth, not_negative,
};
use super::worded::worded;

/// In sight is visible and not further than this, ft (NEC Article 100).
const IN_SIGHT_FEET: f64 = 50.0;

worded! {
    /// A place where wiring is installed.
    pub enum Surroundings {
        /// Dry at all times.
        Dry = "dry",
        /// Moderate moisture, such as some cold-storage buildings.
        ColdStorage = "cold_storage",
        /// Partly protected, under a canopy or in a basement.
        PartlyProtected = "partly_protected",
        /// Saturated or washed down.
        WashDown = "wash_down",
        /// Outdoors, unprotected.
        Outdoors = "outdoors",
    }
}

worded! {
    /// A location of NEC Article 100.
    pub enum LocationClass {
        /// Not normally damp or wet.
        Dry = "dry",
        /// Moderate degrees of moisture.
        Damp = "damp",
        /// Saturation, wash-down or weather.
        Wet = "wet",
    }
}

worded! {
    /// Whether a rule is met.
    pub enum Check {
        /// It is.
        Pass = "pass",
        /// It is not.
        Fail = "fail",
    }
}

worded! {
    /// What is wrong with a splice or a free end.
    pub enum SpliceFault {
        /// The joint is not covered with insulation equal to the conductor's.
        JointBare = "joint_bare",
        /// A free end, such as an unused speed tap, is not covered.
        FreeEndBare = "free_end_bare",
        /// Soldered without being mechanically secure first.
        SolderOnly = "solder_only",
        /// Copper and aluminum in a device not identified for it.
        MixedMetals = "mixed_metals",
        /// Buried in the ground with connectors not listed for it.
        NotForBurial = "not_for_burial",
        /// Damp, wet or cold, with connectors not listed for it.
        NotForPlace = "not_for_place",
    }
}

/// What is known of a splice; `None` where nobody looked or where it does not apply.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Splice {
    /// Insulation equal to the conductor's covers the joint.
    pub joint_covered: Option<bool>,
    /// Every free end is covered.
    pub free_ends_covered: Option<bool>,
    /// Mechanically secure before it was soldered; `None` where nothing is soldered.
    pub secure_before_solder: Option<bool>,
    /// Copper and aluminum meet in it.
    pub metals_mixed: Option<bool>,
    /// The device is identified for the metals.
    pub device_identified: Option<bool>,
    /// Listed for direct burial; `None` where nothing is buried.
    pub listed_for_burial: Option<bool>,
    /// Listed for a damp or wet place and its temperature.
    pub listed_for_place: Option<bool>,
}

/// Whether a disconnect is in sight: visible and not more than 50 ft away.
///
/// Source: NEC Article 100, "in sight from"; 430.102(B).
///
/// # Errors
/// When the distance is below zero.
pub fn in_sight(visible: bool, distance: Length) -> Result<bool, CannotWorkOut> {
    let metres = not_negative("The distance", distance)?;
    let most = Length::new::<foot>(IN_SIGHT_FEET).si();
    Ok(visible && metres <= most * (1.0 + 1e-9))
}

/// The location class of a place. Source: NEC Article 100, damp and wet locations. The
/// authority on site decides.
pub fn location_class(surroundings: Surroundings) -> LocationClass {
    match surroundings {
        Surroundings::Dry => LocationClass::Dry,
        Surroundings::ColdStorage | Surroundings::PartlyProtected => LocationClass::Damp,
        Surroundings::WashDown | Surroundings::Outdoors => LocationClass::Wet,
    }
}

/// Whether a raceway that passes from warm to cold is sealed against circulating warm air. An
/// explosion-proof seal is not required.
///
/// Source: NEC 300.7(A).
pub fn raceway_seal(warm_to_cold: bool, sealed: bool) -> Check {
    if warm_to_cold && !sealed {
        Check::Fail
    } else {
        Check::Pass
    }
}

/// Everything that is wrong with a splice; unknown is not judged.
///
/// Source: NEC 110.14 and 110.14(B). Joining line-voltage leads is for a licensed electrician.
pub fn splice_faults(splice: &Splice) -> Vec<SpliceFault> {
    let mixed = splice.metals_mixed == Some(true) && splice.device_identified != Some(true);
    [
        (splice.joint_covered == Some(false), SpliceFault::JointBare),
        (
            splice.free_ends_covered == Some(false),
            SpliceFault::FreeEndBare,
        ),
        (
            splice.secure_before_solder == Some(false),
            SpliceFault::SolderOnly,
        ),
        (mixed, SpliceFault::MixedMetals),
        (
            splice.listed_for_burial == Some(false),
            SpliceFault::NotForBurial,
        ),
        (
            splice.listed_for_place == Some(false),
            SpliceFault::NotForPlace,
        ),
    ]
    .into_iter()
    .filter_map(|(wrong, fault)| wrong.then_some(fault))
    .collect()
}

/// Whether a ladder carries a person with clothes and tools.
///
/// Source: ANSI A14, duty ratings of 225, 250, 300 and 375 lb, from memory.
///
/// # Errors
/// When a weight is not above zero.
pub fn ladder(load: Mass, duty: Mass) -> Result<Check, CannotWorkOut> {
    let load = above_zero("The load", load)?;
    let duty = above_zero("The ladder's duty rating", duty)?;
    Ok(if load <= duty * (1.0 + 1e-9) {
        Check::Pass
    } else {
        Check::Fail
    })
}

const CHECK: Output = Output::of("check", ValueType::Word(Check::WORDS), "whether it is met");
const MASS: ValueType = ValueType::Quantity(Kind::Mass);

/// The formulas of this topic.
pub(crate) const FORMULAS: &[Formula] = &[
    Formula {
        name: "disconnect_in_sight",
        version: 1,
        about: "Whether a disconnect is in sight of the motor.",
        symbols: "visible and ≤ 50 ft",
        source: "NEC Article 100; 430.102(B)",
        confidence: Confidence::Seen,
        takes: &[
            Parameter::needed("visible", TRUE_OR_FALSE, "seen from the motor"),
            Parameter::needed("distance", LENGTH, "from the motor, zero or above"),
        ],
        gives: &[Output::of("in_sight", TRUE_OR_FALSE, "whether it is")],
        run: |arguments, _| {
            let seen = in_sight(arguments.truth("visible")?, given(arguments, "distance")?)?;
            let sentence = if seen {
                "In sight. Lock it all the same."
            } else {
                "Out of sight: someone else can close it. Your own lock is what keeps it open."
            };
            Ok(Results::default().put_truth("in_sight", seen).say(sentence))
        },
    },
    Formula {
        name: "location_class",
        version: 1,
        about: "Whether a place is dry, damp or wet.",
        symbols: "definitions",
        source: "NEC Article 100",
        confidence: Confidence::Seen,
        takes: &[Parameter::needed(
            "surroundings",
            ValueType::Word(Surroundings::WORDS),
            "what the place is like",
        )],
        gives: &[Output::of(
            "class",
            ValueType::Word(LocationClass::WORDS),
            "its class",
        )],
        run: |arguments, _| {
            let class = location_class(chosen(arguments, "surroundings")?);
            Ok(Results::default()
                .put_word("class", class.word())
                .warn("The authority on site decides."))
        },
    },
    Formula {
        name: "raceway_seal",
        version: 1,
        about: "Whether a raceway from warm to cold is sealed as it must be.",
        symbols: "warm to cold ⇒ sealed",
        source: "NEC 300.7(A)",
        confidence: Confidence::Seen,
        takes: &[
            Parameter::needed("warm_to_cold", TRUE_OR_FALSE, "it passes from warm to cold"),
            Parameter::needed("sealed", TRUE_OR_FALSE, "filled with approved material"),
        ],
        gives: &[CHECK],
        run: |arguments, _| {
            let check = raceway_seal(arguments.truth("warm_to_cold")?, arguments.truth("sealed")?);
            let sentence = match check {
                Check::Pass => "The raceway needs nothing more here.",
                Check::Fail => "Warm air will condense in it: an electrician seals it.",
            };
            Ok(Results::default()
                .put_word("check", check.word())
                .say(sentence))
        },
    },
    Formula {
        name: "splice_check",
        version: 1,
        about: "What is wrong with a splice or a free conductor end.",
        symbols: "rules",
        source: "NEC 110.14, 110.14(B)",
        confidence: Confidence::Seen,
        takes: SPLICE,
        gives: &[
            CHECK,
            Output::of("faults", ValueType::Text, "what is wrong, one a line"),
        ],
        run: splice_check,
    },
    Formula {
        name: "ladder_check",
        version: 1,
        about: "Whether a ladder carries a person with clothes and tools.",
        symbols: "load ≤ duty rating",
        source: "ANSI A14 duty ratings, from memory",
        confidence: Confidence::FromMemory,
        takes: &[
            Parameter::needed("load", MASS, "person, clothes, tools and parts"),
            Parameter::needed("duty", MASS, "the rating on the ladder's label"),
        ],
        gives: &[CHECK],
        run: |arguments, _| {
            let check = ladder(given(arguments, "load")?, given(arguments, "duty")?)?;
            let sentence = match check {
                Check::Pass => "The ladder's rating covers you and what you carry.",
                Check::Fail => "Too much for this ladder: get one with a higher rating.",
            };
            Ok(Results::default()
                .put_word("check", check.word())
                .say(sentence))
        },
    },
];

const fn known(name: &'static str, about: &'static str) -> Parameter {
    Parameter::optional(name, TRUE_OR_FALSE, "not judged", about)
}

const SPLICE: &[Parameter] = &[
    known(
        "joint_covered",
        "insulation equal to the conductor's covers the joint",
    ),
    known("free_ends_covered", "every cut or unused end is covered"),
    known(
        "secure_before_solder",
        "mechanically secure before soldering",
    ),
    known("metals_mixed", "copper and aluminum meet"),
    known(
        "device_identified",
        "the device is identified for the metals",
    ),
    known(
        "listed_for_burial",
        "listed for direct burial, where it is buried",
    ),
    known(
        "listed_for_place",
        "listed for damp or wet and for the temperature",
    ),
];

fn splice_check(arguments: &Arguments, _: &Goods<'_>) -> Result<Results, CannotWorkOut> {
    let so = |name| maybe_truth(arguments, name);
    let splice = Splice {
        joint_covered: so("joint_covered")?,
        free_ends_covered: so("free_ends_covered")?,
        secure_before_solder: so("secure_before_solder")?,
        metals_mixed: so("metals_mixed")?,
        device_identified: so("device_identified")?,
        listed_for_burial: so("listed_for_burial")?,
        listed_for_place: so("listed_for_place")?,
    };
    if splice == Splice::default() {
        return Err(CannotWorkOut(
            "Nothing is known of the splice; answer at least one question about it.".into(),
        ));
    }
    let faults: Vec<&str> = splice_faults(&splice)
        .iter()
        .map(|fault| fault.word())
        .collect();
    let check = if faults.is_empty() {
        Check::Pass
    } else {
        Check::Fail
    };
    let sentence = match check {
        Check::Pass => "Nothing wrong was noted; what was not answered was not judged.",
        Check::Fail => "Not acceptable: a licensed electrician makes it good.",
    };
    Ok(Results::default()
        .put_word("check", check.word())
        .with("faults", Value::Text(faults.join("\n")))
        .warn("Joining line-voltage leads is for a licensed electrician; local code governs.")
        .say(sentence))
}

#[cfg(test)]
mod tests {
    use super::*;
    use uom::si::mass::pound;

    #[test]
    fn fifty_feet_are_in_sight_and_a_wall_is_not() {
        let feet = Length::new::<foot>;
        assert_eq!(in_sight(true, feet(50.0)), Ok(true));
        assert_eq!(in_sight(true, feet(50.1)), Ok(false));
        assert_eq!(in_sight(false, feet(1.0)), Ok(false));
        assert!(in_sight(true, feet(f64::NAN)).is_err());
    }

    #[test]
    fn every_fault_of_a_splice_is_found() {
        let splice = Splice {
            joint_covered: Some(false),
            free_ends_covered: Some(false),
            secure_before_solder: Some(false),
            metals_mixed: Some(true),
            device_identified: Some(false),
            listed_for_burial: Some(false),
            listed_for_place: Some(false),
        };
        assert_eq!(splice_faults(&splice).len(), SpliceFault::WORDS.len());
        let identified = Splice {
            metals_mixed: Some(true),
            device_identified: Some(true),
            ..Splice::default()
        };
        assert!(splice_faults(&identified).is_empty());
    }

    #[test]
    fn a_ladder_carries_up_to_its_rating() {
        let pounds = Mass::new::<pound>;
        assert_eq!(ladder(pounds(250.0), pounds(250.0)), Ok(Check::Pass));
        assert_eq!(ladder(pounds(251.0), pounds(250.0)), Ok(Check::Fail));
        assert!(ladder(pounds(-1.0), pounds(250.0)).is_err());
    }

    #[test]
    fn only_a_raceway_from_warm_to_cold_needs_a_seal() {
        assert_eq!(raceway_seal(true, false), Check::Fail);
        assert_eq!(raceway_seal(true, true), Check::Pass);
        assert_eq!(raceway_seal(false, false), Check::Pass);
    }
}
