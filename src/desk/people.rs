//! The people of a crew, their roles and names.

use std::collections::BTreeSet;

use super::Desk;
use super::actor::Actor;
use super::error::DeskError;
use super::id::CrewId;
use super::identity::shown_name;
use super::keep::{Hand, TRIES};
use super::screen::Named;
use super::tables::{PersonRow, key as row_key, list, put};
use crate::flow::model::Role;
use crate::record::around::{CrewWhat, LookedAt};
use crate::record::person::PersonId;
use crate::store::{Batch, IndexChange, InputKey};

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
    /// Everybody of the actor's crew, by name. It is written down that the actor looked.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub async fn people(&self, actor: &Actor) -> Result<Vec<PersonLine>, DeskError> {
        self.present(actor).await?;
        self.note_look(actor, LookedAt::People).await?;
        self.everybody(actor).await
    }

    /// Whether nobody else is of the actor's crew.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub async fn is_alone(&self, actor: &Actor) -> Result<bool, DeskError> {
        self.present(actor).await?;
        Ok(self.crew_people(actor.crew).await?.len() == 1)
    }

    async fn everybody(&self, actor: &Actor) -> Result<Vec<PersonLine>, DeskError> {
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

    /// The others who are still of the actor's crew, by name: whom a job can be handed over to.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub async fn colleagues(&self, actor: &Actor) -> Result<Vec<PersonLine>, DeskError> {
        self.present(actor).await?;
        let mut people = self.everybody(actor).await?;
        people.retain(|line| line.person != actor.person && !line.roles.is_empty());
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
        self.roles_over(key, actor, person, (None, roles)).await
    }

    /// The same by somebody who was shown the person's roles as they were, and only over these:
    /// an old screen gives back no role that was taken meanwhile.
    ///
    /// # Errors
    /// As [`Desk::set_roles`], and when the person has other roles by now.
    pub async fn change_roles(
        &self,
        key: InputKey,
        actor: &Actor,
        person: PersonId,
        (shown, roles): (BTreeSet<Role>, BTreeSet<Role>),
    ) -> Result<PersonLine, DeskError> {
        let over = (Some(shown), roles);
        self.roles_over(key, actor, person, over).await
    }

    async fn roles_over(
        &self,
        key: InputKey,
        actor: &Actor,
        person: PersonId,
        (shown, roles): (Option<BTreeSet<Role>>, BTreeSet<Role>),
    ) -> Result<PersonLine, DeskError> {
        let name = self.name_of(person).await?;
        let _turn = self.inner.queues.turn(actor.crew.stream()).await;
        for _ in 0..TRIES {
            let stream = actor.crew.stream();
            let expected = self.last(stream).await?;
            self.must_be_supervisor(actor, "change roles").await?;
            let row = self.row::<PersonRow>(person.0).await?;
            let Some(row) = row.filter(|row| row.crew == actor.crew) else {
                return Err(DeskError::NotFound("person"));
            };
            self.stays_supervised(actor.crew, person, &roles).await?;
            let now = self.now();
            if shown.as_ref().is_some_and(|shown| *shown != row.roles)
                && !self.store().handled(key.clone(), now).await?
            {
                return Err(DeskError::NotUnderstood(format!(
                    "The roles of {name} changed since they were shown. Look at them again, then \
                     set them."
                )));
            }
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
            let moved = role_moves(actor.crew, person, &row.roles, &roles);
            batch.index.extend(moved);
            // Whoever may do less than before signs in again; a page that is open shows at once
            // what changed. Nobody is put out by their own hand.
            if !row.roles.is_subset(&roles) && person != actor.person {
                batch.index.extend(self.all_sessions_gone(person).await?);
            }
            if roles.is_empty() {
                batch.index.extend(self.password_gone(person).await?);
            }
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

    /// Refuses roles for a person that would leave the crew without a supervisor.
    async fn stays_supervised(
        &self,
        crew: CrewId,
        person: PersonId,
        roles: &BTreeSet<Role>,
    ) -> Result<(), DeskError> {
        let supervisors = self.in_role(crew, Role::Supervisor).await?;
        let is_other = |other: &PersonId| *other != person;
        if roles.contains(&Role::Supervisor) || supervisors.iter().any(is_other) {
            return Ok(());
        }
        Err(DeskError::NotAllowed(
            "A crew needs a supervisor. Make somebody else a supervisor first.".to_owned(),
        ))
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

    /// The people who left the actor's crew and whose names are still kept, by name.
    ///
    /// # Errors
    /// When the actor is no supervisor.
    pub async fn who_left(&self, actor: &Actor) -> Result<Vec<Named>, DeskError> {
        self.must_be_supervisor(actor, "see who left the crew")
            .await?;
        let mut left = Vec::new();
        for id in self
            .listed(list::CREW_PEOPLE, actor.crew.0.as_bytes())
            .await?
        {
            let row = self.row::<PersonRow>(id).await?;
            if row.is_none_or(|row| row.crew != actor.crew || !row.roles.is_empty()) {
                continue;
            }
            let name = self.store().name(id).await?;
            let person = PersonId(id);
            left.extend(name.map(|name| Named { person, name }));
        }
        left.sort_by(|a, b| (&a.name, a.person).cmp(&(&b.name, b.person)));
        Ok(left)
    }

    /// The people of a crew who did not leave.
    pub(super) async fn crew_people(
        &self,
        crew: CrewId,
    ) -> Result<Vec<(PersonId, PersonRow)>, DeskError> {
        let mut people = Vec::new();
        for id in self.listed(list::CREW_PEOPLE, crew.0.as_bytes()).await? {
            let person = PersonId(id);
            let row = self.of_crew(crew, person).await?;
            people.extend(row.map(|row| (person, row)));
        }
        Ok(people)
    }

    /// The people of a crew in this role.
    pub(super) async fn in_role(
        &self,
        crew: CrewId,
        role: Role,
    ) -> Result<Vec<PersonId>, DeskError> {
        let prefix = row_key(&[crew.0.as_bytes(), &[role_code(role)]]);
        let people = self.listed(list::CREW_ROLES, &prefix).await?;
        Ok(people.into_iter().map(PersonId).collect())
    }
}

/// The changes that bring the lists of a crew from one set of a person's roles to the next.
pub(super) fn role_moves(
    crew: CrewId,
    person: PersonId,
    before: &BTreeSet<Role>,
    after: &BTreeSet<Role>,
) -> Vec<IndexChange> {
    let key = |role: &Role| row_key(&[crew.0.as_bytes(), &[role_code(*role)], person.0.as_bytes()]);
    let gone = before.difference(after);
    let gone = gone.map(|role| IndexChange::remove(list::CREW_ROLES, key(role)));
    let new = after.difference(before);
    let new = new.map(|role| IndexChange::put(list::CREW_ROLES, key(role), []));
    gone.chain(new).collect()
}

/// One stable byte for keys; a code is never given to another role.
fn role_code(role: Role) -> u8 {
    match role {
        Role::Apprentice => 1,
        Role::Technician => 2,
        Role::Electrician => 3,
        Role::Supervisor => 4,
    }
}
