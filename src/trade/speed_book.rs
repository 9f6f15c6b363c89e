//! The crew's own table of evaporator models and the speed or air flow they need.

/// A crew's speed book, as its file lists it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct SpeedBook {}
