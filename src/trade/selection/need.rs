//! What the fan needs, and how that is known: the best source there is, named.

use uom::si::area::square_meter;
use uom::si::f64::{AngularVelocity, Length, Pressure, VolumeRate};
use uom::si::pressure::pascal;
use uom::si::ratio::ratio;
use uom::si::volume_rate::cubic_meter_per_second;

use super::Place;
use crate::trade::coil::Tubes;
use crate::trade::coil_drop::CoilDrop;
use crate::trade::curve::SystemCurve;
use crate::trade::formula::CannotWorkOut;
use crate::trade::quantity::shown;
use crate::trade::rows::row_si;
use crate::trade::sensible::flow_for_heat;
use crate::trade::speed_book::{Found, Need, RowSource, SpeedBook};

/// What a person already knows.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Known {
    /// The needed speed or air flow of one fan.
    pub need: Need,
    /// Where they have it from.
    pub source: RowSource,
}

/// How the need is known.
#[derive(Clone, Debug, PartialEq)]
pub enum Origin {
    /// From a row of the speed book: its model, its source and its note.
    SpeedBook(String, RowSource, String),
    /// Told by a person, who has it from here.
    Told(RowSource),
    /// From the old fan's rated speed with the same blade diameter, by the fan laws.
    FanLaw,
    /// From the coil's capacity and the drop of the air over it.
    CoilAndDuty,
    /// From a usual face velocity: a rule of thumb, for a supervisor to release.
    RuleOfThumb,
}

impl Origin {
    /// The words of a flow, in the order of the variants.
    pub const WORDS: &'static [&'static str] = &[
        "speed_book",
        "told",
        "fan_law",
        "coil_and_duty",
        "rule_of_thumb",
    ];

    /// The word of this origin.
    pub fn word(&self) -> &'static str {
        match self {
            Self::SpeedBook(..) => "speed_book",
            Self::Told(_) => "told",
            Self::FanLaw => "fan_law",
            Self::CoilAndDuty => "coil_and_duty",
            Self::RuleOfThumb => "rule_of_thumb",
        }
    }

    /// Whether a supervisor has to release what rests on it.
    pub fn needs_supervisor(&self) -> bool {
        matches!(self, Self::RuleOfThumb)
    }
}

/// What one fan needs.
#[derive(Clone, Debug, PartialEq)]
pub struct Needed {
    /// The speed or air flow.
    pub need: Need,
    /// The blade diameter that a speed holds for.
    pub blade_diameter: Length,
    /// How it is known.
    pub origin: Origin,
    /// The resistance of one fan's air path, where air can be told at all.
    pub path: Option<SystemCurve>,
    /// What was assumed on the way, in words.
    pub assumed: Vec<String>,
}

impl Needed {
    /// One sentence: what is needed and how that is known.
    pub fn sentence(&self) -> String {
        let need = match self.need {
            Need::Speed(speed) => shown("rpm", speed.value),
            Need::AirFlow(flow) => format!("{} by each fan", shown("cfm", flow.value)),
        };
        let origin = match &self.origin {
            Origin::SpeedBook(model, source, noted) => {
                format!(
                    "by the speed book, model {model}, {}: {noted}",
                    source.phrase()
                )
            }
            Origin::Told(source) => source.phrase().to_owned(),
            Origin::FanLaw => "as the old fan's rated speed with the same blade".into(),
            Origin::CoilAndDuty => "worked out from the coil's capacity and air drop".into(),
            Origin::RuleOfThumb => "by rule of thumb; a supervisor has to release it".into(),
        };
        format!("Needed: {need}, {origin}.")
    }
}

impl RowSource {
    /// How it reads in a sentence.
    pub fn phrase(self) -> &'static str {
        match self {
            Self::EquipmentLabel => "by the equipment label",
            Self::Literature => "by the maker's literature",
            Self::Measured => "measured on a good fan",
            Self::FinishedJob => "by a finished job",
        }
    }
}

/// What one fan of `place` needs, from the best source there is.
pub(super) fn needed(place: &Place, book: &SpeedBook) -> Result<Needed, CannotWorkOut> {
    let mut assumed = Vec::new();
    let mut static_pressure = place.static_pressure;
    let mut blade_diameter = place.old.blade_diameter;
    let (need, origin) = match from_book(place, book, &mut assumed) {
        Some(row) => {
            static_pressure = static_pressure.or(row.static_pressure);
            blade_diameter = row.blade_diameter.unwrap_or(blade_diameter);
            if let Some(known) = place.known
                && known.need != row.need
            {
                assumed.push(format!(
                    "The speed book and what was read {} differ; find out which one holds.",
                    known.source.phrase()
                ));
            }
            let origin = Origin::SpeedBook(row.model.clone(), row.source, row.noted.clone());
            (row.need, origin)
        }
        None => otherwise(place, &mut assumed)?,
    };
    let flow = match need {
        Need::AirFlow(flow) => Some(flow),
        // A speed alone does not tell the air; the path is then taken at a usual flow.
        Need::Speed(_) => usual_flow(place)?,
    };
    let path = flow
        .map(|flow| path(place, flow, static_pressure, &mut assumed))
        .transpose()?;
    Ok(Needed {
        need,
        blade_diameter,
        origin,
        path,
        assumed,
    })
}

fn from_book<'a>(
    place: &Place,
    book: &'a SpeedBook,
    assumed: &mut Vec<String>,
) -> Option<&'a crate::trade::speed_book::SpeedRow> {
    let model = place.model.as_deref()?;
    let found = book.look_up(model);
    assumed.extend(found.sentence(model));
    match found {
        Found::Exactly(row) => Some(row),
        Found::Near(_) | Found::Nothing => None,
    }
}

fn otherwise(place: &Place, assumed: &mut Vec<String>) -> Result<(Need, Origin), CannotWorkOut> {
    if let Some(known) = place.known {
        return Ok((known.need, Origin::Told(known.source)));
    }
    if let Some(speed) = place.old.speed {
        return Ok((Need::Speed(speed), Origin::FanLaw));
    }
    if let Some((capacity, drop)) = place.duty {
        let flow = flow_for_heat(&place.air, capacity, drop)? / f64::from(place.fans.max(1));
        assumed.push("Only the sensible heat is counted: wet air may need less air flow.".into());
        return Ok((Need::AirFlow(flow), Origin::CoilAndDuty));
    }
    match usual_flow(place)? {
        Some(flow) => {
            assumed.push(format!(
                "Rule of thumb: {} over the face of the coil (from memory).",
                shown("fpm", row_si("usual_face_velocity")?)
            ));
            Ok((Need::AirFlow(flow), Origin::RuleOfThumb))
        }
        None => Err(CannotWorkOut(
            "Nothing tells what this fan needs; give its model, the rpm on its label, the air \
             flow, or measure the coil's fins, depth, rows, height and length."
                .into(),
        )),
    }
}

/// One fan's share of the usual face velocity over the coil.
fn usual_flow(place: &Place) -> Result<Option<VolumeRate>, CannotWorkOut> {
    let Some(coil) = &place.coil else {
        return Ok(None);
    };
    let flow = row_si("usual_face_velocity")? * coil.face_area().get::<square_meter>()
        / f64::from(place.fans.max(1));
    Ok(Some(VolumeRate::new::<cubic_meter_per_second>(flow)))
}

/// The resistance of one fan's path through the pressure at `flow`: known, else that of the
/// coil's fins, else a usual one.
fn path(
    place: &Place,
    flow: VolumeRate,
    known: Option<Pressure>,
    assumed: &mut Vec<String>,
) -> Result<SystemCurve, CannotWorkOut> {
    let pressure = match (known, &place.coil) {
        (Some(pressure), _) => pressure,
        (None, Some(coil)) => {
            let drop = CoilDrop::new(coil, &Tubes::usual()?, &place.air)?;
            let pressure = drop.pressure(flow * f64::from(place.fans.max(1)))?;
            assumed.push(format!(
                "Resistance of the air path estimated from the dry coil: {}.",
                shown("inch_water", pressure.value)
            ));
            pressure
        }
        (None, None) => {
            let pressure = Pressure::new::<pascal>(row_si("usual_static_pressure")?);
            assumed.push(format!(
                "Resistance of the air path assumed: {} (common practice, no source).",
                shown("inch_water", pressure.value)
            ));
            pressure
        }
    };
    SystemCurve::through(flow, pressure)
}

/// The speed of `assembly`'s blade over the speed that is needed, or the air over the air.
pub(super) fn meets(
    needed: &Needed,
    speed: AngularVelocity,
    air: Option<VolumeRate>,
) -> Option<f64> {
    match needed.need {
        Need::Speed(wanted) => Some((speed / wanted).get::<ratio>()),
        Need::AirFlow(wanted) => air.map(|air| (air / wanted).get::<ratio>()),
    }
}
