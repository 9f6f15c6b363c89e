//! The choice of an assembly from the invented kit, and what must hold of every choice.

use fanwright::trade::air::MoistAir;
use fanwright::trade::coil::Coil;
use fanwright::trade::goods::Goods;
use fanwright::trade::kit::{AirDirection, Assembly, End, Kit, Rotation, ShaftPosition, Spin};
use fanwright::trade::motor::MotorType;
use fanwright::trade::protection::IpCode;
use fanwright::trade::quantity::{Kind, Unit};
use fanwright::trade::selection::{Known, OldFan, Origin, Place, Ranking, Rule, Verdict, rank};
use fanwright::trade::speed_book::{Need, RowSource, SpeedBook};
use proptest::prelude::{Strategy, any, prop, proptest};
use proptest::{prop_assert, prop_assert_eq, prop_oneof};
use uom::si::angular_velocity::revolution_per_minute;
use uom::si::electric_potential::volt;
use uom::si::f64::{
    AngularVelocity, ElectricPotential, Length, LinearNumberDensity, Power, Ratio,
    TemperatureInterval, ThermodynamicTemperature, VolumeRate,
};
use uom::si::length::{foot, inch};
use uom::si::linear_number_density::per_meter;
use uom::si::power::watt;
use uom::si::ratio::percent;
use uom::si::temperature_interval::degree_fahrenheit as fahrenheit_apart;
use uom::si::thermodynamic_temperature::degree_fahrenheit;
use uom::si::volume_rate::cubic_foot_per_minute;

const KIT: &str = include_str!("../../flows/demo/kit.yaml");
const BOOK: &str = include_str!("../../flows/demo/speed-book.yaml");

fn kit() -> Kit {
    Kit::read(KIT).unwrap()
}

fn book() -> SpeedBook {
    SpeedBook::read(BOOK).unwrap()
}

fn air(temperature: f64) -> MoistAir {
    MoistAir::at_altitude(
        ThermodynamicTemperature::new::<degree_fahrenheit>(temperature),
        Ratio::new::<percent>(85.0),
        Length::new::<foot>(0.0),
    )
    .unwrap()
}

fn coil() -> Coil {
    let fins = Unit::typed(Kind::FinPitch, "fpi").unwrap().of(6.0);
    Coil::new(
        Length::new::<inch>(18.0),
        Length::new::<inch>(50.0),
        Length::new::<inch>(4.0),
        LinearNumberDensity::new::<per_meter>(fins.si),
        4,
    )
    .unwrap()
}

/// A place that the invented EC-B medium fits, two fans on the coil.
fn place() -> Place {
    Place {
        model: Some("NQ-HV-4120".into()),
        safety_group: "A1".into(),
        supply: ElectricPotential::new::<volt>(208.0),
        air: air(35.0),
        old: OldFan {
            motor: MotorType::ShadedPole,
            shaft_power: Some(Power::new::<watt>(37.3)),
            speed: None,
            blade_diameter: Length::new::<inch>(12.0),
            rotation: Rotation {
                spin: Spin::Clockwise,
                seen_from: End::Lead,
            },
            air: AirDirection::AwayFromMotor,
            protection: IpCode::parse("IP44").unwrap(),
            mounting: "Four holes on 6 in".into(),
            plug: Some("NQ four-pin, earth on pin 4".into()),
            shaft: ShaftPosition::Horizontal,
        },
        fans: 2,
        coil: Some(coil()),
        depth_available: Some(Length::new::<inch>(6.0)),
        static_pressure: None,
        duty: None,
        known: None,
    }
}

fn ranked<'a>(place: &Place, kit: &'a Kit, book: &'a SpeedBook) -> Ranking<'a> {
    rank(
        place,
        &Goods {
            kit,
            speed_book: book,
        },
    )
    .unwrap()
}

/// Verdict and failed or remarked rules of the medium assembly after `change`.
fn medium(change: impl FnOnce(&mut Place)) -> (Verdict, Vec<Rule>) {
    let (kit, book, mut place) = (kit(), book(), place());
    change(&mut place);
    let ranking = ranked(&place, &kit, &book);
    let of = ranking
        .candidates
        .iter()
        .find(|one| one.assembly.key.as_str() == "ec-b-medium");
    let candidate = of.unwrap();
    let rules = candidate.reasons.iter().map(|reason| reason.rule).collect();
    (candidate.verdict, rules)
}

#[test]
fn the_assembly_that_fits_comes_first_with_its_setting_and_both_neighbours() {
    let (kit, book) = (kit(), book());
    let ranking = ranked(&place(), &kit, &book);
    let best = ranking.best().unwrap();
    assert_eq!(best.assembly.key.as_str(), "ec-b-medium");
    let settings = best.settings.as_ref().unwrap();
    assert_eq!(settings.chosen.setting.as_str(), "high");
    let (down, up) = (
        settings.down.as_ref().unwrap(),
        settings.up.as_ref().unwrap(),
    );
    assert!(down.air < settings.chosen.air && settings.chosen.air < up.air);
    assert!(down.input < settings.chosen.input && settings.chosen.input < up.input);
    assert!(down.face_velocity < up.face_velocity);
}

#[test]
fn every_hard_rule_rules_out_and_says_which() {
    type Change = fn(&mut Place);
    let changes: [(Rule, Change); 12] = [
        (Rule::Volts, |place| {
            place.supply = ElectricPotential::new::<volt>(115.0)
        }),
        (Rule::Diameter, |place| {
            place.old.blade_diameter = Length::new::<inch>(12.5)
        }),
        (Rule::Rotation, |place| {
            place.old.rotation.spin = Spin::Counterclockwise
        }),
        (Rule::AirDirection, |place| {
            place.old.air = AirDirection::TowardsMotor
        }),
        (Rule::Power, |place| {
            place.old.shaft_power = Some(Power::new::<watt>(75.0))
        }),
        (Rule::Protection, |place| {
            place.old.protection = IpCode::parse("IP65").unwrap()
        }),
        (Rule::Protection, |place| {
            place.old.protection = IpCode::parse("IP67").unwrap()
        }),
        (Rule::Mounting, |place| {
            place.old.mounting = "two bolts".into()
        }),
        (Rule::Depth, |place| {
            place.depth_available = Some(Length::new::<inch>(5.0))
        }),
        (Rule::Ambient, |place| place.air = air(-45.0)),
        (Rule::Refrigerant, |place| {
            place.safety_group = "A2L".into();
            place.model = Some("NQ-HV-4200".into());
            place.known = None;
        }),
        (Rule::Refrigerant, |place| {
            place.safety_group = "unknown".into()
        }),
    ];
    for (rule, change) in changes {
        let (verdict, rules) = medium(change);
        assert_eq!(verdict, Verdict::DoesNotFit, "{rule:?}");
        assert!(rules.contains(&rule), "{rule:?} not among {rules:?}");
    }
}

#[test]
fn a_burning_refrigerant_needs_the_maker_to_confirm_this_model() {
    let (verdict, rules) = medium(|place| place.safety_group = "A2L".into());
    assert_ne!(verdict, Verdict::DoesNotFit, "{rules:?}");
}

#[test]
fn an_unlike_plug_is_a_remark_and_never_rules_out() {
    let (verdict, rules) = medium(|place| place.old.plug = None);
    assert_eq!(verdict, Verdict::FitsWithRemark);
    assert!(rules.contains(&Rule::Plug));
}

/// How the need of a place without a model is known.
fn origin(change: impl FnOnce(&mut Place)) -> (Origin, Need) {
    let (kit, book, mut place) = (kit(), book(), place());
    place.model = None;
    change(&mut place);
    let needed = ranked(&place, &kit, &book).needed;
    (needed.origin, needed.need)
}

#[test]
fn the_need_comes_from_the_best_source_there_is() {
    let speed = AngularVelocity::new::<revolution_per_minute>(1550.0);
    let (told, _) = origin(|place| {
        place.known = Some(Known {
            need: Need::Speed(speed),
            source: RowSource::EquipmentLabel,
        });
    });
    assert_eq!(told, Origin::Told(RowSource::EquipmentLabel));
    let (law, need) = origin(|place| place.old.speed = Some(speed));
    assert_eq!((law, need), (Origin::FanLaw, Need::Speed(speed)));
    let (thumb, _) = origin(|_| ());
    assert!(thumb.needs_supervisor());
}

// The sensible factor at 35 °F and 85 % is 1.1557 Btu/h per cfm·°F (PsychroLib 2.5.0), so
// 11,557 Btu/h at 10 F° is 1000 cfm, 500 for each of two fans.
#[test]
fn coil_and_duty_tell_the_air_by_the_sensible_factor() {
    let (origin, need) = origin(|place| {
        let capacity = Unit::typed(Kind::Power, "Btu/h").unwrap().of(11_557.0);
        let drop = TemperatureInterval::new::<fahrenheit_apart>(10.0);
        place.duty = Some((Power::new::<watt>(capacity.si), drop));
    });
    assert_eq!(origin, Origin::CoilAndDuty);
    let Need::AirFlow(flow) = need else {
        panic!("a speed")
    };
    assert!((flow.get::<cubic_foot_per_minute>() - 500.0).abs() < 3.0);
}

#[test]
fn without_anything_to_go_by_it_says_what_to_measure() {
    let (kit, book, mut place) = (kit(), book(), place());
    place.model = None;
    place.coil = None;
    let why = rank(
        &place,
        &Goods {
            kit: &kit,
            speed_book: &book,
        },
    )
    .unwrap_err()
    .to_string();
    assert!(why.contains("rpm on its label"), "{why}");
}

/// Assemblies made from the invented ones, each possibly wrong in some way.
fn assemblies() -> impl Strategy<Value = Vec<Assembly>> {
    let one = (0..4usize, any::<[bool; 6]>(), 0.5..2.0f64);
    prop::collection::vec(one, 1..40).prop_map(|choices| {
        let kit = kit();
        choices
            .into_iter()
            .map(|(which, [volts, size, turn, none, mount, drain], watts)| {
                let mut made = kit.assemblies()[which].clone();
                if volts {
                    made.volts.to = made.volts.from;
                }
                if size {
                    made.blade.diameter = Length::new::<inch>(12.0);
                }
                if turn {
                    made.rotation.spin = Spin::Counterclockwise;
                    made.air = AirDirection::AwayFromMotor;
                }
                if none {
                    made.on_truck = 0;
                }
                if mount {
                    made.mounting = vec!["four holes on 6 in".into()];
                }
                if drain {
                    made.drain.open.clear();
                }
                made.shaft_power *= watts;
                made
            })
            .collect()
    })
}

fn places() -> impl Strategy<Value = Place> {
    let known = prop_oneof![
        (200.0..3000.0f64).prop_map(|rpm| {
            Some(Need::Speed(AngularVelocity::new::<revolution_per_minute>(
                rpm,
            )))
        }),
        (50.0..3000.0f64)
            .prop_map(|cfm| { Some(Need::AirFlow(VolumeRate::new::<cubic_foot_per_minute>(cfm))) }),
        proptest::strategy::Just(None),
    ];
    (known, -30.0..60.0f64, any::<bool>(), 1..5u32).prop_map(|(need, temperature, model, fans)| {
        let mut place = place();
        place.air = air(temperature);
        place.fans = fans;
        if !model {
            place.model = None;
        }
        place.known = need.map(|need| Known {
            need,
            source: RowSource::Literature,
        });
        place
    })
}

proptest! {
    #[test]
    fn no_assembly_with_a_failed_hard_rule_ranks_above_one_without(
        assemblies in assemblies(),
        place in places(),
    ) {
        let (kit, book) = (Kit::of(assemblies), book());
        let ranking = ranked(&place, &kit, &book);
        prop_assert_eq!(ranking.candidates.len(), kit.assemblies().len());
        let mut failed = false;
        for candidate in &ranking.candidates {
            let hard = candidate.reasons.iter().any(|reason| reason.hard);
            prop_assert!(hard || !failed, "a failed assembly stands before a good one");
            prop_assert_eq!(hard, candidate.verdict == Verdict::DoesNotFit);
            failed |= hard;
        }
        let fits = ranking.candidates.iter().any(|one| one.verdict != Verdict::DoesNotFit);
        prop_assert_eq!(ranking.best().is_some(), fits);
    }

    #[test]
    fn settings_rise_from_one_step_to_the_next_and_are_finite(place in places()) {
        let (kit, book) = (kit(), book());
        for candidate in &ranked(&place, &kit, &book).candidates {
            let Some(settings) = &candidate.settings else { continue };
            let steps: Vec<_> =
                settings.down.iter().chain([&settings.chosen]).chain(&settings.up).collect();
            for pair in steps.windows(2) {
                prop_assert!(pair[0].speed < pair[1].speed && pair[0].input < pair[1].input);
                prop_assert!(pair[0].air <= pair[1].air);
            }
            for step in steps {
                prop_assert!(step.meets.is_finite() && step.input.value.is_finite());
            }
        }
    }
}
