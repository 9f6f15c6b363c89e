//! Refrigerants against a property library and published boiling points.

use fanwright::trade::air::standard_pressure;
use fanwright::trade::formula::{Arguments, Results, Value as FormulaValue};
use fanwright::trade::formula_named;
use fanwright::trade::gauge::{self, Gauge};
use fanwright::trade::goods::Goods;
use fanwright::trade::kit::Kit;
use fanwright::trade::quantity::{Kind, Quantity, Unit};
use fanwright::trade::refrigerant::Refrigerant;
use fanwright::trade::saturation::{self, Side};
use fanwright::trade::speed_book::SpeedBook;
use uom::si::f64::{Length, Pressure, ThermodynamicTemperature};
use uom::si::length::foot;
use uom::si::pressure::{kilopascal, pascal};
use uom::si::thermodynamic_temperature::{degree_celsius, degree_fahrenheit, kelvin};

use super::{Vector, vectors_of};

fn refrigerant(vector: &Vector) -> Refrigerant {
    Refrigerant::named(vector.text("refrigerant"))
        .unwrap_or_else(|| panic!("{}: no such refrigerant", vector.label()))
}

fn sea_level() -> Pressure {
    standard_pressure(Length::new::<foot>(0.0)).unwrap()
}

fn gauge(vector: &Vector, key: &str) -> Gauge {
    let unit = Unit::typed(Kind::GaugePressure, vector.unit(key)).unwrap();
    Gauge::new(Pressure::new::<pascal>(unit.of(vector.number(key)).si))
}

fn temperature(vector: &Vector, key: &str) -> ThermodynamicTemperature {
    let unit = Unit::typed(Kind::Temperature, vector.unit(key)).unwrap();
    ThermodynamicTemperature::new::<kelvin>(unit.of(vector.number(key)).si)
}

/// The column that a vector asks for; where it does not say, the suction side's.
fn side(vector: &Vector) -> Side {
    match vector
        .inputs
        .get("quality")
        .map(|_| vector.number("quality"))
    {
        None => Side::Dew,
        Some(1.0) => Side::Dew,
        Some(0.0) => Side::Bubble,
        Some(other) => panic!("{}: quality {other}", vector.label()),
    }
}

#[test]
fn saturation_pressures_meet_the_property_library() {
    for vector in vectors_of(&["pt"]) {
        let temperature = temperature(&vector, "t");
        let pressure = saturation::pressure(refrigerant(&vector), side(&vector), temperature);
        let gauge = Gauge::of_absolute(pressure.unwrap(), sea_level());
        let si = gauge.above_surrounding().value;
        let unit = Unit::typed(Kind::GaugePressure, vector.expected_unit()).unwrap();
        vector.meets(
            Quantity {
                kind: Kind::GaugePressure,
                si,
            }
            .in_unit(unit),
        );
    }
}

#[test]
fn saturation_temperatures_meet_the_property_library() {
    for vector in vectors_of(&["tp"]) {
        let absolute = gauge(&vector, "p").absolute(sea_level()).unwrap();
        let side = side(&vector);
        let temperature = saturation::temperature(refrigerant(&vector), side, absolute).unwrap();
        assert_eq!(vector.expected_unit(), "degF", "{}", vector.label());
        vector.meets(temperature.get::<degree_fahrenheit>());
    }
}

/// Atmospheric boiling and dew temperatures as ASHRAE Standard 34 and makers' sheets print them.
#[test]
fn blends_boil_where_published_tables_say() {
    for vector in vectors_of(&["pt_crosscheck"]) {
        assert_eq!(vector.unit("p"), "kPa", "{}", vector.label());
        let pressure = Pressure::new::<kilopascal>(vector.number("p"));
        for (key, side) in [("bubble_C", Side::Bubble), ("dew_C", Side::Dew)] {
            let t = saturation::temperature(refrigerant(&vector), side, pressure).unwrap();
            vector.meets_under(key, t.get::<degree_celsius>());
        }
    }
}

#[test]
fn superheat_is_taken_from_the_dew_column() {
    for vector in vectors_of(&["superheat"]) {
        let refrigerant = refrigerant(&vector);
        let line = temperature(&vector, "line_t");
        let liquid = ["liquid", "discharge", "head"]
            .into_iter()
            .find(|key| vector.has(key));
        if let Some(key) = liquid {
            let gauge = gauge(&vector, key);
            let subcooling = gauge::subcooling(refrigerant, gauge, sea_level(), line).unwrap();
            vector.meets(subcooling.value * 1.8);
            continue;
        }
        let suction = gauge(&vector, "suction");
        let superheat = gauge::superheat(refrigerant, suction, sea_level(), line).unwrap();
        if vector.expected_unit().contains("(wrong)") {
            // The negative control: what the other column would have given.
            let absolute = suction.absolute(sea_level()).unwrap();
            let bubble = saturation::temperature(refrigerant, Side::Bubble, absolute).unwrap();
            let wrong = 1.8 * (line.value - bubble.value);
            vector.meets(wrong);
            assert!(wrong - 1.8 * superheat.value > 5.0, "{}", vector.label());
        } else {
            vector.meets(superheat.value * 1.8);
        }
    }
}

/// R-448A at 33.1 psig with the line at 18 °F: 8.0 °F by the dew column (CoolProp 8.0.0).
#[test]
fn the_plausible_wrong_column_is_not_taken() {
    let suction = Gauge::new(Pressure::new::<uom::si::pressure::psi>(33.1));
    let line = ThermodynamicTemperature::new::<degree_fahrenheit>(18.0);
    let superheat = gauge::superheat(Refrigerant::R448A, suction, sea_level(), line).unwrap();
    assert!(
        (superheat.value * 1.8 - 8.0).abs() < 0.2,
        "{}",
        superheat.value * 1.8
    );
}

#[test]
fn glide_meets_the_property_library() {
    for vector in vectors_of(&["glide"]) {
        let text = vector.text("p");
        let words: Vec<&str> = text.split_whitespace().collect();
        let (degrees, column) = match words.as_slice() {
            ["saturation", "at", degrees, "F", column] => {
                (degrees.parse::<f64>().unwrap(), *column)
            }
            _ => panic!("{}: {text}", vector.label()),
        };
        let side = match column {
            "bubble" => Side::Bubble,
            "dew" => Side::Dew,
            _ => panic!("{}: {text}", vector.label()),
        };
        let at = ThermodynamicTemperature::new::<degree_fahrenheit>(degrees);
        let pressure = saturation::pressure(refrigerant(&vector), side, at).unwrap();
        let glide = saturation::glide(refrigerant(&vector), pressure).unwrap();
        vector.meets(glide.value * 1.8);
    }
}

#[test]
fn safety_groups_are_those_of_the_standard() {
    for vector in vectors_of(&["safety_group"]) {
        let expected = vector.expected.as_str().unwrap();
        assert_eq!(
            refrigerant(&vector).safety_group().name(),
            expected,
            "{}",
            vector.label()
        );
    }
}

/// A gauge reads from the local air, so a missing altitude must be said.
#[test]
fn superheat_says_when_it_assumes_sea_level() {
    let of = |kind, literal: &str, value: f64| {
        let unit = Unit::of_literal(literal).unwrap();
        assert_eq!(unit.kind, kind);
        FormulaValue::Quantity(unit.of(value))
    };
    let mut arguments = Arguments::default();
    let mut give = |name: &str, value| arguments.0.insert(name.to_owned(), value);
    give("refrigerant", FormulaValue::Word("R-448A".into()));
    give("pressure", of(Kind::GaugePressure, "psig", 33.1));
    give("line_temperature", of(Kind::Temperature, "deg_f", 18.0));
    let (kit, speed_book) = (Kit::default(), SpeedBook::default());
    let goods = Goods {
        kit: &kit,
        speed_book: &speed_book,
    };
    let formula = formula_named("superheat").unwrap();
    let low = (formula.run)(&arguments, &goods).unwrap();
    assert!(
        low.warnings.iter().any(|text| text.contains("Sea level")),
        "{low:?}"
    );
    arguments
        .0
        .insert("altitude".into(), of(Kind::Length, "foot", 5_000.0));
    let high = (formula.run)(&arguments, &goods).unwrap();
    assert!(high.warnings.is_empty(), "{high:?}");
    let superheat = |results: &Results| match results.get("superheat") {
        Some(FormulaValue::Quantity(quantity)) => quantity.si * 1.8,
        other => panic!("{other:?}"),
    };
    // Thinner air, so the same gauge reading is a lower pressure and a colder boiling point.
    assert!(superheat(&high) > superheat(&low) + 2.0);
}
