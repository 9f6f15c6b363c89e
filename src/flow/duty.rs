//! What the rules call a step: its part in lockout, and what it does to leads.

/// A part of lockout and of the way back to service that is words and looks, not switches: its
/// paragraph in 29 CFR 1910.147 stands beside it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Duty {
    /// The affected people are told, before the locks go on and after they came off: (c)(9),
    /// (e)(2)(ii).
    TellAffected,
    /// The machine is shut down in good order: (d)(2).
    ShutDown,
    /// Something is put across a stored charge to drain it: (d)(5)(i).
    DrainCharge,
    /// What can build up again is measured again after a rest: (d)(5)(ii).
    LookAgain,
    /// Tools and scraps are out, the machine is whole: (e)(1).
    Inspect,
    /// Everybody is clear: (e)(2)(i).
    ClearPeople,
}

/// What a step does to line-voltage leads.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Leads {
    /// They are cut or parted at a joint.
    Cut,
    /// They are joined.
    Joined,
    /// They stay as they are: the licensed person does other work here.
    Kept,
}
