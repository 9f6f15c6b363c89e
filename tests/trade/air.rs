//! Air, fans and coils against published and computed values.

use fanwright::trade::air::{self, MoistAir};
use fanwright::trade::coil;
use fanwright::trade::duty;
use fanwright::trade::fan::{self, Similarity};
use fanwright::trade::motor;
use fanwright::trade::quantity::{Kind, Unit};
use fanwright::trade::sensible;
use fanwright::trade::velocity::{self, velocity};
use uom::si::angular_velocity::{radian_per_second, revolution_per_minute};
use uom::si::area::{square_foot, square_meter};
use uom::si::f64::{
    AngularVelocity, Area, Frequency, Length, LinearNumberDensity, MassDensity, Power, Pressure,
    Ratio, TemperatureInterval, ThermodynamicTemperature, VolumeRate,
};
use uom::si::frequency::hertz;
use uom::si::length::meter;
use uom::si::linear_number_density::per_meter;
use uom::si::mass_density::kilogram_per_cubic_meter;
use uom::si::power::watt;
use uom::si::pressure::pascal;
use uom::si::ratio::ratio;
use uom::si::temperature_interval::kelvin as kelvin_interval;
use uom::si::thermodynamic_temperature::kelvin;
use uom::si::volume_rate::cubic_meter_per_second;

use super::{Vector, vectors_of};

/// The SI value under `key`; a plain number is in the unit that the trade uses for the kind.
fn si(vector: &Vector, key: &str, kind: Kind) -> f64 {
    let unit = match vector.unit(key) {
        "" => kind.usual_unit(),
        text => Unit::typed(kind, text).unwrap_or_else(|| panic!("{}: {text}", vector.label())),
    };
    unit.of(vector.number(key)).si
}

/// The value in the unit that the vector expects; words behind the unit do not count.
fn expect(vector: &Vector, kind: Kind, si: f64) {
    let text = vector
        .expected_unit()
        .split_whitespace()
        .next()
        .unwrap_or_default();
    let unit = Unit::typed(kind, text).unwrap_or_else(|| panic!("{}: {text}", vector.label()));
    vector.meets(fanwright::trade::quantity::Quantity { kind, si }.in_unit(unit));
}

fn unhandled(vector: &Vector) -> ! {
    panic!(
        "{}: nobody handles this kind of vector: {:?}",
        vector.label(),
        vector.inputs
    )
}

fn temperature(vector: &Vector, key: &str) -> ThermodynamicTemperature {
    ThermodynamicTemperature::new::<kelvin>(si(vector, key, Kind::Temperature))
}

fn length(vector: &Vector, key: &str) -> Length {
    Length::new::<meter>(si(vector, key, Kind::Length))
}

fn flow(vector: &Vector, key: &str) -> VolumeRate {
    VolumeRate::new::<cubic_meter_per_second>(si(vector, key, Kind::AirFlow))
}

fn power(vector: &Vector, key: &str) -> Power {
    Power::new::<watt>(si(vector, key, Kind::Power))
}

fn density(vector: &Vector, key: &str) -> MassDensity {
    MassDensity::new::<kilogram_per_cubic_meter>(si(vector, key, Kind::Density))
}

fn speed(vector: &Vector, key: &str) -> AngularVelocity {
    AngularVelocity::new::<radian_per_second>(si(vector, key, Kind::RotationalSpeed))
}

fn difference(vector: &Vector, key: &str) -> TemperatureInterval {
    TemperatureInterval::new::<kelvin_interval>(si(vector, key, Kind::TemperatureDifference))
}

fn fins(vector: &Vector, key: &str) -> LinearNumberDensity {
    LinearNumberDensity::new::<per_meter>(si(vector, key, Kind::FinPitch))
}

/// The air of a vector: dry where no humidity is given, sea level where no pressure is.
fn air_of(vector: &Vector) -> MoistAir {
    let humidity = if vector.has("rh") {
        si(vector, "rh", Kind::Ratio)
    } else {
        0.0
    };
    let humidity = Ratio::new::<ratio>(humidity);
    let temperature = temperature(vector, "t");
    if vector.has("p") {
        let pressure = Pressure::new::<pascal>(si(vector, "p", Kind::Pressure));
        return MoistAir::new(temperature, humidity, pressure).unwrap();
    }
    let altitude = if vector.has("altitude") {
        length(vector, "altitude")
    } else {
        Length::new::<meter>(0.0)
    };
    MoistAir::at_altitude(temperature, humidity, altitude).unwrap()
}

#[test]
fn air_meets_the_psychrometric_library() {
    for vector in vectors_of(&["air"]) {
        match vector.expected_unit() {
            "lb/ft3" => expect(&vector, Kind::Density, air_of(&vector).density().value),
            "lb/lb" => vector.meets(air_of(&vector).humidity_ratio().value),
            "Btu/lb dry air" => {
                expect(
                    &vector,
                    Kind::SpecificEnergy,
                    air_of(&vector).enthalpy().value,
                );
            }
            "degF" => {
                let point = air_of(&vector).saturates().unwrap().temperature();
                expect(&vector, Kind::Temperature, point.value);
            }
            "psia" if vector.takes(&["altitude"]) => {
                let pressure = air::standard_pressure(length(&vector, "altitude")).unwrap();
                expect(&vector, Kind::Pressure, pressure.value);
            }
            "ratio" if vector.takes(&["altitude", "same_temperature"]) => {
                assert!(vector.truth("same_temperature"), "{}", vector.label());
                let altitude = length(&vector, "altitude");
                vector.meets(air::altitude_density_ratio(altitude).unwrap().value);
            }
            _ => unhandled(&vector),
        }
    }
}

#[test]
fn sensible_heat_meets_the_published_factor() {
    for vector in vectors_of(&["sensible"]) {
        let air = air_of(&vector);
        if vector.has("cfm") && vector.has("dt") {
            let flow = flow(&vector, "cfm");
            let heat = sensible::heat(&air, flow, difference(&vector, "dt")).unwrap();
            expect(&vector, Kind::Power, heat.value);
        } else if vector.expected_unit().starts_with('%') {
            vector.meets(100.0 * sensible::rule_of_thumb_error(&air).value);
        } else if vector.expected_unit() == "Btu/h per cfm.degF" {
            vector.meets(sensible::trade_factor(&air));
        } else {
            unhandled(&vector);
        }
    }
}

#[test]
fn velocity_meets_the_handbook_constant() {
    for vector in vectors_of(&["velocity"]) {
        let density = density(&vector, "rho");
        let pressure = if vector.has("vp") {
            si(&vector, "vp", Kind::Pressure)
        } else if vector.has("inch_of_water") {
            assert_eq!(
                vector.unit("inch_of_water"),
                "lbf/ft2",
                "{}",
                vector.label()
            );
            vector.number("inch_of_water") * 6_894.757_293_168 / 144.0
        } else {
            Unit::of_literal("inch_water").unwrap().of(1.0).si
        };
        let velocity = velocity(Pressure::new::<pascal>(pressure), density).unwrap();
        let fpm = velocity.get::<uom::si::velocity::foot_per_minute>();
        match vector.expected_unit() {
            "ft/min" | "fpm" if vector.has("vp") => vector.meets(fpm),
            "fpm per sqrt(in wg)" => vector.meets(fpm),
            _ => unhandled(&vector),
        }
    }
}

/// The change from the first to the second state that a vector names.
fn similarity(vector: &Vector) -> Similarity {
    let mut change = Similarity::SAME;
    if vector.has("rpm1") {
        change = change
            .speed(speed(vector, "rpm1"), speed(vector, "rpm2"))
            .unwrap();
    }
    if vector.has("d1") {
        change = change
            .diameter(length(vector, "d1"), length(vector, "d2"))
            .unwrap();
    }
    if vector.has("t") {
        let cold = air_of(vector).density();
        change = change.density(air::standard_density(), cold).unwrap();
    }
    change
}

#[test]
fn fans_follow_their_laws() {
    for vector in vectors_of(&["fanlaw"]) {
        if vector.takes(&["cfm1", "bhp1", "bhp2"]) {
            let flow = flow(&vector, "cfm1");
            let (first, second) = (horsepower(&vector, "bhp1"), horsepower(&vector, "bhp2"));
            let second = fan::flow_for_power(flow, first, second).unwrap();
            expect(&vector, Kind::AirFlow, second.value);
        } else if vector.takes(&["cfm1", "bhp1", "cfm2"]) {
            let first = horsepower(&vector, "bhp1");
            let second =
                fan::power_for_flow(first, flow(&vector, "cfm1"), flow(&vector, "cfm2")).unwrap();
            vector.meets(second.get::<uom::si::power::watt>() / 745.699_871_582_270_2);
        } else if vector.takes(&["cfm_ratio"]) {
            let first = VolumeRate::new::<cubic_meter_per_second>(1.0);
            let second = first * vector.number("cfm_ratio");
            let power = fan::power_for_flow(Power::new::<watt>(1.0), first, second).unwrap();
            vector.meets(power.value);
        } else if vector.has("poles") {
            speeds(&vector);
        } else {
            similar(&vector);
        }
    }
}

fn horsepower(vector: &Vector, key: &str) -> Power {
    let unit = if vector.unit(key).is_empty() {
        "hp"
    } else {
        vector.unit(key)
    };
    let unit = Unit::typed(Kind::Power, unit).unwrap();
    Power::new::<watt>(unit.of(vector.number(key)).si)
}

fn speeds(vector: &Vector) {
    let poles = vector.number("poles") as u32;
    let frequency = if vector.has("f") {
        si(vector, "f", Kind::Frequency)
    } else {
        60.0
    };
    let synchronous = motor::synchronous_speed(Frequency::new::<hertz>(frequency), poles).unwrap();
    match vector.expected_unit() {
        "rpm" => vector.meets(synchronous.get::<revolution_per_minute>()),
        "%" => vector.meets(
            100.0
                * motor::slip(speed(vector, "rpm"), synchronous)
                    .unwrap()
                    .value,
        ),
        _ => unhandled(vector),
    }
}

/// A vector that scales one of flow, pressure and power, or asks for the factor itself.
fn similar(vector: &Vector) {
    let change = similarity(vector);
    let key = ["cfm1", "sp1", "power1", "P_std"]
        .into_iter()
        .find(|key| vector.has(key));
    match (key, vector.expected_unit()) {
        (Some("cfm1"), _) => {
            expect(
                vector,
                Kind::AirFlow,
                change.flow(flow(vector, "cfm1")).value,
            );
        }
        (Some("sp1"), _) => {
            let first = Pressure::new::<pascal>(si(vector, "sp1", Kind::Pressure));
            expect(vector, Kind::Pressure, change.pressure(first).value);
        }
        (Some(key), _) => expect(vector, Kind::Power, change.power(power(vector, key)).value),
        (None, "power ratio") => vector.meets(change.power_factor().value),
        (None, "cfm ratio" | "flow ratio") => vector.meets(change.flow_factor().value),
        (None, "sp ratio" | "pressure ratio") => vector.meets(change.pressure_factor().value),
        _ => unhandled(vector),
    }
}

#[test]
fn coils_measure_up() {
    for vector in vectors_of(&["coil"]) {
        if vector.has("cfm") {
            let area = if vector.has("face_area") {
                Area::new::<square_meter>(si(&vector, "face_area", Kind::Area))
            } else {
                face_area(&vector)
            };
            let velocity = coil::face_velocity(flow(&vector, "cfm"), area).unwrap();
            expect(&vector, Kind::Velocity, velocity.value);
        } else if vector.takes(&["fin_height", "finned_length"]) {
            expect(&vector, Kind::Area, face_area(&vector).value);
        } else if vector.takes(&["fpi", "finned_length"]) {
            let length = length(&vector, "finned_length");
            vector.meets(f64::from(
                coil::fin_count(fins(&vector, "fpi"), length).unwrap(),
            ));
        } else if vector.takes(&["fpi"]) {
            let spacing = coil::fin_spacing(fins(&vector, "fpi")).unwrap();
            expect(&vector, Kind::Length, spacing.value);
        } else if vector.takes(&["application"]) {
            let (narrowest, widest) = coil::usual_fin_spacings().unwrap();
            vector.meets_under("min", narrowest.get::<uom::si::length::millimeter>());
            vector.meets_under("max", widest.get::<uom::si::length::millimeter>());
        } else if vector.takes(&["air_entering", "sat_suction"]) {
            let (on, suction) = (
                temperature(&vector, "air_entering"),
                temperature(&vector, "sat_suction"),
            );
            let td = duty::temperature_difference(on, suction).unwrap();
            expect(&vector, Kind::TemperatureDifference, td.value);
        } else if vector.takes(&["td"]) {
            let humidity = duty::room_humidity(difference(&vector, "td")).unwrap();
            let (duty::RoomHumidity::About(value) | duty::RoomHumidity::Below(value)) = humidity;
            vector.meets(100.0 * value.value);
        } else {
            unhandled(&vector);
        }
    }
}

fn face_area(vector: &Vector) -> Area {
    let (height, long) = (
        length(vector, "fin_height"),
        length(vector, "finned_length"),
    );
    coil::face_area(height, long).unwrap()
}

fn cfm(value: f64) -> VolumeRate {
    VolumeRate::new::<uom::si::volume_rate::cubic_foot_per_minute>(value)
}

fn rpm(value: f64) -> AngularVelocity {
    AngularVelocity::new::<revolution_per_minute>(value)
}

fn pounds_per_cubic_foot(value: f64) -> MassDensity {
    MassDensity::new::<uom::si::mass_density::pound_per_cubic_foot>(value)
}

fn inch_water(value: f64) -> Pressure {
    Pressure::new::<uom::si::pressure::inch_of_water>(value)
}

/// A public engineering text on the fan laws: 15,800 cfm at 6.3 bhp, speeded up to 20,000 cfm,
/// takes 12.78 bhp.
#[test]
fn a_published_fan_law_example_comes_out() {
    let power = Power::new::<uom::si::power::horsepower>(6.3);
    let faster = fan::power_for_flow(power, cfm(15_800.0), cfm(20_000.0)).unwrap();
    let bhp = faster.get::<uom::si::power::horsepower>();
    assert!((bhp - 12.78).abs() < 0.01, "{bhp}");
}

/// ACGIH, Industrial Ventilation: V = 4005·√VP for standard air; 0.25 in wg gives 2,000 fpm.
#[test]
fn a_published_velocity_pressure_example_comes_out() {
    let v = velocity(inch_water(0.25), pounds_per_cubic_foot(0.075)).unwrap();
    let fpm = v.get::<uom::si::velocity::foot_per_minute>();
    assert!((fpm - 2_002.5).abs() < 2.5, "{fpm}");
    let back = velocity::velocity_pressure(v, pounds_per_cubic_foot(0.075)).unwrap();
    assert!((back.value / inch_water(0.25).value - 1.0).abs() < 1e-12);
}

/// ASHRAE Fundamentals (2017), ch. 1, table 2: dry air at 77 °F and 14.696 psia has
/// v = 13.5251 ft³/lb and h = 18.498 Btu/lb.
#[test]
fn the_handbook_table_of_dry_air_comes_out() {
    let t = Unit::of_literal("deg_f").unwrap().of(77.0).si;
    let p = Unit::of_literal("psia").unwrap().of(14.696).si;
    let air = MoistAir::new(
        ThermodynamicTemperature::new::<kelvin>(t),
        Ratio::new::<ratio>(0.0),
        Pressure::new::<pascal>(p),
    )
    .unwrap();
    let volume = air.specific_volume().value / 0.062_427_960_576;
    assert!((volume - 13.5251).abs() < 0.01, "{volume}");
    let enthalpy = air.enthalpy().value / 2_326.0;
    assert!((enthalpy - 18.498).abs() < 0.03, "{enthalpy}");
}

/// The mean of the roots, not the root of the mean: 0.01 and 0.09 in wg are 400.9 and 1202.6 fpm.
#[test]
fn a_traverse_averages_velocities_and_not_pressures() {
    let points = [inch_water(0.01), inch_water(0.09)];
    let traverse = velocity::traverse(&points, pounds_per_cubic_foot(0.075)).unwrap();
    let fpm = traverse.average.get::<uom::si::velocity::foot_per_minute>();
    assert!((fpm - 801.7).abs() < 0.2, "{fpm}");
    assert!(traverse.even_enough);
    let uneven = [inch_water(0.001), inch_water(0.2)];
    assert!(
        !velocity::traverse(&uneven, pounds_per_cubic_foot(0.075))
            .unwrap()
            .even_enough
    );
}

#[test]
fn the_carry_over_limit_is_the_published_one() {
    let at = |fpm| coil::face_velocity(cfm(fpm), Area::new::<square_foot>(1.0)).unwrap();
    assert_eq!(
        coil::carry_over(at(400.0)).unwrap(),
        coil::CarryOver::Unlikely
    );
    assert_eq!(
        coil::carry_over(at(550.0)).unwrap(),
        coil::CarryOver::Possible
    );
    assert_eq!(
        coil::carry_over(at(650.0)).unwrap(),
        coil::CarryOver::Expected
    );
}

#[test]
fn a_slip_of_a_four_pole_motor_at_1550_is_known() {
    let slip = motor::slip(rpm(1_550.0), rpm(1_800.0)).unwrap().value;
    assert!((slip - 0.139).abs() < 5e-4);
    let back = fan::speed_for_flow(rpm(1_550.0), cfm(1_200.0), cfm(1_000.0)).unwrap();
    assert!((back.get::<revolution_per_minute>() - 1_291.67).abs() < 0.01);
}
