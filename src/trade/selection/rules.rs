//! The rules an assembly has to meet before its speed is even looked at.

use super::Place;
use crate::trade::kit::{Assembly, DrainSetting};
use crate::trade::motor::MotorType;
use crate::trade::protection::Promise;
use crate::trade::quantity::shown;
use crate::trade::window::Plausible;

/// Blades whose diameters differ by no more than this are of one size, m: 1/16 in.
pub(super) const DIAMETER_APART: f64 = 0.001_6;

/// What was looked at.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Rule {
    /// Whether there are enough on the truck.
    OnTruck,
    /// Like for like, or EC.
    Motor,
    /// Rated power at the shaft.
    Power,
    /// Supply volts.
    Volts,
    /// Diameter of the blade.
    Diameter,
    /// Direction of rotation.
    Rotation,
    /// Direction of air.
    AirDirection,
    /// Protection class, digit by digit.
    Protection,
    /// Temperature of the box.
    Ambient,
    /// Mounting pattern.
    Mounting,
    /// Space behind the mounting plane.
    Depth,
    /// The coils that the sheet suits.
    Coil,
    /// The refrigerant's safety group.
    Refrigerant,
    /// The plug.
    Plug,
    /// The drain openings.
    Drain,
    /// Speed or air.
    Speed,
    /// Speed of the air over the coil.
    FaceVelocity,
}

/// Why an assembly does not simply fit.
#[derive(Clone, Debug, PartialEq)]
pub struct Reason {
    /// What was looked at.
    pub rule: Rule,
    /// Whether it rules the assembly out.
    pub hard: bool,
    /// One sentence for the technician.
    pub words: String,
}

impl Reason {
    pub(super) fn hard(rule: Rule, words: impl Into<String>) -> Self {
        Self {
            rule,
            hard: true,
            words: words.into(),
        }
    }

    pub(super) fn remark(rule: Rule, words: impl Into<String>) -> Self {
        Self {
            rule,
            hard: false,
            words: words.into(),
        }
    }
}

/// Every rule that `assembly` does not simply meet at `place`.
pub(super) fn reasons(assembly: &Assembly, place: &Place) -> Vec<Reason> {
    [
        on_truck(assembly),
        motor(assembly, place),
        power(assembly, place),
        volts(assembly, place),
        diameter(assembly, place),
        rotation(assembly, place),
        air_direction(assembly, place),
        protection(assembly, place),
        ambient(assembly, place),
        mounting(assembly, place),
        depth(assembly, place),
        coil(assembly, place),
        refrigerant(assembly, place),
        plug(assembly, place),
        drain(assembly, place),
    ]
    .into_iter()
    .flatten()
    .collect()
}

fn on_truck(assembly: &Assembly) -> Option<Reason> {
    (assembly.on_truck == 0)
        .then(|| Reason::hard(Rule::OnTruck, "There is none left on the truck."))
}

fn motor(assembly: &Assembly, place: &Place) -> Option<Reason> {
    if assembly.motor == MotorType::Ec || assembly.motor == place.old.motor {
        return None;
    }
    Some(Reason::hard(
        Rule::Motor,
        "It is neither an EC motor nor of the old motor's kind: like for like only.",
    ))
}

fn power(assembly: &Assembly, place: &Place) -> Option<Reason> {
    match place.old.shaft_power {
        None => Some(Reason::remark(
            Rule::Power,
            "The old motor's shaft power is not known; compare the nameplates.",
        )),
        // A hundredth apart is the rounding of horsepower to watts.
        Some(old) if assembly.shaft_power < old * 0.99 => Some(Reason::hard(
            Rule::Power,
            format!(
                "Its shaft power of {} is below the old motor's {}.",
                shown("watt", assembly.shaft_power.value),
                shown("watt", old.value)
            ),
        )),
        Some(_) => None,
    }
}

fn volts(assembly: &Assembly, place: &Place) -> Option<Reason> {
    (!assembly.volts.holds(place.supply)).then(|| {
        Reason::hard(
            Rule::Volts,
            format!(
                "{} at the leads is outside what its sheet accepts: {} to {}.",
                shown("volt", place.supply.value),
                shown("volt", assembly.volts.from.value),
                shown("volt", assembly.volts.to.value)
            ),
        )
    })
}

fn diameter(assembly: &Assembly, place: &Place) -> Option<Reason> {
    let (new, old) = (assembly.blade.diameter, place.old.blade_diameter);
    ((new - old).abs().value > DIAMETER_APART).then(|| {
        Reason::hard(
            Rule::Diameter,
            format!(
                "Its blade of {} is not the old one's size, {}.",
                shown("inch", new.value),
                shown("inch", old.value)
            ),
        )
    })
}

fn rotation(assembly: &Assembly, place: &Place) -> Option<Reason> {
    (assembly.rotation != place.old.rotation)
        .then(|| Reason::hard(Rule::Rotation, "It turns the other way."))
}

fn air_direction(assembly: &Assembly, place: &Place) -> Option<Reason> {
    (assembly.air != place.old.air)
        .then(|| Reason::hard(Rule::AirDirection, "It blows the other way."))
}

fn protection(assembly: &Assembly, place: &Place) -> Option<Reason> {
    (assembly.protection.covers(&place.old.protection) != Promise::Implied).then(|| {
        Reason::hard(
            Rule::Protection,
            format!(
                "Its protection, {}, does not promise all that the old one's does, {}.",
                assembly.protection, place.old.protection
            ),
        )
    })
}

fn ambient(assembly: &Assembly, place: &Place) -> Option<Reason> {
    let at = place.air.temperature();
    (!assembly.ambient.holds(at)).then(|| {
        Reason::hard(
            Rule::Ambient,
            format!(
                "{} in the box is outside what its sheet allows: {} to {}.",
                shown("deg_f", at.value),
                shown("deg_f", assembly.ambient.from.value),
                shown("deg_f", assembly.ambient.to.value)
            ),
        )
    })
}

/// A pattern in lower case with nothing but letters and digits.
fn folded(text: &str) -> String {
    text.chars()
        .filter(|c| c.is_alphanumeric())
        .flat_map(char::to_lowercase)
        .collect()
}

fn mounting(assembly: &Assembly, place: &Place) -> Option<Reason> {
    let wanted = folded(&place.old.mounting);
    let fits = assembly
        .mounting
        .iter()
        .any(|pattern| folded(pattern) == wanted);
    (!fits).then(|| {
        Reason::hard(
            Rule::Mounting,
            format!(
                "It does not fit the mounting \"{}\"; it fits {}.",
                place.old.mounting,
                assembly.mounting.join(", ")
            ),
        )
    })
}

fn depth(assembly: &Assembly, place: &Place) -> Option<Reason> {
    match (assembly.depth, place.depth_available) {
        (Some(needs), Some(has)) if needs > has => Some(Reason::hard(
            Rule::Depth,
            format!(
                "It needs {} behind the mounting plane and there is {}.",
                shown("inch", needs.value),
                shown("inch", has.value)
            ),
        )),
        (Some(needs), None) => Some(Reason::remark(
            Rule::Depth,
            format!(
                "Measure the space: it needs {}.",
                shown("inch", needs.value)
            ),
        )),
        _ => None,
    }
}

fn coil(assembly: &Assembly, place: &Place) -> Option<Reason> {
    let Some(coil) = &place.coil else {
        return Some(Reason::remark(
            Rule::Coil,
            "The coil was not measured; compare it with the sheet.",
        ));
    };
    match assembly.coil.compare(coil) {
        Ok(Plausible::Inside) => None,
        Ok(Plausible::NotStated) => {
            Some(Reason::remark(Rule::Coil, Plausible::NotStated.sentence()))
        }
        // Outside the sheet a person with more knowledge decides, so it is ruled out here.
        Ok(outside @ Plausible::Outside(_)) => Some(Reason::hard(Rule::Coil, outside.sentence())),
        Err(why) => Some(Reason::hard(Rule::Coil, why.to_string())),
    }
}

fn refrigerant(assembly: &Assembly, place: &Place) -> Option<Reason> {
    let group = place.safety_group.as_str();
    let confirmed = place.model.as_deref().is_some_and(|model| {
        let model = folded(model);
        assembly
            .refrigerant
            .confirmed_models
            .iter()
            .any(|one| folded(one) == model)
    });
    match group {
        "A1" if assembly.refrigerant.groups.iter().any(|one| one == group) => None,
        "A1" => Some(Reason::hard(
            Rule::Refrigerant,
            "Its sheet does not say that it may be used with an A1 refrigerant.",
        )),
        "A2L" | "A2" | "A3" if confirmed => None,
        "A2L" | "A2" | "A3" => Some(Reason::hard(
            Rule::Refrigerant,
            format!(
                "The refrigerant burns ({group}): only a part that the maker names or confirms \
                 for this evaporator."
            ),
        )),
        _ => Some(Reason::hard(
            Rule::Refrigerant,
            format!("Refrigerant group {group} is not for this job: leave and call."),
        )),
    }
}

fn plug(assembly: &Assembly, place: &Place) -> Option<Reason> {
    let same = match (&assembly.plug, &place.old.plug) {
        (Some(new), Some(old)) => folded(new) == folded(old),
        _ => false,
    };
    (!same).then(|| {
        Reason::remark(
            Rule::Plug,
            "Its plug does not match: an electrician takes over before the old motor comes out.",
        )
    })
}

fn drain(assembly: &Assembly, place: &Place) -> Option<Reason> {
    match assembly.drain.in_position(place.old.shaft) {
        DrainSetting::NotOnSheet => Some(Reason::remark(
            Rule::Drain,
            assembly.drain.sentence(place.old.shaft),
        )),
        DrainSetting::Open { .. } | DrainSetting::None => None,
    }
}
