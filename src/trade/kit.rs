//! The replacement assemblies that a crew carries.

/// A crew's replacement assemblies, as its kit file lists them.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Kit {}
