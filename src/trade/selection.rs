//! Which assembly on the truck fits this evaporator, and which setting it needs.
//!
//! Every assembly gets a verdict with its reasons in words. A failed hard rule is never made up
//! for by anything else: such an assembly ranks below every one that fits.

mod formulas;
mod need;
mod outlook;
mod rules;

pub(crate) use formulas::FORMULAS;
pub use need::{Known, Needed, Origin};
pub use outlook::{Outlook, Settings};
pub use rules::{Reason, Rule};

use uom::si::f64::{
    AngularVelocity, ElectricPotential, Length, MassDensity, Power, Pressure, TemperatureInterval,
};

use super::air::MoistAir;
use super::coil::Coil;
use super::formula::CannotWorkOut;
use super::goods::Goods;
use super::kit::{AirDirection, Assembly, Rotation, ShaftPosition};
use super::motor::MotorType;
use super::protection::IpCode;

/// The old fan, as it was found.
#[derive(Clone, Debug, PartialEq)]
pub struct OldFan {
    /// Its kind of motor.
    pub motor: MotorType,
    /// Its rated power at the shaft, where the nameplate tells.
    pub shaft_power: Option<Power>,
    /// Its rated speed, where the nameplate tells.
    pub speed: Option<AngularVelocity>,
    /// Diameter of its blade.
    pub blade_diameter: Length,
    /// Its direction of rotation.
    pub rotation: Rotation,
    /// Its direction of air.
    pub air: AirDirection,
    /// Its protection class.
    pub protection: IpCode,
    /// Its mounting pattern, as the crew calls it.
    pub mounting: String,
    /// Its plug, as the crew calls it; none where it was wired with bare leads.
    pub plug: Option<String>,
    /// How its shaft lies.
    pub shaft: ShaftPosition,
}

/// The evaporator that waits for a fan.
#[derive(Clone, Debug, PartialEq)]
pub struct Place {
    /// Its model, as on the nameplate.
    pub model: Option<String>,
    /// Safety group of its refrigerant by ASHRAE 34: `A1`.
    pub safety_group: String,
    /// Volts measured at the fan's leads.
    pub supply: ElectricPotential,
    /// The air in the box.
    pub air: MoistAir,
    /// The fan that was there.
    pub old: OldFan,
    /// How many fans share the coil.
    pub fans: u32,
    /// Its coil, where it was measured.
    pub coil: Option<Coil>,
    /// Space behind the mounting plane, where it was measured.
    pub depth_available: Option<Length>,
    /// Static pressure that the air path takes at the needed air, where known.
    pub static_pressure: Option<Pressure>,
    /// The coil's rated capacity and the drop of the air over it, where both are known.
    pub duty: Option<(Power, TemperatureInterval)>,
    /// What a person already knows about the needed speed or air.
    pub known: Option<Known>,
}

/// What an assembly comes to.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Verdict {
    /// Every rule is met.
    Fits,
    /// Every hard rule is met, but something needs a person's eye.
    FitsWithRemark,
    /// A hard rule is not met.
    DoesNotFit,
}

impl Verdict {
    /// The words of a flow, in the order of the variants.
    pub const WORDS: &'static [&'static str] = &["fits", "fits_with_remark", "does_not_fit"];

    /// The word of this verdict.
    pub fn word(self) -> &'static str {
        Self::WORDS[self as usize]
    }

    /// How it reads.
    pub fn phrase(self) -> &'static str {
        match self {
            Self::Fits => "fits",
            Self::FitsWithRemark => "fits, with a remark",
            Self::DoesNotFit => "does not fit",
        }
    }
}

/// One assembly judged for a place.
#[derive(Clone, Debug, PartialEq)]
pub struct Candidate<'a> {
    /// The assembly.
    pub assembly: &'a Assembly,
    /// What it comes to.
    pub verdict: Verdict,
    /// Every rule that was not simply met, hard ones first.
    pub reasons: Vec<Reason>,
    /// The setting to use with its neighbours; none where no setting gives what is needed.
    pub settings: Option<Settings>,
}

/// All assemblies of a kit judged for a place, best first.
#[derive(Clone, Debug, PartialEq)]
pub struct Ranking<'a> {
    /// What is needed, and how that is known.
    pub needed: Needed,
    /// The candidates, best first.
    pub candidates: Vec<Candidate<'a>>,
}

impl<'a> Ranking<'a> {
    /// The best assembly that fits, with or without a remark.
    pub fn best(&self) -> Option<&Candidate<'a>> {
        self.candidates
            .first()
            .filter(|first| first.verdict != Verdict::DoesNotFit)
    }
}

/// Judges and ranks every assembly of the kit for `place`.
///
/// Order: verdict, then fewer remarks, then nearer to what is needed, then less power.
///
/// # Errors
/// When what the fan needs cannot be told in any way; the message says what to measure.
pub fn rank<'a>(place: &Place, goods: &Goods<'a>) -> Result<Ranking<'a>, CannotWorkOut> {
    let needed = need::needed(place, goods.speed_book)?;
    let mut candidates: Vec<Candidate<'a>> = goods
        .kit
        .assemblies()
        .iter()
        .map(|assembly| judge(assembly, place, &needed))
        .collect();
    candidates.sort_by(|a, b| {
        a.verdict
            .cmp(&b.verdict)
            .then_with(|| a.reasons.len().cmp(&b.reasons.len()))
            .then_with(|| a.distance().total_cmp(&b.distance()))
            .then_with(|| a.watts().total_cmp(&b.watts()))
            .then_with(|| a.assembly.key.cmp(&b.assembly.key))
    });
    Ok(Ranking { needed, candidates })
}

fn judge<'a>(assembly: &'a Assembly, place: &Place, needed: &Needed) -> Candidate<'a> {
    let mut reasons = rules::reasons(assembly, place);
    let settings = outlook::settings(assembly, place, needed, &mut reasons);
    // A stable sort: hard rules first, otherwise in the order they were looked at.
    reasons.sort_by_key(|reason| !reason.hard);
    let verdict = if reasons.iter().any(|reason| reason.hard) {
        Verdict::DoesNotFit
    } else if reasons.is_empty() {
        Verdict::Fits
    } else {
        Verdict::FitsWithRemark
    };
    Candidate {
        assembly,
        verdict,
        reasons,
        settings,
    }
}

impl Candidate<'_> {
    /// How far the chosen setting is from what is needed, as a ratio; large where there is none.
    fn distance(&self) -> f64 {
        self.settings
            .as_ref()
            .map_or(f64::MAX, |settings| (settings.chosen.meets - 1.0).abs())
    }

    fn watts(&self) -> f64 {
        self.settings
            .as_ref()
            .map_or(f64::MAX, |settings| settings.chosen.input.value)
    }
}

impl Place {
    fn density(&self) -> MassDensity {
        self.air.density()
    }
}
