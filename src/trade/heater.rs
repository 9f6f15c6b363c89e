//! Defrost heaters: watts at the volts that are there, and elements that have burnt open.

use uom::si::f64::{ElectricCurrent, ElectricPotential, ElectricalResistance, Power, Ratio};

use super::formula::{
    Arguments, CannotWorkOut, Confidence, Formula, Output, Parameter, Results, Value, ValueType,
};
use super::goods::Goods;
use super::typed::{
    CURRENT, Measured, POWER, RATIO, RESISTANCE, VOLTAGE, above_zero, given, not_negative, result,
    row_value,
};
use super::worded::worded;

/// More elements than this are on no evaporator; the number is a typing error.
const ELEMENTS_MAX: u32 = 60;

/// What a heater's nameplate says of one element.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Element {
    /// Wr, rated watts.
    pub watts: Power,
    /// Vr, rated volts.
    pub volts: ElectricPotential,
}

worded! {
    /// What the measured amps say about a heater's elements.
    pub enum HeaterVerdict {
        /// All elements draw their current.
        AllWork = "all_work",
        /// Some are open.
        SomeOpen = "some_open",
        /// None draws current: open, or not called for.
        NoneWorks = "none_works",
        /// The amps fit no whole number of elements.
        DoesNotFit = "does_not_fit",
        /// More current than all elements together can draw.
        TooMuch = "too_much",
    }
}

/// How many elements work.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ElementCount {
    /// The verdict.
    pub verdict: HeaterVerdict,
    /// Measured amps over the amps of one element.
    pub working: Ratio,
    /// The elements that are open, where the amps tell.
    pub open: Option<u32>,
}

/// Watts at other volts than rated: W = Wr·(V/Vr)². A 230 V heater on 208 V gives 82 %.
///
/// # Errors
/// When a rating is not above zero or the voltage is below zero.
pub fn watts_at(element: Element, measured: ElectricPotential) -> Result<Power, CannotWorkOut> {
    let share = not_negative("The measured voltage", measured)?
        / above_zero("The heater's rated voltage", element.volts)?;
    result(
        "The power",
        above_zero("The heater's rated power", element.watts)? * share * share,
    )
}

/// The current of one element: I = Wr·V/Vr².
///
/// # Errors
/// As [`watts_at`].
pub fn current_at(
    element: Element,
    measured: ElectricPotential,
) -> Result<ElectricCurrent, CannotWorkOut> {
    result("The current", measured.si() / resistance(element)?.si()).and_then(|amps| {
        not_negative("The measured voltage", measured)?;
        Ok(amps)
    })
}

/// The resistance of one element when hot: R = Vr²/Wr.
///
/// # Errors
/// When a rating is not above zero.
pub fn resistance(element: Element) -> Result<ElectricalResistance, CannotWorkOut> {
    let volts = above_zero("The heater's rated voltage", element.volts)?;
    let ohms: ElectricalResistance = result(
        "The resistance",
        volts * volts / above_zero("The heater's rated power", element.watts)?,
    )?;
    above_zero("The resistance", ohms).map(ElectricalResistance::of_si)
}

/// Counts open elements of `elements` equal, parallel ones by their common current.
///
/// The count holds where the measured amps are within the row `open_element_share` of a whole
/// number of elements; common practice, no source.
///
/// # Errors
/// When the number of elements is not from 1 to 60, or as [`current_at`].
pub fn count_elements(
    element: Element,
    elements: u32,
    measured_volts: ElectricPotential,
    measured_amps: ElectricCurrent,
) -> Result<ElementCount, CannotWorkOut> {
    if !(1..=ELEMENTS_MAX).contains(&elements) {
        return Err(CannotWorkOut(format!(
            "{elements} elements is not possible; give the number on this coil, 1 to \
             {ELEMENTS_MAX}."
        )));
    }
    above_zero("The measured voltage", measured_volts)?;
    let one = above_zero(
        "The current of one element",
        current_at(element, measured_volts)?,
    )?;
    let amps = not_negative("The measured current", measured_amps)?;
    let working: Ratio = result("The number of working elements", amps / one)?;
    let spread: f64 = row_value::<Ratio>("open_element_share")?.si();
    let whole = working.si().round();
    let all = f64::from(elements);
    let (verdict, open) = if whole > all {
        (HeaterVerdict::TooMuch, None)
    } else if (working.si() - whole).abs() > spread {
        (HeaterVerdict::DoesNotFit, None)
    } else {
        let open = (all - whole) as u32;
        let verdict = match open {
            0 => HeaterVerdict::AllWork,
            open if open == elements => HeaterVerdict::NoneWorks,
            _ => HeaterVerdict::SomeOpen,
        };
        (verdict, Some(open))
    };
    Ok(ElementCount {
        verdict,
        working,
        open,
    })
}

const WATTS: Parameter = Parameter::needed("rated_watts", POWER, "Wr of one element");
const VOLTS: Parameter = Parameter::needed("rated_volts", VOLTAGE, "Vr of one element");
const MEASURED: Parameter = Parameter::needed("measured_volts", VOLTAGE, "V across the heater");
const PHYSICS: &str = "Ohm's law, for an element of constant resistance";

/// The formulas of this topic.
pub(crate) const FORMULAS: &[Formula] = &[
    Formula {
        name: "heater_watts",
        version: 1,
        about: "What a defrost heater gives at the volts that are there.",
        symbols: "W = Wr·(V/Vr)²; I = Wr·V/Vr²; R = Vr²/Wr",
        source: PHYSICS,
        confidence: Confidence::Computed,
        takes: &[WATTS, VOLTS, MEASURED],
        gives: &[
            Output::of("watts", POWER, "W"),
            Output::of("share", RATIO, "W as a share of Wr"),
            Output::of("current", CURRENT, "I of one element"),
            Output::of("resistance", RESISTANCE, "R of one element, hot"),
        ],
        run: heater_watts,
    },
    Formula {
        name: "heater_elements",
        version: 1,
        about: "How many elements of a defrost heater are open, by its amps.",
        symbols: "n = I/(Wr·V/Vr²)",
        source: PHYSICS,
        confidence: Confidence::Computed,
        takes: &[
            WATTS,
            VOLTS,
            MEASURED,
            Parameter::needed("measured_amps", CURRENT, "I of all elements together"),
            Parameter::needed(
                "elements",
                ValueType::Number,
                "equal elements in parallel, 1 to 60",
            ),
        ],
        gives: &[
            Output::of(
                "verdict",
                ValueType::Word(HeaterVerdict::WORDS),
                "the verdict",
            ),
            Output::of(
                "open",
                ValueType::Number,
                "open elements; absent where amps do not tell",
            ),
            Output::of("expected", CURRENT, "the amps with all elements working"),
        ],
        run: heater_elements,
    },
];

fn element_of(arguments: &Arguments) -> Result<Element, CannotWorkOut> {
    Ok(Element {
        watts: given(arguments, "rated_watts")?,
        volts: given(arguments, "rated_volts")?,
    })
}

fn heater_watts(arguments: &Arguments, _: &Goods<'_>) -> Result<Results, CannotWorkOut> {
    let element = element_of(arguments)?;
    let measured = given(arguments, "measured_volts")?;
    let watts = watts_at(element, measured)?;
    let share: Ratio = result("The share", watts.si() / element.watts.si())?;
    let percent = super::quantity::plain_number((100.0 * share.si()).round());
    Ok(Results::default()
        .put("watts", watts)
        .put("share", share)
        .put("current", current_at(element, measured)?)
        .put("resistance", resistance(element)?)
        .say(format!("{}: {percent}% of the rated heat.", watts.shown())))
}

fn heater_elements(arguments: &Arguments, _: &Goods<'_>) -> Result<Results, CannotWorkOut> {
    let element = element_of(arguments)?;
    let measured = given(arguments, "measured_volts")?;
    let number = arguments.number("elements")?;
    if number.fract() != 0.0 || !(1.0..=f64::from(ELEMENTS_MAX)).contains(&number) {
        return Err(CannotWorkOut(format!(
            "{number} elements is not possible; give the number on this coil, 1 to \
             {ELEMENTS_MAX}."
        )));
    }
    let elements = number as u32;
    let count = count_elements(
        element,
        elements,
        measured,
        given(arguments, "measured_amps")?,
    )?;
    let one = current_at(element, measured)?;
    let mut results = Results::default().put_word("verdict", count.verdict.word());
    if let Some(open) = count.open {
        results = results.with("open", Value::Number(f64::from(open)));
    }
    let sentence = match (count.verdict, count.open) {
        (HeaterVerdict::AllWork, _) => "All elements draw their current.".to_owned(),
        (HeaterVerdict::SomeOpen, open) => {
            format!(
                "{} of {elements} elements look open.",
                open.unwrap_or_default()
            )
        }
        (HeaterVerdict::NoneWorks, _) => {
            "No element draws current: all open, or the defrost is not called for.".to_owned()
        }
        (HeaterVerdict::DoesNotFit, _) => {
            "The amps fit no whole number of elements: check the ratings and the clamp.".to_owned()
        }
        (HeaterVerdict::TooMuch, _) => {
            "More amps than all elements together: check ratings, clamp and wiring.".to_owned()
        }
    };
    let expected: ElectricCurrent = result("The current", one.si() * number)?;
    Ok(results.put("expected", expected).say(sentence))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use uom::si::electric_current::ampere;
    use uom::si::electric_potential::volt;
    use uom::si::power::watt;

    fn volts(value: f64) -> ElectricPotential {
        ElectricPotential::new::<volt>(value)
    }

    fn element() -> Element {
        Element {
            watts: Power::new::<watt>(1000.0),
            volts: volts(230.0),
        }
    }

    #[test]
    fn a_230_volt_heater_on_208_volts_gives_82_percent() {
        let watts = watts_at(element(), volts(208.0)).unwrap();
        assert!((watts.get::<watt>() - 817.8).abs() < 0.1);
    }

    #[test]
    fn amps_tell_how_many_elements_are_open() {
        let one = current_at(element(), volts(208.0)).unwrap().get::<ampere>();
        let count = |share: f64| {
            let amps = ElectricCurrent::new::<ampere>(share * one);
            count_elements(element(), 6, volts(208.0), amps).unwrap()
        };
        assert_eq!(count(6.0).verdict, HeaterVerdict::AllWork);
        assert_eq!(count(4.1).open, Some(2));
        assert_eq!(count(0.0).verdict, HeaterVerdict::NoneWorks);
        assert_eq!(count(4.5).verdict, HeaterVerdict::DoesNotFit);
        assert_eq!(count(7.0).verdict, HeaterVerdict::TooMuch);
    }

    proptest! {
        #[test]
        fn watts_rise_with_volts(low in 1.0_f64..300.0, more in 0.1_f64..100.0) {
            let at = |value| watts_at(element(), volts(value)).unwrap().si();
            prop_assert!(at(low) < at(low + more));
        }

        #[test]
        fn any_input_gives_a_number_or_a_refusal(
            a in prop::num::f64::ANY, b in prop::num::f64::ANY, c in prop::num::f64::ANY,
        ) {
            let element = Element { watts: Power::of_si(a), volts: volts(b) };
            let amps = current_at(element, volts(c));
            prop_assert!(amps.is_err() || amps.unwrap().si().is_finite());
            let count = count_elements(element, 3, volts(c), ElectricCurrent::of_si(b));
            prop_assert!(count.is_err() || count.unwrap().working.si().is_finite());
        }
    }
}
