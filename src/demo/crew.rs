//! The people of the demo.

use std::collections::BTreeSet;

use crate::desk::{Actor, ChannelAddress, Desk, DeskError};
use crate::flow::model::Role;
use crate::store::InputKey;

/// The people, the supervisor first.
pub(super) struct Crew {
    pub(super) supervisor: Actor,
    pub(super) electrician: Actor,
    pub(super) technician: Actor,
    pub(super) apprentice: Actor,
}

/// Account, invented name and roles, the supervisor first.
const PEOPLE: [(&str, &str, &[Role]); 4] = [
    ("supervisor", "Sunny Supervisor", &[Role::Supervisor]),
    ("electrician", "Elmo Electrician", &[Role::Electrician]),
    ("technician", "Tilly Technician", &[Role::Technician]),
    ("apprentice", "Arlo Apprentice", &[Role::Apprentice]),
];

impl Crew {
    /// Everybody with the word for what they are, in the order in which somebody learns it.
    pub(super) fn everybody(&self) -> [(&'static str, &Actor); 4] {
        [
            ("apprentice", &self.apprentice),
            ("technician", &self.technician),
            ("electrician", &self.electrician),
            ("supervisor", &self.supervisor),
        ]
    }

    /// Somebody with one of these roles.
    pub(super) fn with(&self, roles: &[Role]) -> Option<&Actor> {
        let mut everybody = self.everybody().into_iter().map(|(_, actor)| actor);
        everybody.find(|actor| roles.iter().any(|role| actor.is(*role)))
    }

    fn of(actors: Vec<Actor>) -> Option<Crew> {
        let mut actors = actors.into_iter();
        Some(Crew {
            supervisor: actors.next()?,
            electrician: actors.next()?,
            technician: actors.next()?,
            apprentice: actors.next()?,
        })
    }
}

/// Where the people of the demo speak from while it is made.
fn address(account: &str) -> ChannelAddress {
    ChannelAddress::Terminal {
        account: format!("demo {account}"),
    }
}

/// The crew, if it was founded.
pub(super) async fn find(desk: &Desk) -> Result<Option<Crew>, DeskError> {
    let mut actors = Vec::new();
    for (account, _, _) in PEOPLE {
        actors.extend(desk.who_is(&address(account)).await?);
    }
    Ok(Crew::of(actors))
}

/// Founds the crew.
pub(super) async fn found(desk: &Desk) -> Result<Crew, DeskError> {
    let mut actors: Vec<Actor> = Vec::new();
    for (account, name, roles) in PEOPLE {
        let code = match actors.first() {
            None => desk.invite_new_crew().await?.code,
            Some(supervisor) => {
                let roles: BTreeSet<Role> = roles.iter().copied().collect();
                desk.invite(supervisor, roles).await?.code
            }
        };
        let key = InputKey(format!("demo:join:{account}"));
        actors.push(desk.join(key, &code, name, &address(account)).await?);
    }
    Crew::of(actors).ok_or(DeskError::NotFound("person"))
}
