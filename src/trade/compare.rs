//! What was measured on the new fan against what was worked out for it: agreement, or what to
//! look at first.
//!
//! The order is the one in which a fault hides the next: volts, direction, speed, air, amps. A
//! propeller fan takes the more power the more its air is held back, which tells a blocked coil
//! from a blade that does not work.

mod formulas;

pub(crate) use formulas::FORMULAS;

use super::formula::CannotWorkOut;

/// A tachometer and a motor's own spread: nearer than this to the expected speed agrees.
const SPEED_APART: f64 = 0.10;
/// A hand anemometer over nine points: nearer than this to the expected air agrees.
const AIR_APART: f64 = 0.20;
/// A clamp and a plate rounded to tenths: more than this over the plate is too much.
const CURRENT_APART: f64 = 0.10;
/// Less than this share of the plate's amps is a fan that hardly works.
const HARDLY_WORKS: f64 = 0.5;

/// Measured over expected; 1 is agreement.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Shares {
    /// Of the speed.
    pub speed: Option<f64>,
    /// Of the amps on the plate.
    pub current: Option<f64>,
    /// Of the air.
    pub air: Option<f64>,
}

/// What was seen beside the numbers.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Seen {
    /// The volts lie outside the motor's band.
    pub volts_outside: bool,
    /// The air goes the wrong way.
    pub wrong_way: bool,
    /// Frost or ice is on the coil or the blade.
    pub frost: bool,
}

/// What the numbers point to.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Diagnosis {
    /// They agree.
    Agrees,
    /// Blade, gap, depth or guard.
    Blade,
    /// Turning or air direction.
    Direction,
    /// Speed setting or its signal.
    Setting,
    /// Ice on coil or blade.
    Ice,
    /// Dirt or something in the air path: more, or less, resistance than thought.
    Resistance,
    /// Volts or wiring.
    Supply,
}

impl Diagnosis {
    /// The words of a flow, in the order of the variants.
    pub const WORDS: &'static [&'static str] = &[
        "agrees",
        "blade",
        "direction",
        "setting",
        "ice",
        "resistance",
        "supply",
    ];

    /// The word of this diagnosis.
    pub fn word(self) -> &'static str {
        Self::WORDS[self as usize]
    }
}

/// A diagnosis with its reason in words.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Compared {
    /// What the numbers point to.
    pub diagnosis: Diagnosis,
    /// Why, and what to look at.
    pub because: &'static str,
}

/// Compares what was measured with what was expected.
///
/// Source: fan laws (speed, air and power go together), ANSI/AMCA 210; bands, order and what they
/// point to: common practice, no source.
///
/// # Errors
/// When nothing was measured, or a share is negative or no number.
pub fn compare(shares: Shares, seen: Seen) -> Result<Compared, CannotWorkOut> {
    let all = [shares.speed, shares.current, shares.air];
    if all.iter().flatten().count() == 0 {
        return Err(CannotWorkOut(
            "Nothing was measured that can be compared; measure the speed, the amps or the air."
                .into(),
        ));
    }
    if !all
        .iter()
        .flatten()
        .all(|share| share.is_finite() && *share >= 0.0)
    {
        return Err(CannotWorkOut(
            "What was expected must be above zero and what was measured not below it.".into(),
        ));
    }
    let (diagnosis, because) = judged(shares, seen);
    Ok(Compared { diagnosis, because })
}

fn judged(shares: Shares, seen: Seen) -> (Diagnosis, &'static str) {
    let too_many_amps = shares
        .current
        .is_some_and(|share| share > 1.0 + CURRENT_APART);
    let few_amps = shares.current.is_some_and(|share| share < HARDLY_WORKS);
    if seen.volts_outside {
        return (
            Diagnosis::Supply,
            "The volts are outside the motor's band. Put them right before you judge the fan.",
        );
    }
    if seen.wrong_way {
        return (
            Diagnosis::Direction,
            "The air goes the wrong way. The blade is the wrong hand, or the direction is set wrong.",
        );
    }
    if let Some(found) = shares
        .speed
        .and_then(|speed| by_speed(speed, too_many_amps, few_amps))
    {
        return found;
    }
    if let Some(found) = shares
        .air
        .and_then(|air| by_air(air, (too_many_amps, few_amps), seen))
    {
        return found;
    }
    if too_many_amps {
        return (
            Diagnosis::Blade,
            "More amps than the plate allows. The blade is too big or too steep, rubs, or sits too \
             deep; or the air is blocked.",
        );
    }
    (
        Diagnosis::Agrees,
        "What was measured agrees with what was worked out.",
    )
}

fn by_speed(speed: f64, too_many_amps: bool, few_amps: bool) -> Option<(Diagnosis, &'static str)> {
    if speed < 1.0 - SPEED_APART {
        return Some(if too_many_amps {
            (
                Diagnosis::Blade,
                "Slow, with too many amps: it is overloaded. The blade is too big or too steep, \
                 rubs, or carries ice.",
            )
        } else {
            (
                Diagnosis::Setting,
                "Slow, without too many amps: it does what it is told. Read the setting back, then \
                 its signal.",
            )
        });
    }
    if speed > 1.0 + SPEED_APART {
        return Some(if few_amps {
            (
                Diagnosis::Blade,
                "Fast, with few amps: it runs light. The blade is loose, missing or moves no air.",
            )
        } else {
            (
                Diagnosis::Setting,
                "Too fast: a wrong setting or signal. Faster than rated, it takes much more power.",
            )
        });
    }
    None
}

fn by_air(
    air: f64,
    (too_many_amps, few_amps): (bool, bool),
    seen: Seen,
) -> Option<(Diagnosis, &'static str)> {
    if air < 1.0 - AIR_APART {
        return Some(if seen.frost {
            (
                Diagnosis::Ice,
                "Too little air, and frost is there. Defrost, then measure again.",
            )
        } else if few_amps {
            (
                Diagnosis::Blade,
                "Right speed, little air and few amps: the blade does not work. Look at its hand, \
                 its depth in the ring and its hub.",
            )
        } else if too_many_amps {
            (
                Diagnosis::Resistance,
                "Little air with too many amps: the air is held back. Look for ice or dirt in the \
                 coil, and for boxes in front of it.",
            )
        } else {
            (
                Diagnosis::Resistance,
                "Too little air. Look at the coil face first, for ice or dirt. Then at the blade's \
                 depth, and at fans that stand still.",
            )
        });
    }
    if air > 1.0 + AIR_APART {
        return Some((
            Diagnosis::Resistance,
            "More air than worked out: the coil resists less than thought, or air goes round it. \
             A slower setting may do.",
        ));
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(speed: f64, current: f64, air: f64) -> Diagnosis {
        let known = |share: f64| (share >= 0.0).then_some(share);
        let shares = Shares {
            speed: known(speed),
            current: known(current),
            air: known(air),
        };
        compare(shares, Seen::default()).unwrap().diagnosis
    }

    // A share of −1 was not measured.
    #[test]
    fn numbers_point_to_what_a_technician_would_look_at() {
        for (speed, current, air, diagnosis) in [
            (1.0, 0.9, 1.0, Diagnosis::Agrees),
            (0.91, 1.09, 0.81, Diagnosis::Agrees),
            (-1.0, 0.8, -1.0, Diagnosis::Agrees),
            (0.7, 0.6, 0.7, Diagnosis::Setting),
            (0.7, 1.3, 0.7, Diagnosis::Blade),
            (1.3, 1.3, 1.3, Diagnosis::Setting),
            (1.2, 0.3, 0.4, Diagnosis::Blade),
            (1.0, 0.4, 0.5, Diagnosis::Blade),
            (1.0, 1.2, 0.5, Diagnosis::Resistance),
            (1.0, 0.9, 0.5, Diagnosis::Resistance),
            (1.0, 0.9, 1.5, Diagnosis::Resistance),
            (1.0, 1.3, 1.0, Diagnosis::Blade),
            (-1.0, 1.3, -1.0, Diagnosis::Blade),
        ] {
            assert_eq!(
                of(speed, current, air),
                diagnosis,
                "{speed} {current} {air}"
            );
        }
    }

    #[test]
    fn volts_come_before_direction_and_direction_before_the_rest() {
        let shares = Shares {
            speed: Some(0.5),
            current: Some(2.0),
            air: Some(0.1),
        };
        let mut seen = Seen {
            volts_outside: true,
            wrong_way: true,
            frost: true,
        };
        let by = |seen| compare(shares, seen).unwrap().diagnosis;
        assert_eq!(by(seen), Diagnosis::Supply);
        seen.volts_outside = false;
        assert_eq!(by(seen), Diagnosis::Direction);
        let frosted = Seen {
            frost: true,
            ..Seen::default()
        };
        let thin = Shares {
            air: Some(0.5),
            ..Shares::default()
        };
        assert_eq!(compare(thin, frosted).unwrap().diagnosis, Diagnosis::Ice);
    }

    #[test]
    fn nothing_measured_is_no_agreement() {
        assert!(compare(Shares::default(), Seen::default()).is_err());
        let nonsense = Shares {
            air: Some(f64::NAN),
            ..Shares::default()
        };
        assert!(compare(nonsense, Seen::default()).is_err());
    }
}
