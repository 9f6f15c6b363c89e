//! What each speed setting would give at this place, and the one to use.

use uom::si::f64::{AngularVelocity, Power, Velocity, VolumeRate};
use uom::si::ratio::ratio;

use super::Place;
use super::need::{self, Needed};
use super::rules::{Reason, Rule};
use crate::trade::air::standard_density;
use crate::trade::coil::{CarryOver, carry_over, face_velocity};
use crate::trade::curve::{self, operating_point};
use crate::trade::kit::{Assembly, SettingName, Speed};
use crate::trade::motor::efficiency_band;
use crate::trade::quantity::{Unit, plain_number, shown};
use crate::trade::speed_book::Need;

/// Nearer than this to what is needed asks for no remark.
const NEAR: f64 = 0.05;
/// Further below or above what is needed than this does not fit.
const FAR: f64 = 0.15;

/// What one setting gives at this place.
#[derive(Clone, Debug, PartialEq)]
pub struct Outlook {
    /// The setting.
    pub setting: SettingName,
    /// Its speed.
    pub speed: AngularVelocity,
    /// Air of one fan through this coil, where the curve and the path are known.
    pub air: Option<VolumeRate>,
    /// Electrical input in the air of the box: the sheet's watts times ρ/ρ₀.
    pub input: Power,
    /// Speed of the air over the coil's face with all fans at this setting.
    pub face_velocity: Option<Velocity>,
    /// What it gives over what is needed.
    pub meets: f64,
    /// Whether the shaft power in this air stays within the rating.
    pub within_rating: bool,
    /// What the fan curve warns of here.
    pub caution: Option<&'static str>,
}

impl Outlook {
    /// One sentence: what the setting gives.
    pub fn sentence(&self) -> String {
        let mut text = format!(
            "Setting {}: {}",
            self.setting,
            shown("rpm", self.speed.value)
        );
        if let Some(air) = self.air {
            let air = rounded("cfm", air.value, 5.0);
            text.push_str(&format!(", about {air}"));
        }
        let step = if self.input.value < 10.0 { 0.5 } else { 1.0 };
        let watts = rounded("watt", self.input.value, step);
        text.push_str(&format!(", about {watts}"));
        if let Some(velocity) = self.face_velocity {
            let velocity = rounded("fpm", velocity.value, 5.0);
            text.push_str(&format!(", about {velocity} over the coil"));
        }
        if !self.within_rating {
            text.push_str(", over the motor's rating in this cold air");
        }
        text.push('.');
        text
    }
}

/// The setting to use, and what happens one step up or down.
#[derive(Clone, Debug, PartialEq)]
pub struct Settings {
    /// The setting to use.
    pub chosen: Outlook,
    /// One step slower, if there is one.
    pub down: Option<Outlook>,
    /// One step faster, if there is one.
    pub up: Option<Outlook>,
    /// Every setting, slowest first.
    pub all: Vec<Outlook>,
    /// Whether it leaves the box at the chosen setting.
    pub as_shipped: bool,
}

/// The setting of `assembly` to use; what is wrong with it goes into `reasons`.
pub(super) fn settings(
    assembly: &Assembly,
    place: &Place,
    needed: &Needed,
    reasons: &mut Vec<Reason>,
) -> Option<Settings> {
    let outlooks: Vec<Outlook> = assembly
        .speeds
        .iter()
        .filter_map(|speed| outlook(assembly, speed, place, needed))
        .collect();
    if outlooks.is_empty() {
        reasons.push(Reason::hard(
            Rule::Speed,
            "Nothing tells how much air it moves here: its sheet has no curve, or the coil \
             resists too much.",
        ));
        return None;
    }
    let nearest = |usable: &dyn Fn(&Outlook) -> bool| {
        let distance = |index: &usize| (outlooks[*index].meets - 1.0).abs();
        (0..outlooks.len())
            .filter(|index| usable(&outlooks[*index]))
            .min_by(|a, b| distance(a).total_cmp(&distance(b)))
    };
    let index = nearest(&|outlook| outlook.within_rating).or_else(|| nearest(&|_| true))?;
    let chosen = outlooks[index].clone();
    let up = outlooks.get(index + 1).cloned();
    let down = index
        .checked_sub(1)
        .and_then(|below| outlooks.get(below).cloned());
    remark(&chosen, assembly, place, needed, reasons);
    let as_shipped = assembly.leaves_box_at == chosen.setting;
    Some(Settings {
        chosen,
        down,
        up,
        all: outlooks,
        as_shipped,
    })
}

fn outlook(assembly: &Assembly, speed: &Speed, place: &Place, needed: &Needed) -> Option<Outlook> {
    let density = place.density();
    let point = match (&speed.curve, &needed.path) {
        (Some(curve), Some(path)) => operating_point(curve, path, density).ok(),
        _ => None,
    };
    let air = point.map(|point| point.flow);
    let meets = need::meets(needed, speed.speed, air)?;
    let heavier = (density / standard_density()).get::<ratio>();
    let input = speed.input * heavier;
    // The most efficient motor of its kind puts the most of its input on the shaft.
    let share = efficiency_band(assembly.motor).map_or(1.0, |band| band.high());
    let face = place.coil.as_ref().zip(air).and_then(|(coil, air)| {
        face_velocity(air * f64::from(place.fans.max(1)), coil.face_area()).ok()
    });
    let caution = point.and_then(|point| match point.place {
        curve::Place::BeyondLastPoint => None,
        other => other.warning(),
    });
    Some(Outlook {
        setting: speed.setting.clone(),
        speed: speed.speed,
        air,
        input,
        face_velocity: face,
        meets,
        within_rating: input * share <= assembly.shaft_power,
        caution,
    })
}

fn remark(
    chosen: &Outlook,
    assembly: &Assembly,
    place: &Place,
    needed: &Needed,
    reasons: &mut Vec<Reason>,
) {
    let what = match needed.need {
        Need::Speed(_) => "speed",
        Need::AirFlow(_) => "air",
    };
    let off = chosen.meets - 1.0;
    let percent = plain_number((off.abs() * 100.0).round());
    let way = if off < 0.0 { "less" } else { "more" };
    if off.abs() > FAR {
        reasons.push(Reason::hard(
            Rule::Speed,
            format!(
                "Its nearest setting, {}, gives {percent}% {way} {what} than needed.",
                chosen.setting
            ),
        ));
    } else if off.abs() > NEAR {
        reasons.push(Reason::remark(
            Rule::Speed,
            format!(
                "Setting {} gives {percent}% {way} {what} than needed.",
                chosen.setting
            ),
        ));
    }
    if !chosen.within_rating {
        reasons.push(Reason::hard(
            Rule::Power,
            "In the heavy air of this box its shaft power would be over the rating at every \
             setting.",
        ));
    }
    if let Some(caution) = chosen.caution {
        reasons.push(Reason::remark(Rule::Speed, caution));
    }
    if let Some(velocity) = chosen.face_velocity {
        face(velocity, assembly, reasons);
    }
    if place.old.blade_diameter != needed.blade_diameter && matches!(needed.need, Need::Speed(_)) {
        rules_diameter(place, needed, reasons);
    }
}

/// A speed from the book holds for its blade only.
fn rules_diameter(place: &Place, needed: &Needed, reasons: &mut Vec<Reason>) {
    let apart = (place.old.blade_diameter - needed.blade_diameter).abs();
    if apart.value > super::rules::DIAMETER_APART {
        reasons.push(Reason::remark(
            Rule::Speed,
            format!(
                "The needed speed holds for a blade of {}, but the old one has {}.",
                shown("inch", needed.blade_diameter.value),
                shown("inch", place.old.blade_diameter.value)
            ),
        ));
    }
}

fn face(velocity: Velocity, assembly: &Assembly, reasons: &mut Vec<Reason>) {
    if let Some(warning) = carry_over(velocity).ok().and_then(CarryOver::warning) {
        reasons.push(Reason::remark(Rule::FaceVelocity, warning));
    }
    if let Some(window) = assembly.face_velocity
        && !window.holds(velocity)
    {
        reasons.push(Reason::remark(
            Rule::FaceVelocity,
            format!(
                "The air over the coil, {}, is outside what its sheet suits: {} to {}.",
                shown("fpm", velocity.value),
                shown("fpm", window.from.value),
                shown("fpm", window.to.value)
            ),
        ));
    }
}

/// An SI value in this unit, rounded to a multiple of `step`: what is worked out from a curve is
/// not known better.
fn rounded(literal: &str, si: f64, step: f64) -> String {
    let scale = Unit::of_literal(literal).map_or(1.0, |unit| unit.scale);
    shown(literal, (si / scale / step).round() * step * scale)
}
