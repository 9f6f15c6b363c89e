//! The rules of lockout, as answers to single questions.
//!
//! Source: 29 CFR 1910.147, cited by paragraph. Local rules and the site's written procedure
//! govern.

use jiff::civil::DateTime;

use super::formula::CannotWorkOut;
use super::worded::worded;

mod formulas;

pub(crate) use formulas::FORMULAS;

worded! {
    /// The steps of applying control, in time order.
    pub enum ApplyStep {
        /// Know the energies, hazards and controls.
        Prepare = "prepare",
        /// Shut down by the normal procedure.
        ShutDown = "shut_down",
        /// Operate every isolating device.
        Isolate = "isolate",
        /// Lock and tag each device.
        Lock = "lock",
        /// Release or restrain stored energy.
        ReleaseStored = "release_stored",
        /// Verify before starting work.
        Verify = "verify",
    }
}

worded! {
    /// The steps of returning to service, in time order.
    pub enum ReleaseStep {
        /// Items removed, parts intact.
        Inspect = "inspect",
        /// Everyone positioned or clear.
        Clear = "clear",
        /// Each device off, by the person who applied it.
        Remove = "remove",
        /// Tell the affected people, after removal and before start.
        Notify = "notify",
        /// Start.
        Start = "start",
    }
}

worded! {
    /// The steps of a test or positioning with the locks off, in time order.
    pub enum InterludeStep {
        /// Clear tools.
        ClearTools = "clear_tools",
        /// Clear people.
        ClearPeople = "clear_people",
        /// Remove the devices.
        RemoveDevices = "remove_devices",
        /// Energise and test.
        EnergiseAndTest = "energise_and_test",
        /// De-energise and apply all controls again.
        ApplyAgain = "apply_again",
    }
}

impl ApplyStep {
    /// Its paragraph of 29 CFR 1910.147.
    pub fn cite(self) -> &'static str {
        match self {
            Self::Prepare => "(d)(1)",
            Self::ShutDown => "(d)(2)",
            Self::Isolate => "(d)(3)",
            Self::Lock => "(d)(4)",
            Self::ReleaseStored => "(d)(5)",
            Self::Verify => "(d)(6)",
        }
    }
}

impl ReleaseStep {
    /// Its paragraph of 29 CFR 1910.147; the start itself has none. The paragraphs do not
    /// follow the order in time.
    pub fn cite(self) -> Option<&'static str> {
        match self {
            Self::Inspect => Some("(e)(1)"),
            Self::Clear => Some("(e)(2)(i)"),
            Self::Remove => Some("(e)(3)"),
            Self::Notify => Some("(e)(2)(ii)"),
            Self::Start => None,
        }
    }
}

/// The order of applying control: 29 CFR 1910.147(d)(1) to (6).
pub const APPLY_ORDER: [ApplyStep; 6] = [
    ApplyStep::Prepare,
    ApplyStep::ShutDown,
    ApplyStep::Isolate,
    ApplyStep::Lock,
    ApplyStep::ReleaseStored,
    ApplyStep::Verify,
];

/// The order of returning to service: 29 CFR 1910.147(e)(1) to (3). The notice of (e)(2)(ii)
/// comes after the removal of (e)(3).
pub const RELEASE_ORDER: [ReleaseStep; 5] = [
    ReleaseStep::Inspect,
    ReleaseStep::Clear,
    ReleaseStep::Remove,
    ReleaseStep::Notify,
    ReleaseStep::Start,
];

/// The order of a test or positioning: 29 CFR 1910.147(f)(1), from memory.
pub const INTERLUDE_ORDER: [InterludeStep; 5] = [
    InterludeStep::ClearTools,
    InterludeStep::ClearPeople,
    InterludeStep::RemoveDevices,
    InterludeStep::EnergiseAndTest,
    InterludeStep::ApplyAgain,
];

/// Whether `taken` is exactly `order`: nothing skipped, nothing swapped, nothing added.
pub fn in_order<T: PartialEq>(taken: &[T], order: &[T]) -> bool {
    taken == order
}

worded! {
    /// When the affected people were told.
    pub enum NoticeVerdict {
        /// After the last removal and before the start, as it must be.
        InOrder = "in_order",
        /// Not after the removal.
        BeforeRemoval = "before_removal",
        /// Not before the start.
        AfterStart = "after_start",
    }
}

/// Whether the notice lies strictly between the last removal and the start.
///
/// Source: 29 CFR 1910.147(e)(2)(ii).
pub fn judge_notice(removed: DateTime, notified: DateTime, started: DateTime) -> NoticeVerdict {
    if notified <= removed {
        NoticeVerdict::BeforeRemoval
    } else if notified >= started {
        NoticeVerdict::AfterStart
    } else {
        NoticeVerdict::InOrder
    }
}

/// The conditions under which a lock may come off without the person who hung it. All must
/// hold; the employer decides, never a technician alone.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct RemovalConditions {
    /// It was verified that the person is not at the site.
    pub verified_absent: bool,
    /// All reasonable efforts to reach the person were made.
    pub contact_tried: bool,
    /// The person will be told before work resumes there.
    pub will_be_told: bool,
    /// A written procedure and training for this exist.
    pub procedure_and_training: bool,
}

worded! {
    /// Whether a lock may be removed by this person.
    pub enum RemovalVerdict {
        /// It is the person's own lock.
        OwnLock = "own_lock",
        /// Not the own lock, but every condition of the exception holds.
        ByException = "by_exception",
        /// Not allowed.
        Refused = "refused",
    }
}

/// Whether the person `removed_by` may remove the lock that `applied_by` hung.
///
/// Source: 29 CFR 1910.147(e)(3), and its exception (i) to (iii).
pub fn judge_removal(
    applied_by: &str,
    removed_by: &str,
    conditions: RemovalConditions,
) -> RemovalVerdict {
    let RemovalConditions {
        verified_absent,
        contact_tried,
        will_be_told,
        procedure_and_training,
    } = conditions;
    if applied_by == removed_by {
        RemovalVerdict::OwnLock
    } else if verified_absent && contact_tried && will_be_told && procedure_and_training {
        RemovalVerdict::ByException
    } else {
        RemovalVerdict::Refused
    }
}

worded! {
    /// Whether the protection was continuous over a change of person.
    pub enum HandoverVerdict {
        /// The incoming lock was on before the outgoing one came off, and dead was proved again.
        Continuous = "continuous",
        /// For a while nobody's lock was on.
        Gap = "gap",
        /// The incoming person did not prove it again.
        NotVerified = "not_verified",
    }
}

/// Judges a change of person: no moment without a lock, and the incoming person verifies.
///
/// Source: 29 CFR 1910.147(f)(4).
pub fn judge_handover(
    incoming_applied: DateTime,
    outgoing_removed: DateTime,
    verified_again: bool,
) -> HandoverVerdict {
    if incoming_applied > outgoing_removed {
        HandoverVerdict::Gap
    } else if verified_again {
        HandoverVerdict::Continuous
    } else {
        HandoverVerdict::NotVerified
    }
}

worded! {
    /// Whether work may go on.
    pub enum Gate {
        /// It may.
        Open = "open",
        /// It may not.
        Closed = "closed",
    }
}

/// Whether a group may work: everyone has an own lock on.
///
/// Source: 29 CFR 1910.147(f)(3)(ii)(D).
pub fn group_gate(workers: u32, personal_locks: u32) -> Gate {
    if workers > 0 && personal_locks >= workers {
        Gate::Open
    } else {
        Gate::Closed
    }
}

/// Whether parts may be touched while a capacitor is there: only once it is discharged; until
/// then it is handled as energised.
///
/// Source: 29 CFR 1910.333(b)(2)(ii)(C).
pub fn stored_energy_gate(discharged: bool) -> Gate {
    if discharged { Gate::Open } else { Gate::Closed }
}

worded! {
    /// Whether cord-and-plug equipment still needs lockout.
    pub enum LockoutNeed {
        /// It does.
        Required = "required",
        /// Unplugged, with the plug under the worker's exclusive control.
        NotRequired = "not_required",
    }
}

/// Whether cord-and-plug equipment still needs lockout. Dead is proved all the same.
///
/// Source: 29 CFR 1910.147(a)(2)(iii)(A).
pub fn cord_and_plug(unplugged: bool, exclusive_control: bool) -> LockoutNeed {
    if unplugged && exclusive_control {
        LockoutNeed::NotRequired
    } else {
        LockoutNeed::Required
    }
}

/// A time as people write it: `10:05`, or with its date, `2026-03-01 23:58`. Times without a
/// date count as of one day.
///
/// # Errors
/// When the text is no time.
pub fn parse_time(text: &str) -> Result<DateTime, CannotWorkOut> {
    let text = text.trim();
    let day = jiff::civil::date(2000, 1, 1);
    // A date alone would read as midnight, and a date before the time would be dropped.
    let dated = text
        .contains(':')
        .then(|| text.parse::<DateTime>().ok())
        .flatten();
    dated
        .or_else(|| {
            text.parse::<jiff::civil::Time>()
                .ok()
                .map(|time| day.to_datetime(time))
        })
        .ok_or_else(|| {
            CannotWorkOut(format!(
                "{text} is not a time; write it like 10:05 or 2026-03-01 23:58."
            ))
        })
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn at(text: &str) -> DateTime {
        parse_time(text).unwrap()
    }

    #[test]
    fn the_notice_comes_after_the_removal_and_before_the_start() {
        let verdict = |notified| judge_notice(at("10:05"), at(notified), at("10:08"));
        assert_eq!(verdict("10:06"), NoticeVerdict::InOrder);
        assert_eq!(verdict("10:05"), NoticeVerdict::BeforeRemoval);
        assert_eq!(verdict("10:08"), NoticeVerdict::AfterStart);
        assert_eq!(
            judge_notice(
                at("2026-03-01 23:58"),
                at("2026-03-01T23:59"),
                at("2026-03-02 00:02")
            ),
            NoticeVerdict::InOrder
        );
    }

    #[test]
    fn a_lock_comes_off_only_by_its_owner_or_with_every_condition() {
        let all = RemovalConditions {
            verified_absent: true,
            contact_tried: true,
            will_be_told: true,
            procedure_and_training: true,
        };
        assert_eq!(
            judge_removal("a", "a", Default::default()),
            RemovalVerdict::OwnLock
        );
        assert_eq!(judge_removal("a", "b", all), RemovalVerdict::ByException);
        for missing in [
            RemovalConditions {
                verified_absent: false,
                ..all
            },
            RemovalConditions {
                contact_tried: false,
                ..all
            },
            RemovalConditions {
                will_be_told: false,
                ..all
            },
            RemovalConditions {
                procedure_and_training: false,
                ..all
            },
        ] {
            assert_eq!(judge_removal("a", "b", missing), RemovalVerdict::Refused);
        }
    }

    #[test]
    fn a_change_of_person_leaves_no_gap() {
        let verdict = |on, off, again| judge_handover(at(on), at(off), again);
        assert_eq!(verdict("17:55", "18:00", true), HandoverVerdict::Continuous);
        assert_eq!(verdict("18:00", "18:00", true), HandoverVerdict::Continuous);
        assert_eq!(verdict("18:00", "17:55", true), HandoverVerdict::Gap);
        assert_eq!(
            verdict("17:55", "18:00", false),
            HandoverVerdict::NotVerified
        );
    }

    #[test]
    fn a_date_alone_is_no_time() {
        assert!(parse_time("2026-03-01").is_err());
        assert!(parse_time("soon").is_err());
        assert!(parse_time("25:00").is_err());
    }

    #[test]
    fn a_group_needs_a_lock_each() {
        assert_eq!(group_gate(3, 2), Gate::Closed);
        assert_eq!(group_gate(3, 3), Gate::Open);
        assert_eq!(group_gate(0, 0), Gate::Closed);
    }

    proptest! {
        #[test]
        fn only_the_given_order_is_in_order(order in Just(RELEASE_ORDER.to_vec()).prop_shuffle()) {
            prop_assert_eq!(in_order(&order, &RELEASE_ORDER), order == RELEASE_ORDER);
        }

        #[test]
        fn any_text_is_a_time_or_a_refusal(text in ".{0,20}") {
            let _ = parse_time(&text);
        }
    }
}
