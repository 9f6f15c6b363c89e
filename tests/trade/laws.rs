//! What must hold for any air, any fan law and any formula of the trade.

use fanwright::trade::air::{self, MoistAir};
use fanwright::trade::fan::{self, Similarity};
use fanwright::trade::sensible;
use fanwright::trade::velocity::{velocity, velocity_pressure};
use proptest::prelude::*;
use uom::si::angular_velocity::revolution_per_minute;
use uom::si::f64::{
    AngularVelocity, Length, MassDensity, Power, Pressure, Ratio, TemperatureInterval,
    ThermodynamicTemperature, VolumeRate,
};
use uom::si::length::meter;
use uom::si::mass_density::kilogram_per_cubic_meter;
use uom::si::power::watt;
use uom::si::pressure::pascal;
use uom::si::ratio::ratio;
use uom::si::temperature_interval::kelvin as kelvin_apart;
use uom::si::thermodynamic_temperature::{degree_celsius, kelvin};
use uom::si::volume_rate::cubic_meter_per_second;

fn similarity() -> impl Strategy<Value = Similarity> {
    (0.1_f64..10.0, 0.2_f64..5.0, 0.5_f64..2.0).prop_map(|(speed, diameter, density)| {
        let rpm = AngularVelocity::new::<revolution_per_minute>;
        let kg = MassDensity::new::<kilogram_per_cubic_meter>;
        Similarity::SAME
            .speed(rpm(1.0), rpm(speed))
            .and_then(|one| one.diameter(Length::new::<meter>(1.0), Length::new::<meter>(diameter)))
            .and_then(|one| one.density(kg(1.0), kg(density)))
            .unwrap()
    })
}

fn close(one: f64, other: f64) -> bool {
    (one - other).abs() <= 1e-9 * (1.0 + one.abs().max(other.abs()))
}

fn moist(t: f64, humidity: f64, pressure: f64) -> MoistAir {
    MoistAir::new(
        ThermodynamicTemperature::new::<degree_celsius>(t),
        Ratio::new::<ratio>(humidity),
        Pressure::new::<pascal>(pressure),
    )
    .unwrap()
}

proptest! {
    #[test]
    fn fan_laws_undo_and_compose(
        one in similarity(), next in similarity(), q in 1e-3_f64..10.0, p in 1.0_f64..1e3,
        w in 1.0_f64..1e3,
    ) {
        let flow = VolumeRate::new::<cubic_meter_per_second>(q);
        let (pressure, power) = (Pressure::new::<pascal>(p), Power::new::<watt>(w));
        prop_assert!(close(one.inverse().flow(one.flow(flow)).value, q));
        prop_assert!(close(one.inverse().pressure(one.pressure(pressure)).value, p));
        prop_assert!(close(one.inverse().power(one.power(power)).value, w));
        let both = one.then(next);
        prop_assert!(close(both.flow(flow).value, next.flow(one.flow(flow)).value));
        let twice = next.pressure(one.pressure(pressure));
        prop_assert!(close(both.pressure(pressure).value, twice.value));
        prop_assert!(close(both.power(power).value, next.power(one.power(power)).value));
        // Flow times pressure is power, whatever changes.
        let product = both.flow_factor().value * both.pressure_factor().value;
        prop_assert!((product / both.power_factor().value - 1.0).abs() < 1e-9);
    }

    #[test]
    fn speeds_from_flow_pressure_and_power_agree(factor in 0.1_f64..10.0, n in 1.0_f64..5e3) {
        let speed = AngularVelocity::new::<revolution_per_minute>(n);
        let faster = AngularVelocity::new::<revolution_per_minute>(n * factor);
        let change = Similarity::SAME.speed(speed, faster).unwrap();
        let flow = VolumeRate::new::<cubic_meter_per_second>(0.5);
        let pressure = Pressure::new::<pascal>(60.0);
        let power = Power::new::<watt>(70.0);
        for found in [
            fan::speed_for_flow(speed, flow, change.flow(flow)),
            fan::speed_for_pressure(speed, pressure, change.pressure(pressure)),
            fan::speed_for_power(speed, power, change.power(power)),
        ] {
            prop_assert!((found.unwrap().value / faster.value - 1.0).abs() < 1e-9);
        }
        let there = fan::power_for_flow(power, flow, change.flow(flow)).unwrap();
        let back = fan::flow_for_power(flow, power, there);
        prop_assert!((back.unwrap().value / change.flow(flow).value - 1.0).abs() < 1e-9);
    }

    #[test]
    fn the_dew_point_saturates_the_same_air(
        t in -40.0_f64..60.0, humidity in 0.01_f64..1.0, p in 6e4_f64..1.1e5,
    ) {
        let air = moist(t, humidity, p);
        let point = air.saturates().unwrap().temperature();
        prop_assert!(point.get::<degree_celsius>() <= t + 1e-6);
        let at_point = air::saturation_pressure(point).unwrap().value;
        prop_assert!((at_point / air.vapour_pressure().value - 1.0).abs() < 1e-8);
    }

    #[test]
    fn colder_wetter_and_thinner_air_behave(
        t in -40.0_f64..60.0, humidity in 0.0_f64..0.98, p in 6e4_f64..1.1e5,
    ) {
        let air = moist(t, humidity, p);
        prop_assert!(moist(t - 1.0, humidity, p).density() > air.density());
        prop_assert!(moist(t, humidity + 0.02, p).density() < air.density());
        prop_assert!(moist(t, humidity, p * 0.98).density() < air.density());
        prop_assert!(moist(t, humidity + 0.02, p).humidity_ratio() > air.humidity_ratio());
        prop_assert!(moist(t, humidity + 0.02, p).enthalpy() > air.enthalpy());
        prop_assert!(sensible::trade_factor(&air).is_finite());
    }

    #[test]
    fn the_saturation_curve_rises_through_freezing(t in 173.2_f64..472.0, more in 1e-4_f64..1.0) {
        let at = |t| air::saturation_pressure(ThermodynamicTemperature::new::<kelvin>(t)).unwrap();
        prop_assert!(at(t) < at(t + more));
    }

    #[test]
    fn heat_and_flow_undo_each_other(
        q in 1e-3_f64..10.0,
        dt in 0.1_f64..30.0,
        t in -30.0_f64..40.0,
    ) {
        let air = moist(t, 0.8, 101_325.0);
        let flow = VolumeRate::new::<cubic_meter_per_second>(q);
        let apart = TemperatureInterval::new::<kelvin_apart>(dt);
        let heat = sensible::heat(&air, flow, apart).unwrap();
        let back = sensible::flow_for_heat(&air, heat, apart).unwrap();
        prop_assert!((back.value / q - 1.0).abs() < 1e-12);
    }

    #[test]
    fn velocity_and_its_pressure_undo_each_other(p in 0.0_f64..1e4, density in 0.5_f64..2.0) {
        let density = MassDensity::new::<kilogram_per_cubic_meter>(density);
        let speed = velocity(Pressure::new::<pascal>(p), density).unwrap();
        let back = velocity_pressure(speed, density).unwrap().value;
        prop_assert!((back - p).abs() < 1e-9 * (1.0 + p));
    }

    #[test]
    fn any_number_gives_an_answer_or_a_reason(
        a in any::<f64>(),
        b in any::<f64>(),
        c in any::<f64>(),
    ) {
        let air = MoistAir::new(
            ThermodynamicTemperature::new::<kelvin>(a),
            Ratio::new::<ratio>(b),
            Pressure::new::<pascal>(c),
        );
        if let Ok(air) = air {
            prop_assert!(air.density().value.is_finite());
            prop_assert!(air.enthalpy().value.is_finite());
        }
        let density = MassDensity::new::<kilogram_per_cubic_meter>(b);
        if let Ok(speed) = velocity(Pressure::new::<pascal>(a), density) {
            prop_assert!(!speed.value.is_nan());
        }
        let rpm = AngularVelocity::new::<revolution_per_minute>;
        if let Ok(change) = Similarity::SAME.speed(rpm(a), rpm(b)) {
            prop_assert!(change.flow_factor().value > 0.0);
        }
        if let Ok(pressure) = air::standard_pressure(Length::new::<meter>(a)) {
            prop_assert!(pressure.value > 0.0);
        }
    }
}
