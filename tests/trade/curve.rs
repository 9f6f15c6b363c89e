//! Fan curves on coils: the working point, its warnings, and what must hold for any curve.

use fanwright::trade::air::{MoistAir, standard_density};
use fanwright::trade::coil::{Coil, Tubes};
use fanwright::trade::coil_drop::CoilDrop;
use fanwright::trade::curve::{
    CurvePoint, FanCurve, Place, SpeedStep, SystemCurve, at_each_speed, operating_point, speed_for,
};
use fanwright::trade::fan::Similarity;
use proptest::prelude::*;
use uom::si::angular_velocity::revolution_per_minute;
use uom::si::f64::{
    AngularVelocity, Length, LinearNumberDensity, MassDensity, Power, Pressure, Ratio,
    ThermodynamicTemperature, VolumeRate,
};
use uom::si::length::{foot, inch};
use uom::si::linear_number_density::per_inch;
use uom::si::mass_density::pound_per_cubic_foot;
use uom::si::power::watt;
use uom::si::pressure::{inch_of_water, pascal};
use uom::si::ratio::percent;
use uom::si::thermodynamic_temperature::degree_fahrenheit;
use uom::si::volume_rate::{cubic_foot_per_minute, cubic_meter_per_second};

fn cfm(value: f64) -> VolumeRate {
    VolumeRate::new::<cubic_foot_per_minute>(value)
}

fn water(value: f64) -> Pressure {
    Pressure::new::<inch_of_water>(value)
}

fn rpm(value: f64) -> AngularVelocity {
    AngularVelocity::new::<revolution_per_minute>(value)
}

/// An invented curve from (cfm, in wg, W).
fn curve(points: &[(f64, f64, f64)]) -> FanCurve {
    let points: Vec<CurvePoint> = points
        .iter()
        .map(|(flow, pressure, power)| CurvePoint {
            flow: cfm(*flow),
            pressure: water(*pressure),
            input_power: Some(Power::new::<watt>(*power)),
        })
        .collect();
    FanCurve::new(&points, standard_density()).unwrap()
}

fn plain_curve() -> FanCurve {
    curve(&[
        (0.0, 0.5, 90.0),
        (600.0, 0.4, 85.0),
        (1_200.0, 0.25, 75.0),
        (1_700.0, 0.0, 60.0),
    ])
}

/// With the dip of an axial blade between 400 and 800 cfm.
fn dipped_curve() -> FanCurve {
    curve(&[
        (0.0, 0.5, 90.0),
        (400.0, 0.28, 85.0),
        (800.0, 0.34, 80.0),
        (1_200.0, 0.22, 75.0),
        (1_700.0, 0.0, 60.0),
    ])
}

fn coil_drop(fins: f64) -> CoilDrop {
    let coil = Coil::new(
        Length::new::<inch>(15.0),
        Length::new::<inch>(36.0),
        Length::new::<inch>(4.33),
        LinearNumberDensity::new::<per_inch>(fins),
        4,
    )
    .unwrap();
    CoilDrop::new(&coil, &Tubes::usual().unwrap(), &freezer_air()).unwrap()
}

fn freezer_air() -> MoistAir {
    MoistAir::at_altitude(
        ThermodynamicTemperature::new::<degree_fahrenheit>(0.0),
        Ratio::new::<percent>(90.0),
        Length::new::<foot>(0.0),
    )
    .unwrap()
}

#[test]
fn the_working_point_lies_on_both_curves() {
    let system = SystemCurve::through(cfm(1_200.0), water(0.25)).unwrap();
    let point = operating_point(&plain_curve(), &system, standard_density()).unwrap();
    assert!((point.flow.get::<cubic_foot_per_minute>() - 1_200.0).abs() < 1e-3);
    assert!((point.input_power.unwrap().value - 75.0).abs() < 1e-3);
    assert_eq!(point.shaft_power, None);
    assert_eq!(point.place, Place::Steady);
    assert_eq!(point.place.warning(), None);
}

#[test]
fn cold_air_takes_more_power_at_the_same_flow() {
    // A square resistance given for the same air scales with it, so the flow stays.
    let cold = freezer_air().density();
    let heavier = (cold / standard_density()).value;
    let system = SystemCurve::through(cfm(1_200.0), water(0.25) * heavier).unwrap();
    let fan = plain_curve()
        .with_drive_efficiency(Ratio::new::<percent>(60.0))
        .unwrap();
    let point = operating_point(&fan, &system, cold).unwrap();
    assert!((point.flow.get::<cubic_foot_per_minute>() - 1_200.0).abs() < 1e-3);
    assert!((point.input_power.unwrap().value - 75.0 * heavier).abs() < 1e-3);
    assert!((point.shaft_power.unwrap().value - 45.0 * heavier).abs() < 1e-3);
    assert!(heavier > 1.14);
}

#[test]
fn the_stall_side_is_warned_of() {
    let tight = SystemCurve::through(cfm(600.0), water(0.31)).unwrap();
    let point = operating_point(&dipped_curve(), &tight, standard_density()).unwrap();
    assert_eq!(point.place, Place::StallSide);
    assert!(point.place.warning().unwrap().contains("stall"));
    let open = SystemCurve::through(cfm(1_200.0), water(0.22)).unwrap();
    let point = operating_point(&dipped_curve(), &open, standard_density()).unwrap();
    assert_eq!(point.place, Place::Steady);
}

#[test]
fn two_crossings_may_hunt_and_the_higher_flow_is_given() {
    // At shut-off the dipped curve falls under this line and rises over it again.
    let fan = curve(&[
        (0.0, 0.30, 90.0),
        (400.0, 0.06, 85.0),
        (800.0, 0.34, 80.0),
        (1_200.0, 0.22, 75.0),
        (1_700.0, 0.0, 60.0),
    ]);
    let system = SystemCurve::through(cfm(1_000.0), water(0.4)).unwrap();
    let point = operating_point(&fan, &system, standard_density()).unwrap();
    let flow = point.flow.get::<cubic_foot_per_minute>();
    assert!(flow > 800.0, "{flow}");
    assert_eq!(point.place, Place::MayHunt);
}

#[test]
fn an_open_coil_says_at_least() {
    let fan = curve(&[(400.0, 0.4, 90.0), (800.0, 0.3, 80.0), (1_200.0, 0.2, 70.0)]);
    let open = SystemCurve::through(cfm(1_200.0), water(0.05)).unwrap();
    let point = operating_point(&fan, &open, standard_density()).unwrap();
    assert_eq!(point.place, Place::BeyondLastPoint);
    assert!((point.flow.get::<cubic_foot_per_minute>() - 1_200.0).abs() < 1e-6);
    let blocked = SystemCurve::through(cfm(100.0), water(0.4)).unwrap();
    let why = operating_point(&fan, &blocked, standard_density())
        .unwrap_err()
        .to_string();
    assert!(why.contains("400 cfm"), "{why}");
}

#[test]
fn faster_settings_move_more_air_through_this_coil() {
    let steps: Vec<SpeedStep> = [1_000.0, 1_300.0, 1_550.0]
        .into_iter()
        .map(|speed| {
            let change = Similarity::SAME.speed(rpm(1_550.0), rpm(speed)).unwrap();
            SpeedStep {
                speed: rpm(speed),
                curve: plain_curve().similar(change).unwrap(),
            }
        })
        .collect();
    let system = SystemCurve::of_coil(coil_drop(6.0), 1).unwrap();
    let air = freezer_air().density();
    let flows: Vec<f64> = at_each_speed(&steps, &system, air)
        .map(|(_, point)| point.unwrap().flow.get::<cubic_foot_per_minute>())
        .collect();
    assert!(flows.windows(2).all(|pair| pair[0] < pair[1]), "{flows:?}");
    assert!(flows[2] > 1_000.0 && flows[2] < 1_700.0, "{flows:?}");
    // The same from the other side: the speed that moves the middle flow is the middle speed.
    let wanted = speed_for(&steps[2], &system, air, cfm(flows[1])).unwrap();
    let found = wanted.get::<revolution_per_minute>();
    assert!((found - 1_300.0).abs() < 0.5, "{found}");
    assert!(speed_for(&steps[2], &system, air, cfm(90_000.0)).is_err());
}

#[test]
fn two_fans_share_a_coil() {
    let one = SystemCurve::of_coil(coil_drop(6.0), 1).unwrap();
    let two = SystemCurve::of_coil(coil_drop(6.0), 2).unwrap();
    assert!((two.pressure(cfm(500.0)).value - one.pressure(cfm(1_000.0)).value).abs() < 1e-9);
    let guarded = two.clone().and(cfm(500.0), water(0.02)).unwrap();
    let more = guarded.pressure(cfm(500.0)) - two.pressure(cfm(500.0));
    assert!((more.get::<inch_of_water>() - 0.02).abs() < 1e-9);
}

#[test]
fn a_curve_that_is_none_is_refused() {
    let point = |flow: f64, pressure: f64| CurvePoint {
        flow: cfm(flow),
        pressure: water(pressure),
        input_power: None,
    };
    let good = [point(0.0, 0.5), point(500.0, 0.4), point(900.0, 0.0)];
    let with_power = CurvePoint {
        input_power: Some(Power::new::<watt>(5.0)),
        ..good[0]
    };
    for (points, needle) in [
        (vec![good[0], good[1]], "three points"),
        (vec![good[1], good[0], good[2]], "rising"),
        (vec![good[0], good[1], point(f64::NAN, 0.1)], "rising"),
        (vec![point(0.0, -0.5), good[1], good[2]], "zero or more"),
        (vec![with_power, good[1], good[2]], "every point or at none"),
    ] {
        let why = FanCurve::new(&points, standard_density())
            .unwrap_err()
            .to_string();
        assert!(why.contains(needle), "{why}");
    }
    assert!(FanCurve::new(&good, MassDensity::new::<pound_per_cubic_foot>(0.0)).is_err());
    assert!(FanCurve::new(&good, standard_density()).is_ok());
}

fn any_curve() -> impl Strategy<Value = FanCurve> {
    (
        prop::collection::vec((0.02_f64..0.3, 0.0_f64..200.0), 3..9),
        prop::collection::vec(1.0_f64..300.0, 9),
    )
        .prop_map(|(points, powers)| {
            let mut flow = -0.02;
            let points: Vec<CurvePoint> = points
                .into_iter()
                .zip(powers)
                .map(|((more, pressure), power)| {
                    flow += more;
                    CurvePoint {
                        flow: VolumeRate::new::<cubic_meter_per_second>(flow),
                        pressure: Pressure::new::<pascal>(pressure),
                        input_power: Some(Power::new::<watt>(power)),
                    }
                })
                .collect();
            FanCurve::new(&points, standard_density()).unwrap()
        })
}

proptest! {
    #[test]
    fn any_curve_gives_a_point_on_both_curves_or_a_reason(
        fan in any_curve(), flow in 0.01_f64..2.0, pressure in 0.0_f64..300.0,
        heavier in 0.6_f64..1.4,
    ) {
        let system = SystemCurve::through(
            VolumeRate::new::<cubic_meter_per_second>(flow),
            Pressure::new::<pascal>(pressure),
        ).unwrap();
        let density = standard_density() * heavier;
        if let Ok(point) = operating_point(&fan, &system, density) {
            let (low, high) = fan.flows();
            prop_assert!(low <= point.flow && point.flow <= high);
            prop_assert!(point.input_power.unwrap().value.is_finite());
            if point.place != Place::BeyondLastPoint {
                let taken = system.pressure(point.flow).value;
                prop_assert!((taken - point.pressure.value).abs() < 1e-3 * (1.0 + taken));
            }
        }
    }

    #[test]
    fn scaling_a_curve_there_and_back_changes_nothing(
        fan in any_curve(), speed in 0.3_f64..3.0, diameter in 0.5_f64..2.0, at in 0.0_f64..1.0,
    ) {
        let change = Similarity::SAME
            .speed(rpm(1_000.0), rpm(1_000.0 * speed)).unwrap()
            .diameter(Length::new::<inch>(14.0), Length::new::<inch>(14.0 * diameter)).unwrap();
        let back = fan.similar(change).unwrap().similar(change.inverse()).unwrap();
        let (low, high) = fan.flows();
        let flow = low + (high - low) * at;
        let (once, again) =
            (fan.pressure(flow, standard_density()), back.pressure(flow, standard_density()));
        prop_assert!((once.value - again.value).abs() < 1e-6 * (1.0 + once.value));
    }

    #[test]
    fn a_coil_resists_more_with_more_air(
        fins in 3.0_f64..12.0, flow in 1e-6_f64..3.0, more in 1.000_1_f64..3.0,
    ) {
        let drop = coil_drop(fins);
        let at = |flow| drop.pressure(VolumeRate::new::<cubic_meter_per_second>(flow)).unwrap();
        prop_assert!(at(flow) < at(flow * more));
        prop_assert!(at(flow).value > 0.0 && at(flow * more).value.is_finite());
        prop_assert_eq!(at(0.0).value, 0.0);
    }
}
