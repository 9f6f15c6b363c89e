//! The trade's air and refrigerants against two open libraries at random states.
//!
//! Not part of a plain `cargo test`: it needs the states that `.ci/reference` makes first with
//! Python, and fails with a clear word where they are missing. It prints the worst difference of
//! each comparison; the bounds stand beside them.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    reason = "a test that finds something missing must fail loudly, also in its helpers"
)]

use std::collections::BTreeMap;

use fanwright::trade::air::MoistAir;
use fanwright::trade::refrigerant::Refrigerant;
use fanwright::trade::saturation::{self, Side};
use serde::Deserialize;
use uom::si::f64::{Pressure, Ratio, ThermodynamicTemperature};
use uom::si::pressure::{atmosphere, pascal};
use uom::si::ratio::ratio;
use uom::si::thermodynamic_temperature::{degree_celsius, kelvin};

/// Which library's values of a state to compare with.
type Pick = fn(&AirState) -> &AirValues;

/// How many states each comparison needs to mean something.
const STATES_MIN: usize = 2_000;

#[derive(Deserialize)]
struct States {
    seed: u64,
    coolprop: String,
    psychrolib: String,
    air: Vec<AirState>,
    saturation: BTreeMap<String, SaturationStates>,
}

#[derive(Deserialize)]
struct AirState {
    temperature: f64,
    humidity: f64,
    pressure: f64,
    psychrolib: AirValues,
    coolprop: AirValues,
}

#[derive(Deserialize)]
struct AirValues {
    density: f64,
    humidity_ratio: f64,
    dew_point: f64,
}

#[derive(Deserialize)]
struct SaturationStates {
    model: String,
    pairs: Vec<String>,
    /// Side (0 bubble, 1 dew), temperature in K, pressure in Pa.
    pressures: Vec<(u8, f64, f64)>,
    /// Side, pressure in Pa, temperature in K.
    temperatures: Vec<(u8, f64, f64)>,
    /// States for which the library itself found no temperature.
    failed: usize,
}

/// The states that `FANWRIGHT_REFERENCE` names, or those in the usual place.
fn states() -> States {
    let path = std::env::var("FANWRIGHT_REFERENCE")
        .unwrap_or_else(|_| concat!(env!("CARGO_MANIFEST_DIR"), "/target/reference.json").into());
    let text = std::fs::read_to_string(&path).unwrap_or_else(|why| {
        panic!("No reference states at {path} ({why}). Run .ci/reference, which makes them.")
    });
    serde_json::from_str(&text)
        .unwrap_or_else(|why| panic!("{path} is not a file of reference states: {why}"))
}

/// The largest difference of one comparison and where it happened.
struct Worst {
    what: String,
    unit: &'static str,
    bound: f64,
    count: usize,
    difference: f64,
    place: String,
}

impl Worst {
    fn of(what: impl Into<String>, unit: &'static str, bound: f64) -> Self {
        let what = what.into();
        Self {
            what,
            unit,
            bound,
            count: 0,
            difference: 0.0,
            place: String::new(),
        }
    }

    fn see(&mut self, difference: f64, place: impl FnOnce() -> String) {
        self.count += 1;
        // A value that is no number is the worst of all.
        if !(difference.abs() <= self.difference) {
            self.difference = if difference.is_nan() {
                f64::INFINITY
            } else {
                difference.abs()
            };
            self.place = place();
        }
    }

    /// Prints the line and says whether the bound holds.
    fn holds(&self) -> bool {
        let good = self.difference <= self.bound && self.count >= STATES_MIN;
        println!(
            "{} {:<34} worst {:.2e} {} (bound {:.1e}) of {} at {}",
            if good { "  " } else { "✗ " },
            self.what,
            self.difference,
            self.unit,
            self.bound,
            self.count,
            self.place
        );
        good
    }
}

#[test]
fn air_agrees_with_two_libraries() {
    let states = states();
    println!(
        "air: seed {}, PsychroLib {}, CoolProp {}",
        states.seed, states.psychrolib, states.coolprop
    );
    // CoolProp treats moist air as a real gas; the handbook's ideal-gas relations lie within
    // half a percent of it in humidity and a tenth in density.
    let mut good = true;
    let libraries: [(&str, [f64; 3], Pick); 2] = [
        ("PsychroLib", [1e-6, 1e-9, 0.002], |state| &state.psychrolib),
        ("CoolProp", [2e-3, 8e-3, 0.1], |state| &state.coolprop),
    ];
    for (library, bounds, values) in libraries {
        let mut density = Worst::of(format!("{library} density"), "relative", bounds[0]);
        let mut humidity = Worst::of(format!("{library} humidity ratio"), "relative", bounds[1]);
        let mut dew = Worst::of(format!("{library} dew or frost point"), "°F", bounds[2]);
        for state in &states.air {
            let expected = values(state);
            let air = MoistAir::new(
                ThermodynamicTemperature::new::<kelvin>(state.temperature),
                Ratio::new::<ratio>(state.humidity),
                Pressure::new::<pascal>(state.pressure),
            )
            .unwrap();
            let place = || {
                let t = state.temperature * 1.8 - 459.67;
                format!(
                    "{t:.2} °F, {:.1} %, {:.0} Pa",
                    100.0 * state.humidity,
                    state.pressure
                )
            };
            density.see(air.density().value / expected.density - 1.0, place);
            humidity.see(
                air.humidity_ratio().value / expected.humidity_ratio - 1.0,
                place,
            );
            let point = air.saturates().unwrap().temperature().get::<kelvin>();
            dew.see(1.8 * (point - expected.dew_point), place);
        }
        good &= density.holds() & humidity.holds() & dew.holds();
    }
    assert!(good, "a bound does not hold; see the lines marked ✗");
}

fn side(number: u8) -> Side {
    if number == 0 { Side::Bubble } else { Side::Dew }
}

#[test]
fn saturation_agrees_with_a_property_library() {
    let states = states();
    println!(
        "saturation: seed {}, CoolProp {}",
        states.seed, states.coolprop
    );
    let mut good = true;
    for refrigerant in Refrigerant::ALL {
        let reference = &states.saturation[refrigerant.name()];
        println!(
            "{refrigerant}: {} {}",
            reference.model,
            reference.pairs.join("; ")
        );
        let mut pressures = Worst::of("temperature to pressure", "psi", 0.001);
        for (which, t, expected) in &reference.pressures {
            let temperature = ThermodynamicTemperature::new::<kelvin>(*t);
            let got = saturation::pressure(refrigerant, side(*which), temperature).unwrap();
            let psi = (got.value - expected) / 6_894.757_293_168;
            pressures.see(psi, || {
                format!("{:?} {:.2} °F", side(*which), t * 1.8 - 459.67)
            });
        }
        let mut temperatures = Worst::of("pressure to temperature", "°F", 0.001);
        for (which, p, expected) in &reference.temperatures {
            let pressure = Pressure::new::<pascal>(*p);
            let got = saturation::temperature(refrigerant, side(*which), pressure).unwrap();
            let apart = 1.8 * (got.get::<kelvin>() - expected);
            temperatures.see(apart, || format!("{:?} {p:.0} Pa", side(*which)));
        }
        if reference.failed > 0 {
            println!(
                "   the library found no temperature for {} states",
                reference.failed
            );
        }
        good &= pressures.holds() & temperatures.holds();
        good &= reference.failed * 100 <= reference.temperatures.len();
    }
    assert!(good, "a bound does not hold; see the lines marked ✗");
}

/// Atmospheric bubble and dew temperatures, °C, as ASHRAE Standard 34 and makers' sheets print
/// them. They check the mixture models themselves, R-455A first of all, whose carbon dioxide has
/// no fitted interaction terms.
const PRINTED: [(Refrigerant, f64, f64); 4] = [
    (Refrigerant::R448A, -45.9, -39.8),
    (Refrigerant::R449A, -46.0, -39.9),
    (Refrigerant::R454C, -46.0, -37.8),
    (Refrigerant::R455A, -52.1, -39.1),
];

#[test]
fn blends_boil_near_the_printed_temperatures() {
    let pressure = Pressure::new::<atmosphere>(1.0);
    for (refrigerant, bubble, dew) in PRINTED {
        for (side, printed) in [(Side::Bubble, bubble), (Side::Dew, dew)] {
            let got = saturation::temperature(refrigerant, side, pressure).unwrap();
            let got = got.get::<degree_celsius>();
            println!("{refrigerant} {side:?} at 1 atm: {got:.2} °C, printed {printed} °C");
            assert!((got - printed).abs() < 0.8, "{refrigerant} {side:?}");
        }
    }
}
