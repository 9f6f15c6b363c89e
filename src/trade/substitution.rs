//! Whether one given part may stand in for the old fan motor, by what is known of both.
//!
//! [`super::selection`] ranks the crew's kit, whose sheets are complete. This topic judges any
//! part, such as a like-for-like motor from a counter, and says what still has to be asked.

mod aspects;
mod formulas;

pub(crate) use formulas::FORMULAS;

use uom::si::f64::{
    Angle, AngularVelocity, ElectricPotential, Length, Power, ThermodynamicTemperature,
};

use super::formula::CannotWorkOut;
use super::kit::{AirDirection, Rotation};
use super::motor::MotorType;
use super::protection::IpCode;
use super::rating::RatedVoltage;
use super::refrigerant::SafetyGroup;
use super::worded::worded;

worded! {
    /// What a part comes to.
    pub enum SubstitutionVerdict {
        /// Every rule is met.
        Fits = "fits",
        /// No rule is broken, but something is not known: ask or measure first.
        AskFirst = "ask_first",
        /// A rule is broken.
        DoesNotFit = "does_not_fit",
    }
}

worded! {
    /// What is compared.
    pub enum Aspect {
        /// The kind of motor.
        Kind = "kind",
        /// Rated shaft power.
        Power = "power",
        /// Shaft power in the cold, heavy air of the box.
        PowerInBox = "power_in_box",
        /// Rated speed, for like for like.
        Speed = "speed",
        /// Direction of rotation.
        Rotation = "rotation",
        /// Direction of air.
        Air = "air",
        /// Diameter of the blade.
        Diameter = "diameter",
        /// Pitch of the blade, for like for like.
        Pitch = "pitch",
        /// Bore of the hub, for like for like.
        Bore = "bore",
        /// Volts.
        Voltage = "voltage",
        /// Protection class, digit by digit.
        Protection = "protection",
        /// Temperature of the air around it.
        Ambient = "ambient",
        /// Mounting pattern.
        Mounting = "mounting",
        /// The refrigerant's safety group.
        Refrigerant = "refrigerant",
    }
}

worded! {
    /// How the maker of the evaporator stands to the part.
    pub enum MakersWord {
        /// The maker names this part.
        Named = "named",
        /// The maker confirms it as equal.
        Confirmed = "confirmed",
        /// Neither.
        Neither = "neither",
    }
}

/// One finding: what was compared, whether it holds, and why in words.
#[derive(Clone, Debug, PartialEq)]
pub struct Finding {
    /// What was compared.
    pub aspect: Aspect,
    /// What it comes to.
    pub verdict: SubstitutionVerdict,
    /// One sentence for the technician.
    pub words: String,
}

/// What is known of a fan motor, old or new. `None` is not known.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct FanPart {
    /// Its kind.
    pub motor: Option<MotorType>,
    /// Rated shaft power.
    pub shaft: Option<Power>,
    /// Rated speed.
    pub speed: Option<AngularVelocity>,
    /// Rated volts: one or a range.
    pub rated: Option<RatedVoltage>,
    /// Direction of rotation, seen from a stated end.
    pub rotation: Option<Rotation>,
    /// Direction of air.
    pub air: Option<AirDirection>,
    /// Diameter of its blade.
    pub diameter: Option<Length>,
    /// Pitch of its blade.
    pub pitch: Option<Angle>,
    /// Bore of its hub.
    pub bore: Option<Length>,
    /// Protection class.
    pub protection: Option<IpCode>,
    /// Mounting patterns it has or fits, as the crew calls them.
    pub mounting: Vec<String>,
    /// Coldest and warmest air it may run in, by its sheet.
    pub ambient: (
        Option<ThermodynamicTemperature>,
        Option<ThermodynamicTemperature>,
    ),
    /// Shaft power its blade takes in air of 70 °F.
    pub blade_power: Option<Power>,
    /// How the evaporator's maker stands to it.
    pub makers_word: Option<MakersWord>,
}

/// What is known of the box.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct ColdBox {
    /// Volts measured at the fan's leads.
    pub supply: Option<ElectricPotential>,
    /// The coldest that the box gets.
    pub temperature: Option<ThermodynamicTemperature>,
    /// The refrigerant's safety group.
    pub group: Option<SafetyGroup>,
}

/// The verdict on a part, with everything that was compared.
#[derive(Clone, Debug, PartialEq)]
pub struct Judgement {
    /// The worst of the findings.
    pub verdict: SubstitutionVerdict,
    /// The findings, in the order of [`Aspect`].
    pub findings: Vec<Finding>,
}

impl Judgement {
    /// The sentences of every finding that does not simply fit, broken rules first.
    pub fn reasons(&self) -> Vec<&str> {
        let of = |verdict| {
            self.findings
                .iter()
                .filter(move |one| one.verdict == verdict)
        };
        of(SubstitutionVerdict::DoesNotFit)
            .chain(of(SubstitutionVerdict::AskFirst))
            .map(|one| one.words.as_str())
            .collect()
    }
}

/// Whether `new` may stand in for `old` in this box.
///
/// An EC part needs power at or above the old one's, and the shaft power its blade takes at box
/// density within its rating; its blade belongs to it. A shaded-pole or PSC motor is replaced by
/// its own kind only, like for like: speed, pitch and bore too. Common practice, no source, but
/// for the protection class (IEC 60529), the volts (NEMA MG 1-12.44.1) and the refrigerant
/// (from memory).
///
/// # Errors
/// When a number makes no sense, such as a power of zero.
pub fn judge(old: &FanPart, new: &FanPart, place: &ColdBox) -> Result<Judgement, CannotWorkOut> {
    let findings: Vec<Finding> = [
        aspects::kind(old, new),
        aspects::power(old, new)?,
        aspects::power_in_box(new, place)?,
        aspects::speed(old, new)?,
        aspects::rotation(old, new),
        aspects::air(old, new),
        aspects::diameter(old, new)?,
        aspects::pitch(old, new)?,
        aspects::bore(old, new)?,
        aspects::voltage(new, place)?,
        aspects::protection(old, new),
        aspects::ambient(new, place)?,
        aspects::mounting(old, new),
        aspects::refrigerant(new, place),
    ]
    .into_iter()
    .flatten()
    .collect();
    let worst = findings.iter().map(|one| one.verdict).max();
    Ok(Judgement {
        verdict: worst.unwrap_or(SubstitutionVerdict::AskFirst),
        findings,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::trade::kit::{End, Spin};
    use uom::si::angular_velocity::revolution_per_minute;
    use uom::si::electric_potential::volt;
    use uom::si::length::inch;
    use uom::si::power::watt;
    use uom::si::thermodynamic_temperature::degree_fahrenheit;

    fn old() -> FanPart {
        FanPart {
            motor: Some(MotorType::ShadedPole),
            shaft: Some(Power::new::<watt>(37.0)),
            speed: Some(AngularVelocity::new::<revolution_per_minute>(1550.0)),
            rated: Some(RatedVoltage::parse("208-230").unwrap()),
            rotation: Some(Rotation {
                spin: Spin::Clockwise,
                seen_from: End::Lead,
            }),
            air: Some(AirDirection::AwayFromMotor),
            diameter: Some(Length::new::<inch>(12.0)),
            pitch: Some(Angle::new::<uom::si::angle::degree>(25.0)),
            bore: Some(Length::new::<inch>(0.3125)),
            protection: Some(IpCode::parse("IP54").unwrap()),
            mounting: vec!["four studs".into()],
            ..FanPart::default()
        }
    }

    fn new() -> FanPart {
        FanPart {
            motor: Some(MotorType::Ec),
            rotation: Some(Rotation {
                spin: Spin::Counterclockwise,
                seen_from: End::Shaft,
            }),
            rated: Some(RatedVoltage::parse("200-240").unwrap()),
            speed: None,
            pitch: None,
            bore: None,
            ambient: (
                Some(ThermodynamicTemperature::new::<degree_fahrenheit>(-30.0)),
                Some(ThermodynamicTemperature::new::<degree_fahrenheit>(120.0)),
            ),
            blade_power: Some(Power::new::<watt>(30.0)),
            makers_word: Some(MakersWord::Neither),
            ..old()
        }
    }

    fn freezer() -> ColdBox {
        ColdBox {
            supply: Some(ElectricPotential::new::<volt>(206.0)),
            temperature: Some(ThermodynamicTemperature::new::<degree_fahrenheit>(-10.0)),
            group: Some(SafetyGroup::A1),
        }
    }

    /// The verdict on a changed new part, and the aspect that decided it.
    fn changed(change: impl Fn(&mut FanPart, &mut ColdBox)) -> (SubstitutionVerdict, Vec<Aspect>) {
        let (mut part, mut place) = (new(), freezer());
        change(&mut part, &mut place);
        let judged = judge(&old(), &part, &place).unwrap();
        let decided = judged.findings.iter().filter(|one| {
            one.verdict == judged.verdict && one.verdict != SubstitutionVerdict::Fits
        });
        (judged.verdict, decided.map(|one| one.aspect).collect())
    }

    #[test]
    fn an_equal_ec_assembly_fits() {
        assert_eq!(changed(|_, _| {}), (SubstitutionVerdict::Fits, vec![]));
    }

    #[test]
    fn every_broken_rule_is_found() {
        type Change = fn(&mut FanPart, &mut ColdBox);
        let cases: [(Aspect, Change); 11] = [
            (Aspect::Kind, |part, _| part.motor = Some(MotorType::Psc)),
            (Aspect::Power, |part, _| {
                part.shaft = Some(Power::new::<watt>(36.0))
            }),
            (Aspect::PowerInBox, |part, _| {
                part.blade_power = Some(Power::new::<watt>(33.0))
            }),
            (Aspect::Rotation, |part, _| {
                part.rotation = Some(Rotation {
                    spin: Spin::Clockwise,
                    seen_from: End::Shaft,
                });
            }),
            (Aspect::Air, |part, _| {
                part.air = Some(AirDirection::TowardsMotor)
            }),
            (Aspect::Diameter, |part, _| {
                part.diameter = Some(Length::new::<inch>(14.0))
            }),
            (Aspect::Voltage, |_, place| {
                place.supply = Some(ElectricPotential::new::<volt>(115.0));
            }),
            (Aspect::Protection, |part, _| {
                part.protection = IpCode::parse("IP44").ok()
            }),
            (Aspect::Ambient, |_, place| {
                place.temperature = Some(ThermodynamicTemperature::new::<degree_fahrenheit>(-40.0));
            }),
            (Aspect::Mounting, |part, _| {
                part.mounting = vec!["three studs".into()]
            }),
            (Aspect::Refrigerant, |_, place| {
                place.group = Some(SafetyGroup::A2L)
            }),
        ];
        for (aspect, change) in cases {
            let (verdict, decided) = changed(change);
            assert_eq!(verdict, SubstitutionVerdict::DoesNotFit, "{aspect:?}");
            assert!(decided.contains(&aspect), "{aspect:?}: {decided:?}");
        }
    }

    #[test]
    fn just_outside_a_printed_range_the_sheet_is_asked() {
        let verdict = changed(|part, _| part.rated = RatedVoltage::parse("208-230").ok());
        assert_eq!(
            verdict,
            (SubstitutionVerdict::AskFirst, vec![Aspect::Voltage])
        );
    }

    #[test]
    fn what_is_not_known_is_asked() {
        let (verdict, decided) = changed(|part, place| {
            part.blade_power = None;
            place.group = None;
        });
        assert_eq!(verdict, SubstitutionVerdict::AskFirst);
        assert_eq!(decided, [Aspect::PowerInBox, Aspect::Refrigerant]);
        let nothing = judge(
            &FanPart::default(),
            &FanPart::default(),
            &ColdBox::default(),
        )
        .unwrap();
        assert_eq!(nothing.verdict, SubstitutionVerdict::AskFirst);
    }

    #[test]
    fn a_burning_refrigerant_takes_the_makers_part() {
        for (word, verdict) in [
            (Some(MakersWord::Named), SubstitutionVerdict::Fits),
            (Some(MakersWord::Confirmed), SubstitutionVerdict::Fits),
            (Some(MakersWord::Neither), SubstitutionVerdict::DoesNotFit),
            (None, SubstitutionVerdict::AskFirst),
        ] {
            let (got, _) = changed(|part, place| {
                part.makers_word = word;
                place.group = Some(SafetyGroup::A3);
            });
            assert_eq!(got, verdict, "{word:?}");
        }
    }

    #[test]
    fn like_for_like_means_speed_pitch_and_bore_too() {
        let like = FanPart {
            ambient: new().ambient,
            blade_power: new().blade_power,
            makers_word: new().makers_word,
            ..old()
        };
        let verdict = |part: &FanPart| judge(&old(), part, &freezer()).unwrap().verdict;
        assert_eq!(verdict(&like), SubstitutionVerdict::Fits);
        let slow = AngularVelocity::new::<revolution_per_minute>(1075.0);
        let bored = Some(Length::new::<inch>(0.25));
        assert_eq!(
            verdict(&FanPart {
                speed: Some(slow),
                ..like.clone()
            }),
            SubstitutionVerdict::DoesNotFit
        );
        assert_eq!(
            verdict(&FanPart {
                bore: bored,
                ..like.clone()
            }),
            SubstitutionVerdict::DoesNotFit
        );
        assert_eq!(
            verdict(&FanPart {
                pitch: None,
                ..like
            }),
            SubstitutionVerdict::AskFirst
        );
    }
}
