//! Roles as a button carries them.

use std::collections::BTreeSet;

use crate::flow::model::Role;

/// What a button about roles does.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum RolesPress {
    /// Ask which roles.
    Ask,
    /// Show these as ticked.
    Tick(RoleChange),
    /// Give these.
    Give(RoleChange),
}

/// Which roles are ticked, over those that the person had when they were shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct RoleChange {
    /// Those that the person had; none for somebody new.
    pub shown: TickedRoles,
    /// Those that are ticked.
    pub ticked: TickedRoles,
}

impl RoleChange {
    /// Both halves of a byte; `None` if one of them is no set of roles.
    pub fn from_byte(byte: u8) -> Option<RoleChange> {
        Some(RoleChange {
            shown: TickedRoles::from_bits(byte >> 4)?,
            ticked: TickedRoles::from_bits(byte & 0xf)?,
        })
    }

    fn byte(self) -> u8 {
        (self.shown.bits() << 4) | self.ticked.bits()
    }
}

impl RolesPress {
    /// Its bytes.
    pub(super) fn bytes(self) -> Vec<u8> {
        match self {
            RolesPress::Ask => vec![1],
            RolesPress::Tick(change) => vec![2, change.byte()],
            RolesPress::Give(change) => vec![3, change.byte()],
        }
    }
}

/// A set of roles in four bits, one for each role for good.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct TickedRoles(u8);

impl TickedRoles {
    /// These roles.
    pub fn of<'a>(roles: impl IntoIterator<Item = &'a Role>) -> TickedRoles {
        TickedRoles(roles.into_iter().fold(0, |bits, role| bits | bit(*role)))
    }

    /// The bits; `None` if one of them is no role.
    pub fn from_bits(bits: u8) -> Option<TickedRoles> {
        let all = TickedRoles::of(&Role::ALL);
        (bits & !all.0 == 0).then_some(TickedRoles(bits))
    }

    /// The bits.
    pub fn bits(self) -> u8 {
        self.0
    }

    /// Whether this role is ticked.
    pub fn has(self, role: Role) -> bool {
        self.0 & bit(role) != 0
    }

    /// With this role ticked if it was not, and the other way round.
    pub fn turned(self, role: Role) -> TickedRoles {
        TickedRoles(self.0 ^ bit(role))
    }

    /// The roles.
    pub fn roles(self) -> BTreeSet<Role> {
        Role::ALL
            .into_iter()
            .filter(|role| self.has(*role))
            .collect()
    }
}

/// A bit is never given to another role.
fn bit(role: Role) -> u8 {
    match role {
        Role::Apprentice => 1,
        Role::Technician => 2,
        Role::Electrician => 4,
        Role::Supervisor => 8,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_set_of_roles_reads_back_and_nothing_else_is_one() {
        for bits in 0..=u8::MAX {
            match TickedRoles::from_bits(bits) {
                Some(ticked) => assert_eq!(TickedRoles::of(&ticked.roles()), ticked),
                None => assert!(bits > 15),
            }
        }
        let one = TickedRoles::of(&[Role::Supervisor]);
        assert!(one.turned(Role::Supervisor).roles().is_empty());
    }
}
