//! The people of a crew, their roles and names.

use std::collections::BTreeSet;

use super::Desk;
use super::actor::Actor;
use super::error::DeskError;
use super::identity::shown_name;
use super::keep::{Hand, TRIES};
use super::tables::{PersonRow, put};
use crate::flow::model::Role;
use crate::record::around::CrewWhat;
use crate::record::person::PersonId;
use crate::store::{Batch, InputKey};

/// One person of a crew.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PersonLine {
    /// Who.
    pub person: PersonId,
    /// The name to show.
    pub name: String,
    /// Their roles; none means that they left.
    pub roles: BTreeSet<Role>,
}

impl Desk {
    /// Everybody of the actor's crew, by name.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub async fn people(&self, actor: &Actor) -> Result<Vec<PersonLine>, DeskError> {
        self.present(actor).await?;
        let mut people = Vec::new();
        for (person, row) in self.crew_people(actor.crew).await? {
            let name = self.name_of(person).await?;
            people.push(PersonLine {
                person,
                name,
                roles: row.roles,
            });
        }
        people.sort_by(|a, b| (&a.name, a.person).cmp(&(&b.name, b.person)));
        Ok(people)
    }

    /// Gives a person of the crew exactly these roles; none takes them off the crew. What they
    /// hold stays theirs until it is taken over.
    ///
    /// # Errors
    /// When the actor is no supervisor, the person is not of the crew, or the crew would be left
    /// without a supervisor.
    pub async fn set_roles(
        &self,
        key: InputKey,
        actor: &Actor,
        person: PersonId,
        roles: BTreeSet<Role>,
    ) -> Result<PersonLine, DeskError> {
        let name = self.name_of(person).await?;
        for _ in 0..TRIES {
            let stream = actor.crew.stream();
            let expected = self.last(stream).await?;
            self.must_be_supervisor(actor, "change roles").await?;
            let people = self.crew_people(actor.crew).await?;
            let row = self.row::<PersonRow>(person.0).await?;
            let Some(row) = row.filter(|row| row.crew == actor.crew) else {
                return Err(DeskError::NotFound("person"));
            };
            let others = people.iter().filter(|(other, _)| *other != person);
            let supervised = roles.contains(&Role::Supervisor)
                || others
                    .into_iter()
                    .any(|(_, row)| row.roles.contains(&Role::Supervisor));
            if !supervised {
                return Err(DeskError::NotAllowed(
                    "A crew needs a supervisor. Make somebody else a supervisor first.".to_owned(),
                ));
            }
            let now = self.now();
            let what = CrewWhat::RolesSet {
                person,
                roles: roles.clone(),
            };
            let mut batch = Batch::handling(key.clone(), now);
            batch
                .appends
                .push(Hand::of(actor, now).writes(stream, expected, vec![what])?);
            batch.index.push(put(
                person.0,
                &PersonRow {
                    roles: roles.clone(),
                    crew: row.crew,
                },
            )?);
            match self.keep(batch).await {
                Err(DeskError::Busy) => {}
                other => {
                    return other.map(|_| PersonLine {
                        person,
                        name,
                        roles,
                    });
                }
            }
        }
        Err(DeskError::Busy)
    }

    /// Changes the actor's own name to show.
    ///
    /// # Errors
    /// When the name is empty or too long.
    pub async fn rename(&self, actor: &Actor, name: &str) -> Result<(), DeskError> {
        self.present(actor).await?;
        Ok(self
            .store()
            .set_name(actor.person.0, shown_name(name)?)
            .await?)
    }

    /// Erases a person's name from the disk: the actor's own, or anybody's of the crew by a
    /// supervisor. The record keeps the person's number.
    ///
    /// # Errors
    /// When the actor may not, or the person is not of the crew.
    pub async fn erase_name(&self, actor: &Actor, person: PersonId) -> Result<(), DeskError> {
        if actor.person != person {
            self.must_be_supervisor(actor, "erase another person's name")
                .await?;
            let row = self.row::<PersonRow>(person.0).await?;
            if row.is_none_or(|row| row.crew != actor.crew) {
                return Err(DeskError::NotFound("person"));
            }
        }
        self.store().erase_name(person.0).await?;
        Ok(())
    }
}
