//! How long the trade's computations take: `cargo bench --bench trade`.
//!
//! What must hold: `saturation_pressure` and `saturation_temperature` under 200 ns,
//! `operating_point_on_a_finned_coil` under 20 µs, `choose_among_500_assemblies` under 5 ms.
#![allow(
    clippy::unwrap_used,
    reason = "a bench that can't prepare its input must stop"
)]

use divan::{Bencher, black_box};
use fanwright::trade::air::{MoistAir, standard_density};
use fanwright::trade::coil::{Coil, Tubes};
use fanwright::trade::coil_drop::CoilDrop;
use fanwright::trade::curve::{CurvePoint, FanCurve, SystemCurve, operating_point};
use fanwright::trade::goods::Goods;
use fanwright::trade::kit::{AirDirection, End, Kit, Rotation, ShaftPosition, Spin};
use fanwright::trade::motor::MotorType;
use fanwright::trade::protection::IpCode;
use fanwright::trade::refrigerant::Refrigerant;
use fanwright::trade::saturation::{self, Side};
use fanwright::trade::selection::{OldFan, Place, rank};
use fanwright::trade::speed_book::SpeedBook;
use uom::si::electric_potential::volt;
use uom::si::f64::{
    ElectricPotential, Length, LinearNumberDensity, Pressure, Ratio, ThermodynamicTemperature,
    VolumeRate,
};
use uom::si::length::{foot, inch};
use uom::si::linear_number_density::per_inch;
use uom::si::pressure::{inch_of_water, psi};
use uom::si::ratio::percent;
use uom::si::thermodynamic_temperature::degree_fahrenheit;
use uom::si::volume_rate::cubic_foot_per_minute;

fn main() {
    divan::main();
}

#[divan::bench]
fn saturation_pressure(bencher: Bencher) {
    let t = ThermodynamicTemperature::new::<degree_fahrenheit>(21.3);
    bencher.bench(|| {
        saturation::pressure(black_box(Refrigerant::R448A), Side::Dew, black_box(t)).unwrap()
    });
}

#[divan::bench]
fn saturation_temperature(bencher: Bencher) {
    let p = Pressure::new::<psi>(47.8);
    bencher.bench(|| {
        saturation::temperature(black_box(Refrigerant::R448A), Side::Dew, black_box(p)).unwrap()
    });
}

/// Air of a cooler or freezer at sea level.
fn air(fahrenheit: f64, humidity: f64) -> MoistAir {
    MoistAir::at_altitude(
        ThermodynamicTemperature::new::<degree_fahrenheit>(fahrenheit),
        Ratio::new::<percent>(humidity),
        Length::new::<foot>(0.0),
    )
    .unwrap()
}

#[divan::bench]
fn moist_air(bencher: Bencher) {
    bencher.bench(|| air(black_box(35.0), black_box(85.0)).density());
}

#[divan::bench]
fn dew_point(bencher: Bencher) {
    let air = air(35.0, 85.0);
    bencher.bench(|| black_box(&air).saturates().unwrap());
}

/// An invented fan curve of eight points.
fn fan() -> FanCurve {
    let points = [
        (0.0, 0.52),
        (300.0, 0.44),
        (500.0, 0.38),
        (700.0, 0.36),
        (900.0, 0.32),
        (1_200.0, 0.23),
        (1_450.0, 0.12),
        (1_700.0, 0.0),
    ];
    let points: Vec<CurvePoint> = points
        .into_iter()
        .map(|(flow, pressure)| CurvePoint {
            flow: VolumeRate::new::<cubic_foot_per_minute>(flow),
            pressure: Pressure::new::<inch_of_water>(pressure),
            input_power: None,
        })
        .collect();
    FanCurve::new(&points, standard_density()).unwrap()
}

#[divan::bench]
fn operating_point_on_a_finned_coil(bencher: Bencher) {
    let coil = Coil::new(
        Length::new::<inch>(15.0),
        Length::new::<inch>(36.0),
        Length::new::<inch>(4.33),
        LinearNumberDensity::new::<per_inch>(6.0),
        4,
    )
    .unwrap();
    let (fan, air) = (fan(), air(0.0, 90.0));
    let drop = CoilDrop::new(&coil, &Tubes::usual().unwrap(), &air).unwrap();
    let system = SystemCurve::of_coil(drop, 1).unwrap();
    let density = air.density();
    bencher.bench(|| operating_point(black_box(&fan), black_box(&system), density).unwrap());
}

/// A place that the invented EC-B medium fits.
fn place() -> Place {
    let inches = Length::new::<inch>;
    let fins = LinearNumberDensity::new::<per_inch>(6.0);
    Place {
        model: Some("NQ-HV-4120".into()),
        safety_group: "A1".into(),
        supply: ElectricPotential::new::<volt>(208.0),
        air: air(35.0, 85.0),
        old: OldFan {
            motor: MotorType::ShadedPole,
            shaft_power: None,
            speed: None,
            blade_diameter: inches(12.0),
            rotation: Rotation {
                spin: Spin::Counterclockwise,
                seen_from: End::Shaft,
            },
            air: AirDirection::AwayFromMotor,
            protection: IpCode::parse("IP44").unwrap(),
            mounting: "four holes on 6 in".into(),
            plug: None,
            shaft: ShaftPosition::Horizontal,
        },
        fans: 2,
        coil: Some(Coil::new(inches(18.0), inches(50.0), inches(4.0), fins, 4).unwrap()),
        depth_available: Some(inches(6.0)),
        static_pressure: None,
        duty: None,
        known: None,
    }
}

/// 500 assemblies of four speeds each, all of which fit: the slowest case.
#[divan::bench]
fn choose_among_500_assemblies(bencher: Bencher) {
    let kit = Kit::read(include_str!("../flows/demo/kit.yaml")).unwrap();
    let book = SpeedBook::read(include_str!("../flows/demo/speed-book.yaml")).unwrap();
    let medium = kit.assembly("ec-b-medium").unwrap();
    let kit = Kit::of(vec![medium.clone(); 500]);
    let (place, goods) = (
        place(),
        Goods {
            kit: &kit,
            speed_book: &book,
        },
    );
    bencher.bench(|| rank(black_box(&place), &goods).unwrap().candidates.len());
}
