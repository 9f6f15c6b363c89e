//! Coils: the pressure drop against a second published correlation, the window of an assembly,
//! the room that a coil keeps.

use std::f64::consts::PI;

use fanwright::trade::air::MoistAir;
use fanwright::trade::coil::{Coil, Tubes};
use fanwright::trade::coil_drop::CoilDrop;
use fanwright::trade::duty::{self, RoomHumidity};
use fanwright::trade::sensible;
use fanwright::trade::window::{CoilWindow, Plausible};
use uom::si::f64::{
    Length, LinearNumberDensity, Pressure, Ratio, TemperatureInterval, ThermodynamicTemperature,
    VolumeRate,
};
use uom::si::length::{foot, inch, millimeter};
use uom::si::linear_number_density::per_inch;
use uom::si::pressure::atmosphere;
use uom::si::ratio::percent;
use uom::si::temperature_interval::degree_fahrenheit as fahrenheit_apart;
use uom::si::thermodynamic_temperature::degree_fahrenheit;
use uom::si::volume_rate::{cubic_foot_per_minute, cubic_meter_per_second};

fn coil(fins: f64, rows: u32, row_pitch_mm: f64) -> Coil {
    Coil::new(
        Length::new::<inch>(15.0),
        Length::new::<inch>(36.0),
        Length::new::<millimeter>(row_pitch_mm * f64::from(rows)),
        LinearNumberDensity::new::<per_inch>(fins),
        rows,
    )
    .unwrap()
}

fn tubes(diameter_mm: f64, pitch_mm: f64, fin_mm: f64) -> Tubes {
    let mm = Length::new::<millimeter>;
    Tubes::new(mm(diameter_mm), mm(pitch_mm), mm(fin_mm)).unwrap()
}

fn air(fahrenheit: f64, humidity: f64) -> MoistAir {
    MoistAir::new(
        ThermodynamicTemperature::new::<degree_fahrenheit>(fahrenheit),
        Ratio::new::<percent>(humidity),
        Pressure::new::<atmosphere>(1.0),
    )
    .unwrap()
}

/// Friction over the whole surface by Gray, D. L. and Webb, R. L. (1986), Proc. 8th Int. Heat
/// Transfer Conf., 2745–2750: fins by f_f = 0.508·Re^−0.521·(P_t/D)^1.318, tubes by Jakob (1938).
/// Tubes' term from memory. It returns f·A/A_c·ρ·V_c²/2 in Pa.
fn gray_and_webb(fpi: f64, rows: f64, sizes: [f64; 4], face: f64, air: &MoistAir) -> f64 {
    let [diameter, across, along, fin] = sizes;
    let pitch = 0.0254 / fpi;
    let collar = diameter + 2.0 * fin;
    let free = (across - collar) * (pitch - fin) / (across * pitch);
    let fins = 2.0 * (across * along - PI / 4.0 * collar * collar);
    let bare = PI * collar * (pitch - fin);
    let surface = rows * (fins + bare) / (across * pitch);
    let t = air.temperature().value;
    let viscosity = 1.458e-6 * t.powf(1.5) / (t + 110.4);
    let velocity = face / free;
    let density = air.density().value;
    let reynolds = density * velocity * collar / viscosity;
    let ratio = across / collar;
    let of_fins = 0.508 * reynolds.powf(-0.521) * ratio.powf(1.318);
    let of_tubes =
        4.0 / PI * (0.25 + 0.118 / (ratio - 1.0).powf(1.08)) * reynolds.powf(-0.16) * (ratio - 1.0);
    let share = fins / (fins + bare);
    let friction = of_fins * share + of_tubes * (1.0 - share) * (1.0 - fin / pitch);
    friction * surface / free * 0.5 * density * velocity * velocity
}

#[test]
fn two_published_correlations_agree_within_their_scatter() {
    let air = air(35.0, 85.0);
    let mut worst = 0.0_f64;
    for fpi in [4.0, 6.0, 8.0, 10.0] {
        for rows in [3, 4, 6] {
            for face in [1.0, 1.5, 2.0, 2.5, 3.0] {
                let coil = coil(fpi, rows, 27.5);
                let tubes = tubes(12.7, 31.75, 0.19);
                let drop = CoilDrop::new(&coil, &tubes, &air).unwrap();
                let flow = coil.face_area().value * face;
                let flow = VolumeRate::new::<cubic_meter_per_second>(flow);
                let ours = drop.pressure(flow).unwrap().value;
                let sizes = [0.0127, 0.03175, 0.0275, 0.00019];
                let theirs = gray_and_webb(fpi, f64::from(rows), sizes, face, &air);
                worst = worst.max((ours / theirs - 1.0).abs());
                let outside = drop.outside_samples(flow);
                assert!(
                    outside.iter().all(|text| text.starts_with("tube")),
                    "{outside:?}"
                );
            }
        }
    }
    assert!(worst < 0.22, "{worst}");
}

#[test]
fn what_lies_outside_the_samples_is_named() {
    let drop = CoilDrop::new(
        &coil(2.0, 8, 33.0),
        &tubes(15.9, 38.1, 0.2),
        &air(0.0, 90.0),
    );
    let outside = drop
        .unwrap()
        .outside_samples(VolumeRate::new::<cubic_foot_per_minute>(1_000.0));
    let text = outside.join("; ");
    for what in [
        "tube diameter 16.3 mm",
        "fin pitch 12.7 mm",
        "number of rows 8.0",
        "along",
    ] {
        assert!(text.contains(what), "{what}: {text}");
    }
}

#[test]
fn impossible_coils_are_refused_with_what_to_check() {
    let thick = CoilDrop::new(
        &coil(40.0, 4, 27.5),
        &tubes(12.7, 31.75, 0.7),
        &air(35.0, 85.0),
    );
    assert!(thick.unwrap_err().to_string().contains("no gap"));
    let tight = CoilDrop::new(
        &coil(6.0, 4, 0.5),
        &tubes(12.7, 14.0, 0.1),
        &air(35.0, 85.0),
    );
    assert!(tight.unwrap_err().to_string().contains("tube rows"));
    let zero = Length::new::<inch>(0.0);
    let fins = LinearNumberDensity::new::<per_inch>(6.0);
    assert!(Coil::new(zero, zero, zero, fins, 4).is_err());
    assert!(
        Coil::new(zero, zero, zero, fins, 0)
            .unwrap_err()
            .to_string()
            .contains("24")
    );
}

#[test]
fn a_coil_outside_the_stated_window_asks_for_a_closer_look() {
    let inches = Length::new::<inch>;
    let fpi = LinearNumberDensity::new::<per_inch>;
    let window = CoilWindow {
        fins: Some(fpi(4.0)..=fpi(8.0)),
        depth: None,
        rows: Some(2..=4),
        height: Some(inches(10.0)..=inches(15.0)),
    };
    let compare = |coil: &Coil| window.compare(coil).unwrap();
    assert_eq!(compare(&coil(8.0, 4, 27.5)), Plausible::Inside);
    let outside = compare(&coil(10.0, 6, 27.5));
    let Plausible::Outside(reasons) = &outside else {
        panic!("{outside:?}")
    };
    assert_eq!(reasons.len(), 2);
    assert_eq!(
        reasons[0],
        "The fin pitch is 10 fpi, and the assembly's sheet says 4 fpi to 8 fpi."
    );
    assert!(outside.sentence().contains("stop and ask"));
    let silent = CoilWindow::default().compare(&coil(10.0, 6, 27.5)).unwrap();
    assert_eq!(silent, Plausible::NotStated);
    let upside_down = CoilWindow {
        height: Some(inches(15.0)..=inches(10.0)),
        ..CoilWindow::default()
    };
    assert!(upside_down.compare(&coil(8.0, 4, 27.5)).is_err());
}

/// A TD of 10 °F with about 85 % is in a published refrigeration text; the rest of the table is
/// from memory, behind data rows.
#[test]
fn a_wider_difference_dries_the_room() {
    let at = |td: f64| duty::room_humidity(TemperatureInterval::new::<fahrenheit_apart>(td));
    let about = |value: f64| RoomHumidity::About(Ratio::new::<percent>(value));
    assert_eq!(at(10.0).unwrap(), about(85.0));
    assert_eq!(at(9.4).unwrap(), about(90.0));
    assert_eq!(at(16.4).unwrap(), about(75.0));
    assert_eq!(
        at(20.0).unwrap(),
        RoomHumidity::Below(Ratio::new::<percent>(65.0))
    );
    for td in [3.0, 30.0, f64::NAN] {
        assert!(at(td).is_err(), "{td}");
    }
}

#[test]
fn the_capacity_of_dry_cooling_is_the_sensible_heat() {
    let (on, flow) = (
        air(35.0, 0.0),
        VolumeRate::new::<cubic_foot_per_minute>(1_000.0),
    );
    let whole = duty::air_side_capacity(&on, &air(25.0, 0.0), flow).unwrap();
    let ten = TemperatureInterval::new::<fahrenheit_apart>(10.0);
    let sensible = sensible::heat(&on, flow, ten).unwrap();
    assert!((whole.value / sensible.value - 1.0).abs() < 1e-9);
    let wet = duty::air_side_capacity(&air(35.0, 85.0), &air(28.0, 95.0), flow).unwrap();
    let seven = TemperatureInterval::new::<fahrenheit_apart>(7.0);
    assert!(wet > sensible::heat(&air(35.0, 85.0), flow, seven).unwrap());
    let why = duty::air_side_capacity(&air(25.0, 50.0), &air(35.0, 50.0), flow).unwrap_err();
    assert!(why.to_string().contains("defrost"));
    let at = |degrees| ThermodynamicTemperature::new::<degree_fahrenheit>(degrees);
    assert!(duty::temperature_difference(at(20.0), at(30.0)).is_err());
    assert!(
        MoistAir::at_altitude(
            at(35.0),
            Ratio::new::<percent>(50.0),
            Length::new::<foot>(9e4)
        )
        .is_err()
    );
}
