//! What people of a crew have shown, and who signed for it.
//!
//! The crew's flows name what there is to show. A supervisor signs, nobody for themselves. A
//! sign-off may end: a year is usual, since 29 CFR 1910.147(c)(6)(i) has the lockout procedure
//! inspected at least annually and (c)(6)(i)(C) goes through it with everybody who locks out; that
//! other things are looked at again as often is common practice, no source.

use jiff::tz::TimeZone;
use jiff::{Span, Timestamp, ToSpan};
use serde::{Deserialize, Serialize};

use super::Desk;
use super::actor::Actor;
use super::error::DeskError;
use super::floor::Work;
use super::id::CrewId;
use super::keep::{Hand, TRIES};
use super::kept_rows::{Look, Slot};
use super::screen::Named;
use super::tables::{PersonRow, Row, key as row_key, put, remove};
use crate::flow::model::{Act, Role};
use crate::flow::name::CompetenceName;
use crate::record::around::{CrewWhat, LookedAt};
use crate::record::person::PersonId;
use crate::record::sign_off::SignOff;
use crate::store::{Batch, InputKey, Table};
use crate::walk;
use crate::walk::state::Mode;

/// What somebody has shown: under the crew, the person and what it is.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub(super) struct ShownRow {
    sign_off: SignOff,
}

impl Row for ShownRow {
    const TABLE: Table = Table::named("shown");
}

/// Something that the crew's flows want shown.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CompetenceLine {
    /// Its name.
    pub name: CompetenceName,
    /// What people call it.
    pub label: String,
}

/// A sign-off, as people read it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SignOffLine {
    /// Who has shown it.
    pub person: PersonId,
    /// What.
    pub name: CompetenceName,
    /// What people call it.
    pub label: String,
    /// Who signed for it.
    pub by: Named,
    /// When.
    pub at: Timestamp,
    /// It counts until then; none if it has no end.
    pub until: Option<Timestamp>,
    /// Whether it counts now.
    pub counts: bool,
}

/// How long a sign-off counts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Lasts {
    /// For half a year.
    SixMonths,
    /// For a year, as the yearly inspection of the lockout procedure.
    OneYear,
    /// Until it is taken back.
    WithoutEnd,
}

impl Lasts {
    /// Every choice, the usual one first.
    pub const ALL: [Lasts; 3] = [Lasts::OneYear, Lasts::SixMonths, Lasts::WithoutEnd];

    /// Its word in forms.
    pub fn word(self) -> &'static str {
        match self {
            Lasts::SixMonths => "six-months",
            Lasts::OneYear => "one-year",
            Lasts::WithoutEnd => "without-end",
        }
    }

    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            Lasts::SixMonths => "six months",
            Lasts::OneYear => "one year",
            Lasts::WithoutEnd => "until it is taken back",
        }
    }

    fn until(self, now: Timestamp) -> Option<Timestamp> {
        let span: Span = match self {
            Lasts::SixMonths => 6.months(),
            Lasts::OneYear => 1.year(),
            Lasts::WithoutEnd => return None,
        };
        let until = now.to_zoned_datetime(TimeZone::UTC).checked_add(span);
        Some(until.map_or(now, |until| until.timestamp()))
    }
}

/// What the step that a job stands at needs and its holder has not shown.
#[derive(Default)]
pub(super) struct Lacking {
    /// What people call it.
    pub(super) labels: Vec<String>,
    /// Who could answer it, or stand beside the holder.
    pub(super) helpers: Vec<PersonId>,
}

impl Desk {
    /// What the flows that the crew walks today want shown, by name.
    ///
    /// # Errors
    /// When the crew's own flows cannot be read.
    pub async fn competences(&self, actor: &Actor) -> Result<Vec<CompetenceLine>, DeskError> {
        self.present(actor).await?;
        let published = self.published(actor.crew).await?;
        let mut lines: Vec<CompetenceLine> = Vec::new();
        let flows = published.library.flows().values();
        for (name, competence) in flows.flat_map(|flow| &flow.competences) {
            if lines.iter().all(|line| line.name != *name) {
                lines.push(CompetenceLine {
                    name: name.clone(),
                    label: competence.label.clone(),
                });
            }
        }
        lines.sort_by(|one, other| one.label.cmp(&other.label));
        Ok(lines)
    }

    /// Every sign-off of the crew, also those that have ended. It is written down that the actor
    /// looked.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub async fn sign_offs(&self, actor: &Actor) -> Result<Vec<SignOffLine>, DeskError> {
        self.present(actor).await?;
        self.note_look(actor, LookedAt::People).await?;
        let mut lines = Vec::new();
        for (_, row) in self.rows::<ShownRow>(actor.crew.0.as_bytes()).await? {
            lines.push(self.sign_off_line(row.sign_off).await?);
        }
        lines.sort_by(|one, other| one.label.cmp(&other.label));
        Ok(lines)
    }

    async fn sign_off_line(&self, sign_off: SignOff) -> Result<SignOffLine, DeskError> {
        Ok(SignOffLine {
            by: self.named(sign_off.by).await?,
            counts: sign_off.counts_at(self.now()),
            person: sign_off.person,
            name: sign_off.competence,
            label: sign_off.label,
            at: sign_off.at,
            until: sign_off.until,
        })
    }

    /// Signs that a person of the crew has shown something that its flows want shown. Signing
    /// again renews it.
    ///
    /// # Errors
    /// When the actor is no supervisor or that very person, or there is no such person or thing
    /// to show.
    pub async fn sign_off(
        &self,
        key: InputKey,
        actor: &Actor,
        (person, competence): (PersonId, &CompetenceName),
        lasts: Lasts,
    ) -> Result<SignOffLine, DeskError> {
        self.must_be_supervisor(actor, "sign for what somebody has shown")
            .await?;
        self.must_be_other(actor, person).await?;
        let known = self.competences(actor).await?;
        let known = known.into_iter().find(|line| line.name == *competence);
        let known = known.ok_or(DeskError::NotFound("competence"))?;
        let now = self.now();
        let sign_off = SignOff {
            competence: known.name,
            label: known.label,
            person,
            by: actor.person,
            at: now,
            until: lasts.until(now),
        };
        let what = CrewWhat::SignedOff {
            person,
            competence: sign_off.competence.clone(),
            label: sign_off.label.clone(),
            until: sign_off.until,
        };
        let place = key_of(actor.crew, person, competence);
        let row = ShownRow {
            sign_off: sign_off.clone(),
        };
        self.write_down(key, actor, (what, put(place, &row)?))
            .await?;
        self.sign_off_line(sign_off).await
    }

    /// Takes a sign-off back.
    ///
    /// # Errors
    /// When the actor is no supervisor, or there is no such sign-off.
    pub async fn withdraw_sign_off(
        &self,
        key: InputKey,
        actor: &Actor,
        (person, competence): (PersonId, &CompetenceName),
    ) -> Result<(), DeskError> {
        self.must_be_supervisor(actor, "take a sign-off back")
            .await?;
        if self.was_handled(&key).await? {
            return Ok(());
        }
        let place = key_of(actor.crew, person, competence);
        if self.row::<ShownRow>(place.clone()).await?.is_none() {
            return Err(DeskError::NotFound("sign-off"));
        }
        let what = CrewWhat::SignOffWithdrawn {
            person,
            competence: competence.clone(),
        };
        self.write_down(key, actor, (what, remove::<ShownRow>(place)))
            .await
    }

    async fn write_down(
        &self,
        key: InputKey,
        actor: &Actor,
        (what, change): (CrewWhat, crate::store::IndexChange),
    ) -> Result<(), DeskError> {
        let stream = actor.crew.stream();
        let _turn = self.inner.queues.turn(stream).await;
        for _ in 0..TRIES {
            let (expected, now) = (self.last(stream).await?, self.now());
            let mut batch = Batch::handling(key.clone(), now);
            let hand = Hand::of(actor, now);
            let append = hand.writes(stream, expected, vec![what.clone()])?;
            batch.appends.push(append);
            batch.index.push(change.clone());
            match self.keep(batch).await {
                Err(DeskError::Busy) => {}
                other => return other.map(drop),
            }
        }
        Err(DeskError::Busy)
    }

    /// Nobody signs for themselves, and only for people of the crew.
    async fn must_be_other(&self, actor: &Actor, person: PersonId) -> Result<(), DeskError> {
        let row = self.of_crew(actor.crew, person).await?;
        row.ok_or(DeskError::NotFound("person"))?;
        if person == actor.person {
            return Err(DeskError::NotAllowed(
                "Nobody signs for themselves. Show it to another supervisor, who signs.".to_owned(),
            ));
        }
        Ok(())
    }

    /// What a person of this crew has shown.
    pub(super) async fn shown_of(
        &self,
        crew: CrewId,
        person: PersonId,
    ) -> Result<Vec<SignOff>, DeskError> {
        let prefix = row_key(&[crew.0.as_bytes(), person.0.as_bytes()]);
        let reading = match self.inner.kept.look(Slot::Shown, &prefix) {
            Look::Kept(shown) => return Ok(shown),
            Look::Unknown(reading) => reading,
        };
        let rows = self.rows::<ShownRow>(&prefix).await?;
        let shown: Vec<SignOff> = rows.into_iter().map(|(_, row)| row.sign_off).collect();
        self.inner.kept.keep(&reading, prefix, shown.clone());
        Ok(shown)
    }

    /// What stands in the way of the holder of a job, as far as it has to be shown.
    pub(super) async fn lacking_at(&self, work: &Work) -> Result<Lacking, DeskError> {
        let state = &work.state;
        let here = walk::here(&work.edition, state).filter(|_| state.mode == Mode::Walking);
        let Some((flow, step)) = here.filter(|(_, step)| !step.needs_shown.is_empty()) else {
            return Ok(Lacking::default());
        };
        let needed: Vec<&CompetenceName> = step.needs_shown.iter().map(|name| &name.it).collect();
        let by = match &step.act {
            Act::Hold { role, .. } => vec![*role],
            _ => step.by.clone(),
        };
        let can = self.who_have_shown(work.crew, &needed).await?;
        if can.iter().any(|(person, _)| *person == state.holder) {
            return Ok(Lacking::default());
        }
        let label = |name: &&CompetenceName| Some(flow.competences.get(*name)?.label.clone());
        let fits =
            |row: &PersonRow| by.is_empty() || by.iter().any(|role| row.roles.contains(role));
        Ok(Lacking {
            labels: needed.iter().filter_map(label).collect(),
            helpers: can
                .into_iter()
                .filter(|(_, row)| fits(row))
                .map(|(person, _)| person)
                .collect(),
        })
    }

    /// The people of the crew who have shown all of this, and may be left to it or help with it.
    pub(super) async fn who_have_shown(
        &self,
        crew: CrewId,
        needed: &[&CompetenceName],
    ) -> Result<Vec<(PersonId, PersonRow)>, DeskError> {
        let now = self.now();
        let mut people = Vec::new();
        for (person, row) in self.crew_people(crew).await? {
            let shown = self.shown_of(crew, person).await?;
            let has = |name: &&CompetenceName| {
                let mut signed = shown.iter();
                signed.any(|signed| signed.competence == **name && signed.counts_at(now))
            };
            if needed.iter().all(has) {
                people.push((person, row));
            }
        }
        Ok(people)
    }

    /// Who could help somebody who has not shown this, in one sentence for the screen.
    pub(super) async fn help_with(
        &self,
        actor: &Actor,
        needed: &[CompetenceName],
    ) -> Result<String, DeskError> {
        let needed: Vec<&CompetenceName> = needed.iter().collect();
        let mut names = Vec::new();
        for (person, row) in self.who_have_shown(actor.crew, &needed).await? {
            let is_trained = row.roles.iter().any(|role| *role != Role::Apprentice);
            if is_trained && person != actor.person {
                names.push(self.name_of(person).await?);
            }
        }
        names.sort();
        Ok(match names.is_empty() {
            true => "Nobody else of your crew is signed off for it. A supervisor signs, under \
                     “People”."
                .to_owned(),
            false => format!(
                "Signed off for it: {}. They answer here or stand beside you.",
                names.join(", ")
            ),
        })
    }
}

fn key_of(crew: CrewId, person: PersonId, competence: &CompetenceName) -> Vec<u8> {
    let name = competence.as_str().as_bytes();
    row_key(&[crew.0.as_bytes(), person.0.as_bytes(), name])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sign_off_ends_on_the_same_day_of_a_later_month() {
        let now: Timestamp = "2028-02-29T10:00:00Z".parse().unwrap();
        let ends = |lasts: Lasts| lasts.until(now).map(|until| until.to_string());
        assert_eq!(ends(Lasts::OneYear).unwrap(), "2029-02-28T10:00:00Z");
        assert_eq!(ends(Lasts::SixMonths).unwrap(), "2028-08-29T10:00:00Z");
        assert_eq!(ends(Lasts::WithoutEnd), None);
    }
}
