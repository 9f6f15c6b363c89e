//! Who looked at what names people.
//!
//! A look is at a whole list of people or jobs, at an evaporator with the people of its jobs, at a
//! job's record (its checklist, its readings and photos, the file of it) or at the list of looks.
//! The screens of work, which name whoever holds a job, are none. A look is written into the
//! stream of the person who looks, or into the crew's if it is the operator, before they are shown
//! anything, once for the hour, the channel and the thing: so looking again costs no writing.

use jiff::Timestamp;
use uuid::Uuid;

use super::Desk;
use super::actor::Actor;
use super::error::DeskError;
use super::id::{CrewId, EvaporatorId, JobId};
use super::keep::{Hand, TRIES};
use super::screen::Named;
use super::tables::{LookRow, key as row_key, latest_first, put, read};
use crate::record::around::{CrewWhat, LookedAt, PersonWhat};
use crate::record::entry::Channel;
use crate::store::{Batch, Cursor, IndexChange, InputKey, Page};

/// So many looks are on one page.
pub const LOOKS_A_PAGE: usize = 50;

/// One look.
#[derive(Clone, Debug, PartialEq)]
pub struct LookLine {
    /// When, for the first time in that hour.
    pub at: Timestamp,
    /// Who; none is the operator of the server.
    pub who: Option<Named>,
    /// Through which channel.
    pub channel: Channel,
    /// What the token is for through which it came, if it was another program.
    pub program: Option<String>,
    /// At what.
    pub looked: LookedAt,
    /// At which evaporator, or at the record of a job on which one.
    pub evaporator: Option<String>,
}

impl Desk {
    /// Writes down that the actor looks at something.
    pub(super) async fn note_look(&self, actor: &Actor, looked: LookedAt) -> Result<(), DeskError> {
        let (now, person) = (self.now(), actor.person);
        let through = match actor.token {
            Some(token) => token.to_string(),
            None => format!("{:?}", actor.channel),
        };
        let key = key_of(&format!("{}:{through}", person.0), looked, now);
        if self.store().handled(key.clone(), now).await? {
            return Ok(());
        }
        let program = match actor.token {
            Some(token) => self.what_for(actor.crew, token).await?,
            None => None,
        };
        let row = LookRow {
            at: now,
            who: Some(person),
            looked,
            channel: actor.channel,
            program,
        };
        let index = vec![listed(actor.crew, &row, actor.token)?];
        let what = PersonWhat::Looked { at: looked };
        let hand = Hand::of(actor, now);
        self.note_by(key, hand, person, (what, index))
            .await
            .map(drop)
    }

    /// Writes down that the operator looks at something of a crew.
    pub(super) async fn note_operators_look(
        &self,
        crew: CrewId,
        looked: LookedAt,
    ) -> Result<(), DeskError> {
        let now = self.now();
        let key = key_of(&format!("operator:{}", crew.0), looked, now);
        if self.store().handled(key.clone(), now).await? {
            return Ok(());
        }
        let row = LookRow {
            at: now,
            who: None,
            looked,
            channel: Channel::Server,
            program: None,
        };
        let index = listed(crew, &row, None)?;
        let _turn = self.inner.queues.turn(crew.stream()).await;
        for _ in 0..TRIES {
            let mut batch = Batch::handling(key.clone(), now);
            let expected = self.last(crew.stream()).await?;
            let what = CrewWhat::OperatorLooked { at: looked };
            let entry = Hand::server(now).writes(crew.stream(), expected, vec![what])?;
            batch.appends.push(entry);
            batch.index.push(index.clone());
            match self.keep(batch).await {
                Err(DeskError::Busy) => {}
                other => return other.map(drop),
            }
        }
        Err(DeskError::Busy)
    }

    /// Who of the crew looked at what, the latest first, [`LOOKS_A_PAGE`] a page. Looking at this
    /// is a look, too.
    ///
    /// # Errors
    /// When the actor is no supervisor, or the cursor is not of this list.
    pub async fn who_looked(
        &self,
        actor: &Actor,
        after: Option<Cursor>,
    ) -> Result<Page<LookLine>, DeskError> {
        self.must_be_supervisor(actor, "see who looked at what")
            .await?;
        self.note_look(actor, LookedAt::Looks).await?;
        let prefix = actor.crew.0.as_bytes().to_vec();
        let table = <LookRow as super::tables::Row>::TABLE;
        let page = self
            .store()
            .scan(table, prefix, after, LOOKS_A_PAGE)
            .await?;
        let mut lines = Vec::new();
        for item in page.items {
            let row: LookRow = read(&item.value)?;
            let evaporator = match row.looked {
                LookedAt::Record { job } => self.line_of_job(JobId(job)).await?,
                LookedAt::Evaporator { evaporator } => {
                    let label = self.evaporator_label(EvaporatorId(evaporator)).await?;
                    Some(label.line())
                }
                LookedAt::People | LookedAt::Looks | LookedAt::Jobs => None,
            };
            let who = match row.who {
                Some(person) => Some(self.named(person).await?),
                None => None,
            };
            lines.push(LookLine {
                at: row.at,
                who,
                channel: row.channel,
                program: row.program,
                looked: row.looked,
                evaporator,
            });
        }
        Ok(Page {
            items: lines,
            next: page.next,
        })
    }

    async fn line_of_job(&self, job: JobId) -> Result<Option<String>, DeskError> {
        let Some(card) = self.row::<super::card::CardRow>(job.0).await? else {
            return Ok(None);
        };
        let label = self.evaporator_label(card.evaporator).await?;
        Ok(Some(label.line()))
    }
}

/// The key of a look: one for the hour, whoever looks and the thing.
fn key_of(who: &str, looked: LookedAt, now: Timestamp) -> InputKey {
    let hour = now.as_second().div_euclid(60 * 60);
    let thing = match looked {
        LookedAt::People => "people".to_owned(),
        LookedAt::Record { job } => format!("record:{job}"),
        LookedAt::Looks => "looks".to_owned(),
        LookedAt::Evaporator { evaporator } => format!("evaporator:{evaporator}"),
        LookedAt::Jobs => "jobs".to_owned(),
    };
    InputKey(format!("look:{who}:{thing}:{hour}"))
}

/// The change that lists a look among those at things of its crew.
fn listed(crew: CrewId, row: &LookRow, token: Option<Uuid>) -> Result<IndexChange, DeskError> {
    let at_thing = match row.looked {
        LookedAt::Record { job } => job,
        LookedAt::Evaporator { evaporator } => evaporator,
        LookedAt::People => Uuid::nil(),
        LookedAt::Looks => Uuid::from_u128(1),
        LookedAt::Jobs => Uuid::from_u128(2),
    };
    let who = row.who.map_or(Uuid::nil(), |person| person.0);
    let key = row_key(&[
        crew.0.as_bytes(),
        &latest_first(row.at),
        who.as_bytes(),
        at_thing.as_bytes(),
        token.unwrap_or_default().as_bytes(),
    ]);
    put(key, row)
}
