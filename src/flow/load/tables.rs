//! The closed lists of words that the loader takes; the schema of flows is made from them too.

use super::super::heading::Heading;
use super::super::model::{Duty, Leads, Setting, SourceKind, Stays};

/// The keys that name a step's kind.
pub(in crate::flow) const KINDS: &[&str] = &[
    "tell",
    "confirm",
    "choose",
    "measure",
    "photo",
    "write",
    "wait",
    "work_out",
    "prove_dead",
    "hold",
    "run",
    "finish",
];

/// The keys that say what a fact holds.
pub(in crate::flow) const FACT_TYPES: &[&str] = &[
    "one_of", "some_of", "measures", "counts", "number", "text", "photo",
];

/// As what a fact stays known of the evaporator.
pub(in crate::flow) const STAYS: &[(&str, Stays)] =
    &[("nameplate", Stays::Nameplate), ("setting", Stays::Setting)];

/// The words of `first_page`.
pub(in crate::flow) const HEADINGS: &[(&str, Heading)] = &[
    ("found", Heading::Found),
    ("done", Heading::Done),
    ("gained", Heading::Gained),
    ("open", Heading::Open),
];

/// The kinds of energy sources.
pub(in crate::flow) const SOURCE_KINDS: &[(&str, SourceKind)] = &[
    ("electrical", SourceKind::Electrical),
    ("charge", SourceKind::Charge),
    ("motion", SourceKind::Motion),
];

/// What a step may set on one kind of source: the words and what they mean.
pub(in crate::flow) type Ladder = &'static [(&'static str, Setting)];

/// What a step may set on a source, by its kind.
pub(in crate::flow) const LADDERS: &[(SourceKind, Ladder)] = &[
    (
        SourceKind::Electrical,
        &[
            ("opened", Setting::Opened),
            ("locked", Setting::Locked),
            ("unlocked", Setting::Unlocked),
            ("closed", Setting::Closed),
        ],
    ),
    (SourceKind::Charge, &[("waited", Setting::Waited)]),
    (
        SourceKind::Motion,
        &[
            ("stopped", Setting::Stopped),
            ("blocked", Setting::Blocked),
            ("freed", Setting::Freed),
        ],
    ),
];

/// The words of `duty`.
pub(in crate::flow) const DUTIES: &[(&str, Duty)] = &[
    ("tell_affected", Duty::TellAffected),
    ("shut_down", Duty::ShutDown),
    ("drain_charge", Duty::DrainCharge),
    ("look_again", Duty::LookAgain),
    ("inspect", Duty::Inspect),
    ("clear_people", Duty::ClearPeople),
];

/// The words of `leads`.
pub(in crate::flow) const LEADS: &[(&str, Leads)] = &[
    ("cut", Leads::Cut),
    ("joined", Leads::Joined),
    ("kept", Leads::Kept),
];
