//! One rule for each thing that is compared.

use uom::si::f64::{Length, Power, Ratio, TemperatureInterval, ThermodynamicTemperature};
use uom::si::thermodynamic_temperature::degree_fahrenheit;

use super::{Aspect, ColdBox, FanPart, Finding, MakersWord, SubstitutionVerdict};
use crate::trade::formula::CannotWorkOut;
use crate::trade::motor::MotorType;
use crate::trade::protection::Promise;
use crate::trade::rating::Band;
use crate::trade::refrigerant::SafetyGroup;
use crate::trade::typed::{Measured, above_zero, row_value};

/// Two ratings that differ by rounding only are equal.
const ROUNDING: f64 = 0.01;

/// What one rule says; nothing where it does not apply.
type Rule = Result<Option<Finding>, CannotWorkOut>;

fn finding(aspect: Aspect, holds: bool, words: impl Into<String>) -> Option<Finding> {
    let verdict = if holds {
        SubstitutionVerdict::Fits
    } else {
        SubstitutionVerdict::DoesNotFit
    };
    Some(Finding {
        aspect,
        verdict,
        words: words.into(),
    })
}

fn ask(aspect: Aspect, words: &str) -> Option<Finding> {
    Some(Finding {
        aspect,
        verdict: SubstitutionVerdict::AskFirst,
        words: words.into(),
    })
}

/// Whether the rules of like for like apply: not an EC part.
fn like_for_like(new: &FanPart) -> bool {
    new.motor != Some(MotorType::Ec)
}

pub(super) fn kind(old: &FanPart, new: &FanPart) -> Option<Finding> {
    match (old.motor, new.motor) {
        (_, Some(MotorType::Ec)) => finding(
            Aspect::Kind,
            true,
            "An EC assembly may stand in for the old motor.",
        ),
        (Some(old), Some(new)) => finding(
            Aspect::Kind,
            old == new,
            "Only an EC assembly or a motor of the old one's kind may take its place.",
        ),
        _ => ask(
            Aspect::Kind,
            "Find out what kind of motor the old and the new one are.",
        ),
    }
}

pub(super) fn power(old: &FanPart, new: &FanPart) -> Rule {
    let (Some(was), Some(is)) = (old.shaft, new.shaft) else {
        return Ok(ask(
            Aspect::Power,
            "Read the shaft power of both from their nameplates.",
        ));
    };
    let ratio = above_zero("The new shaft power", is)? / above_zero("The old shaft power", was)?;
    let holds = ratio >= 1.0 - ROUNDING && (!like_for_like(new) || ratio <= 1.0 + ROUNDING);
    let wanted = if like_for_like(new) {
        "equal to"
    } else {
        "at or above"
    };
    Ok(finding(
        Aspect::Power,
        holds,
        format!(
            "Its shaft power is {}; it must be {wanted} the old one's {}.",
            is.shown(),
            was.shown()
        ),
    ))
}

/// Air is heavier when cold: at one pressure its density goes with 1/T, and so does the shaft
/// power at the same speed. Altitude is left out, which errs on the heavy side.
pub(super) fn power_in_box(new: &FanPart, place: &ColdBox) -> Rule {
    let (Some(blade), Some(rating), Some(cold)) = (new.blade_power, new.shaft, place.temperature)
    else {
        return Ok(ask(
            Aspect::PowerInBox,
            "Find out what its blade takes at 70 °F and how cold the box gets.",
        ));
    };
    let standard = ThermodynamicTemperature::new::<degree_fahrenheit>(70.0);
    let heavier = standard.si() / above_zero("The box temperature", cold)?;
    let needed = above_zero("The blade's power", blade)? * heavier;
    let holds = needed <= above_zero("The new shaft power", rating)? * (1.0 + 1e-9);
    Ok(finding(
        Aspect::PowerInBox,
        holds,
        format!(
            "At {} its blade takes {}; its rating is {}.",
            cold.shown(),
            Power::of_si(needed).shown(),
            rating.shown()
        ),
    ))
}

pub(super) fn speed(old: &FanPart, new: &FanPart) -> Rule {
    like(
        old,
        new,
        Aspect::Speed,
        |part| part.speed.map(|value| value.quantity().si),
        0.02,
    )
}

pub(super) fn pitch(old: &FanPart, new: &FanPart) -> Rule {
    like(
        old,
        new,
        Aspect::Pitch,
        |part| part.pitch.map(|value| value.value),
        0.02,
    )
}

pub(super) fn bore(old: &FanPart, new: &FanPart) -> Rule {
    like(
        old,
        new,
        Aspect::Bore,
        |part| part.bore.map(Measured::si),
        ROUNDING,
    )
}

/// A value that must be equal, for like for like only.
fn like(
    old: &FanPart,
    new: &FanPart,
    aspect: Aspect,
    value: impl Fn(&FanPart) -> Option<f64>,
    apart: f64,
) -> Rule {
    if !like_for_like(new) {
        return Ok(None);
    }
    let what = aspect.word();
    let (Some(was), Some(is)) = (value(old), value(new)) else {
        return Ok(ask(
            aspect,
            &format!("Like for like: find out the {what} of both."),
        ));
    };
    let ratio = above_zero(&format!("The new {what}"), Ratio::of_si(is))?
        / above_zero(&format!("The old {what}"), Ratio::of_si(was))?;
    let holds = (ratio - 1.0).abs() <= apart;
    Ok(finding(
        aspect,
        holds,
        format!("Like for like: the {what} must be the same."),
    ))
}

pub(super) fn rotation(old: &FanPart, new: &FanPart) -> Option<Finding> {
    match (old.rotation, new.rotation) {
        (Some(was), Some(is)) => finding(
            Aspect::Rotation,
            was == is,
            "It must turn the same way, seen from the same end.",
        ),
        _ => ask(
            Aspect::Rotation,
            "Note which way each turns, and seen from which end.",
        ),
    }
}

pub(super) fn air(old: &FanPart, new: &FanPart) -> Option<Finding> {
    match (old.air, new.air) {
        (Some(was), Some(is)) => finding(
            Aspect::Air,
            was == is,
            "It must blow the same way as the old one.",
        ),
        _ => ask(
            Aspect::Air,
            "Note which way each blows, over or away from the motor.",
        ),
    }
}

pub(super) fn diameter(old: &FanPart, new: &FanPart) -> Rule {
    let (Some(was), Some(is)) = (old.diameter, new.diameter) else {
        return Ok(ask(
            Aspect::Diameter,
            "Measure the diameter of both blades.",
        ));
    };
    let apart: Length = row_value("blade_diameter_spread")?;
    let gap = above_zero("The new blade", is)? - above_zero("The old blade", was)?;
    Ok(finding(
        Aspect::Diameter,
        gap.abs() <= apart.si() + 1e-9,
        format!(
            "Its blade is {}; the old one is {}.",
            is.shown(),
            was.shown()
        ),
    ))
}

/// An EC part's volts are by its sheet; another motor's by its rating and tolerance.
pub(super) fn voltage(new: &FanPart, place: &ColdBox) -> Rule {
    let (Some(rated), Some(supply)) = (new.rated, place.supply) else {
        return Ok(ask(
            Aspect::Voltage,
            "Measure the volts at the leads and read the new one's rating.",
        ));
    };
    above_zero("The measured voltage", supply)?;
    // An EC part's printed range may already be its limit, so nothing is added to a range.
    let ends = rated.ends();
    let ranged = ends.low != ends.high && !like_for_like(new);
    let band: Band<_> = if ranged { ends } else { rated.band() };
    let slack = if ranged {
        rated.band().holds(supply)
    } else {
        band.holds(supply)
    };
    Ok(if band.holds(supply) {
        finding(Aspect::Voltage, true, "The volts at the leads suit it.")
    } else if slack {
        ask(
            Aspect::Voltage,
            "The volts are just outside the printed range: look for its tolerance in the sheet.",
        )
    } else {
        finding(
            Aspect::Voltage,
            false,
            format!(
                "{} at the leads; it takes {} to {}.",
                supply.shown(),
                band.low.shown(),
                band.high.shown()
            ),
        )
    })
}

pub(super) fn protection(old: &FanPart, new: &FanPart) -> Option<Finding> {
    let (Some(was), Some(is)) = (&old.protection, &new.protection) else {
        return ask(Aspect::Protection, "Read the IP code of both.");
    };
    match is.covers(was) {
        Promise::Implied => finding(Aspect::Protection, true, format!("{is} covers {was}.")),
        Promise::NotImplied => finding(
            Aspect::Protection,
            false,
            format!("Its {is} does not promise all that the old {was} does."),
        ),
        Promise::NotStated => ask(
            Aspect::Protection,
            "Its IP code leaves a digit open: ask the maker.",
        ),
    }
}

pub(super) fn ambient(new: &FanPart, place: &ColdBox) -> Rule {
    let (Some(coldest), Some(cold)) = (new.ambient.0, place.temperature) else {
        return Ok(ask(
            Aspect::Ambient,
            "Find out how cold the box gets and how cold the part may get.",
        ));
    };
    let at = above_zero("The box temperature", cold)?;
    let low = above_zero("The coldest allowed", coldest)?;
    let high = match new.ambient.1 {
        Some(warmest) => above_zero("The warmest allowed", warmest)?,
        None => f64::INFINITY,
    };
    let slack = TemperatureInterval::of_si(1e-6).si();
    Ok(finding(
        Aspect::Ambient,
        at >= low - slack && at <= high + slack,
        format!(
            "The box gets to {}; it may run down to {}.",
            cold.shown(),
            coldest.shown()
        ),
    ))
}

pub(super) fn mounting(old: &FanPart, new: &FanPart) -> Option<Finding> {
    if old.mounting.is_empty() || new.mounting.is_empty() {
        return ask(Aspect::Mounting, "Compare the mounting patterns of both.");
    }
    let folded = |text: &String| -> String {
        text.chars()
            .filter(|c| c.is_alphanumeric())
            .flat_map(char::to_lowercase)
            .collect()
    };
    let holds = new.mounting.iter().any(|pattern| {
        old.mounting
            .iter()
            .any(|wanted| folded(wanted) == folded(pattern))
    });
    finding(
        Aspect::Mounting,
        holds,
        format!(
            "It fits {}; here it is {}.",
            new.mounting.join(", "),
            old.mounting.join(", ")
        ),
    )
}

/// In an evaporator whose refrigerant burns, a fan motor is part of the listing against
/// ignition: only the maker's named or confirmed part. From memory.
pub(super) fn refrigerant(new: &FanPart, place: &ColdBox) -> Option<Finding> {
    let Some(group) = place.group else {
        return ask(
            Aspect::Refrigerant,
            "Read the refrigerant from the nameplate first.",
        );
    };
    if group == SafetyGroup::A1 {
        return finding(Aspect::Refrigerant, true, "The refrigerant does not burn.");
    }
    match new.makers_word {
        Some(MakersWord::Named | MakersWord::Confirmed) => finding(
            Aspect::Refrigerant,
            true,
            "The evaporator's maker names or confirms this part.",
        ),
        Some(MakersWord::Neither) => finding(
            Aspect::Refrigerant,
            false,
            "The refrigerant burns: only the part that the maker names or confirms as equal.",
        ),
        None => ask(
            Aspect::Refrigerant,
            "The refrigerant burns: ask the evaporator's maker for its named part.",
        ),
    }
}
