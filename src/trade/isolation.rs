//! Proving that a circuit is without voltage: live, dead, live.
//!
//! Nothing here ever says that a circuit *is* dead; it judges what was recorded.

use uom::si::f64::ElectricPotential;

use super::formula::CannotWorkOut;
use super::typed::{Measured, above_zero, row_value};
use super::worded::worded;

mod formulas;

pub(crate) use formulas::FORMULAS;

/// More conductors than this end in no fan's junction box.
const CONDUCTORS_MAX: u32 = 12;

worded! {
    /// What a voltage is looked for with.
    pub enum Instrument {
        /// A meter with leads that touch the conductor, rated for the circuit.
        ContactMeter = "contact_meter",
        /// A solenoid-type tester.
        SolenoidTester = "solenoid_tester",
        /// A non-contact proximity tester.
        ProximityTester = "proximity_tester",
        /// A lamp or display built into the equipment.
        InstalledIndicator = "installed_indicator",
    }
}

worded! {
    /// What someone relies on to keep the energy away.
    pub enum IsolationMeans {
        /// A disconnect, opened and locked.
        Disconnect = "disconnect",
        /// A circuit breaker, opened and locked.
        Breaker = "breaker",
        /// A plug, pulled and in the worker's own control.
        Plug = "plug",
        /// A thermostat.
        Thermostat = "thermostat",
        /// A defrost clock.
        DefrostClock = "defrost_clock",
        /// A door switch.
        DoorSwitch = "door_switch",
        /// A fan-delay control.
        FanDelay = "fan_delay",
        /// A push button or selector switch.
        PushButton = "push_button",
        /// An interlock.
        Interlock = "interlock",
        /// A speed signal of 0 V to an EC motor.
        SpeedSignal = "speed_signal",
    }
}

worded! {
    /// What one reading on the circuit says.
    pub enum ReadingVerdict {
        /// At or below the row `absence_of_voltage_limit`.
        WithinLimit = "within_limit",
        /// Above it: find the source.
        NotDead = "not_dead",
        /// At or above the row `never_dead_voltage`: live.
        Live = "live",
    }
}

worded! {
    /// What a whole proof is worth.
    pub enum ProofVerdict {
        /// Known source, every reading within the limit, known source again.
        Holds = "holds",
        /// A reading shows voltage.
        NotDead = "not_dead",
        /// The meter did not show the known source before or after: repeat everything.
        Void = "void",
        /// A pair, a conductor to ground or the stored charge was not measured.
        Incomplete = "incomplete",
        /// The instrument is not accepted for a proof.
        NotAccepted = "not_accepted",
    }
}

worded! {
    /// The three parts of a proof, in their order.
    pub enum ProofStep {
        /// Test a known live source.
        KnownBefore = "known_source_before",
        /// Test the conductors: every pair and each to ground.
        Conductors = "conductors",
        /// Test the same known live source again.
        KnownAfter = "known_source_after",
    }
}

worded! {
    /// Why the instrument is checked immediately before and after.
    pub enum InstrumentCheck {
        /// Over 600 V nominal: 29 CFR 1910.333(b)(2)(iv)(B) demands it.
        Mandatory = "mandatory",
        /// At 600 V and below: the DOE handbook recommends it, NFPA 70E 120.5 asks for it.
        ByStandard = "by_standard",
    }
}

/// The order of a proof. Source: NFPA 70E-2018 120.5, step 7.
pub const PROOF_ORDER: [ProofStep; 3] = [
    ProofStep::KnownBefore,
    ProofStep::Conductors,
    ProofStep::KnownAfter,
];

/// What was recorded of one proof.
#[derive(Clone, Debug, PartialEq)]
pub struct Proof {
    /// The instrument.
    pub instrument: Instrument,
    /// The conductors that end at the work, neutral included, ground not.
    pub conductors: u32,
    /// The reading at the known live source before.
    pub known_before: ElectricPotential,
    /// AC readings: every pair of conductors, then each to ground.
    pub alternating: Vec<ElectricPotential>,
    /// DC readings across whatever stores charge.
    pub direct: Vec<ElectricPotential>,
    /// Whether anything here stores charge: a capacitor, an EC motor's bus.
    pub stores_charge: bool,
    /// The reading at the known live source after.
    pub known_after: ElectricPotential,
}

/// Whether an instrument may prove absence of voltage: only a contact meter.
///
/// Source: DOE electrical-safety handbook 2.13.2.1 (proximity and solenoid testers should not
/// be used); OSHA interpretation of 2012 (an installed indicator alone does not verify).
pub fn accepted(instrument: Instrument) -> bool {
    instrument == Instrument::ContactMeter
}

/// Whether something may be relied on as isolation. Control devices never may.
///
/// Source: 29 CFR 1910.333(b)(2)(ii)(B).
pub fn isolates(means: IsolationMeans) -> bool {
    matches!(
        means,
        IsolationMeans::Disconnect | IsolationMeans::Breaker | IsolationMeans::Plug
    )
}

/// Why the instrument must be checked at a circuit of `nominal` volts.
///
/// Source: 29 CFR 1910.333(b)(2)(iv)(B); DOE electrical-safety handbook 2.13; NFPA 70E 120.5.
///
/// # Errors
/// When the voltage is not above zero.
pub fn instrument_check(nominal: ElectricPotential) -> Result<InstrumentCheck, CannotWorkOut> {
    let volts = above_zero("The nominal voltage", nominal)?;
    Ok(if volts > 600.0 {
        InstrumentCheck::Mandatory
    } else {
        InstrumentCheck::ByStandard
    })
}

/// Judges one reading, AC or DC of either sign.
///
/// The limit is the row `absence_of_voltage_limit`; the row `never_dead_voltage` is never a
/// pass.
///
/// # Errors
/// When the reading is not a number.
pub fn judge_reading(reading: ElectricPotential) -> Result<ReadingVerdict, CannotWorkOut> {
    let volts = reading.si().abs();
    if !volts.is_finite() {
        return Err(CannotWorkOut(
            "A reading is not a number; type what the meter shows, like 0.4 V.".into(),
        ));
    }
    let limit: ElectricPotential = row_value("absence_of_voltage_limit")?;
    let live: ElectricPotential = row_value("never_dead_voltage")?;
    Ok(if volts >= live.si() {
        ReadingVerdict::Live
    } else if volts > limit.si() {
        ReadingVerdict::NotDead
    } else {
        ReadingVerdict::WithinLimit
    })
}

/// How many AC readings a proof of so many conductors needs: every pair, and each to ground.
pub fn readings_needed(conductors: u32) -> u32 {
    let conductors = conductors.min(CONDUCTORS_MAX);
    conductors * conductors.saturating_sub(1) / 2 + conductors
}

/// Judges a proof. A meter that does not show the known source, before or after, voids all.
///
/// The meter must read at least the row `never_dead_voltage` at the known source.
///
/// # Errors
/// When a reading is not a number or the conductors are not from 1 to 12.
pub fn judge_proof(proof: &Proof) -> Result<ProofVerdict, CannotWorkOut> {
    if !(1..=CONDUCTORS_MAX).contains(&proof.conductors) {
        return Err(CannotWorkOut(format!(
            "{} conductors cannot be; count those that end here, neutral included, 1 to \
             {CONDUCTORS_MAX}.",
            proof.conductors
        )));
    }
    if !accepted(proof.instrument) {
        return Ok(ProofVerdict::NotAccepted);
    }
    let before = judge_reading(proof.known_before)?;
    let after = judge_reading(proof.known_after)?;
    let mut worst = ReadingVerdict::WithinLimit;
    for reading in proof.alternating.iter().chain(&proof.direct) {
        worst = worst.max(judge_reading(*reading)?);
    }
    let measured = u32::try_from(proof.alternating.len()).unwrap_or(u32::MAX);
    Ok(
        if before != ReadingVerdict::Live || after != ReadingVerdict::Live {
            ProofVerdict::Void
        } else if worst != ReadingVerdict::WithinLimit {
            ProofVerdict::NotDead
        } else if measured < readings_needed(proof.conductors)
            || (proof.stores_charge && proof.direct.is_empty())
        {
            ProofVerdict::Incomplete
        } else {
            ProofVerdict::Holds
        },
    )
}

/// The most conductors that so many readings cover, at least one.
fn covered_by(readings: usize) -> u32 {
    (1..=CONDUCTORS_MAX)
        .rev()
        .find(|conductors| readings_needed(*conductors) as usize <= readings)
        .unwrap_or(1)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use uom::si::electric_potential::volt;

    fn volts(value: f64) -> ElectricPotential {
        ElectricPotential::new::<volt>(value)
    }

    fn proof() -> Proof {
        Proof {
            instrument: Instrument::ContactMeter,
            conductors: 2,
            known_before: volts(121.0),
            alternating: vec![volts(0.2), volts(0.1), volts(0.0)],
            direct: vec![volts(-1.0)],
            stores_charge: true,
            known_after: volts(120.0),
        }
    }

    #[test]
    fn a_complete_live_dead_live_test_holds() {
        assert_eq!(judge_proof(&proof()), Ok(ProofVerdict::Holds));
    }

    #[test]
    fn every_gap_is_named() {
        let with = |change: fn(&mut Proof)| {
            let mut changed = proof();
            change(&mut changed);
            judge_proof(&changed).unwrap()
        };
        assert_eq!(with(|p| p.known_after = volts(0.0)), ProofVerdict::Void);
        assert_eq!(with(|p| p.known_before = volts(0.0)), ProofVerdict::Void);
        assert_eq!(
            with(|p| p.alternating[1] = volts(4.0)),
            ProofVerdict::NotDead
        );
        assert_eq!(with(|p| p.direct[0] = volts(-30.0)), ProofVerdict::NotDead);
        assert_eq!(with(|p| p.direct.clear()), ProofVerdict::Incomplete);
        assert_eq!(with(|p| p.conductors = 3), ProofVerdict::Incomplete);
        assert_eq!(
            with(|p| p.instrument = Instrument::ProximityTester),
            ProofVerdict::NotAccepted
        );
    }

    #[test]
    fn three_conductors_take_six_readings() {
        assert_eq!([1, 2, 3, 4].map(readings_needed), [1, 3, 6, 10]);
        assert_eq!([1, 3, 5, 6].map(covered_by), [1, 2, 2, 3]);
    }

    #[test]
    fn fifty_volts_are_never_a_pass() {
        assert_eq!(judge_reading(volts(50.0)), Ok(ReadingVerdict::Live));
        assert_eq!(judge_reading(volts(49.9)), Ok(ReadingVerdict::NotDead));
        assert_eq!(judge_reading(volts(3.0)), Ok(ReadingVerdict::WithinLimit));
        assert!(judge_reading(volts(f64::NAN)).is_err());
    }

    proptest! {
        #[test]
        fn one_reading_over_the_limit_never_holds(which in 0_usize..3, over in 3.001_f64..1e4) {
            let mut changed = proof();
            changed.alternating[which] = volts(over);
            prop_assert_eq!(judge_proof(&changed), Ok(ProofVerdict::NotDead));
        }
    }
}
