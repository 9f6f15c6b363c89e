//! Who looked at what names people.
//!
//! A look is at a whole list of people, at a job's record (its checklist, its readings and photos,
//! the file of it) or at the list of looks. The screens of work, which name whoever holds a job,
//! are none. A look is written into the stream of the person who looks, before they are shown
//! anything, once for the hour and the thing: so looking again costs no writing.

use jiff::Timestamp;

use super::Desk;
use super::actor::Actor;
use super::error::DeskError;
use super::id::JobId;
use super::keep::Hand;
use super::screen::Named;
use super::tables::{LookRow, key as row_key, latest_first, put, read};
use crate::record::around::{LookedAt, PersonWhat};
use crate::record::entry::Channel;
use crate::store::{Cursor, InputKey, Page};

/// So many looks are on one page.
pub const LOOKS_A_PAGE: usize = 50;

/// One look.
#[derive(Clone, Debug, PartialEq)]
pub struct LookLine {
    /// When, for the first time in that hour.
    pub at: Timestamp,
    /// Who.
    pub who: Named,
    /// Through which channel.
    pub channel: Channel,
    /// At what.
    pub looked: LookedAt,
    /// At which job's evaporator, if it was a job's record.
    pub evaporator: Option<String>,
}

impl Desk {
    /// Writes down that the actor looks at something.
    pub(super) async fn note_look(&self, actor: &Actor, looked: LookedAt) -> Result<(), DeskError> {
        let now = self.now();
        let person = actor.person;
        let hour = now.as_second().div_euclid(60 * 60);
        let thing = match looked {
            LookedAt::People => "people".to_owned(),
            LookedAt::Record { job } => format!("record:{job}"),
            LookedAt::Looks => "looks".to_owned(),
        };
        let key = InputKey(format!("look:{}:{thing}:{hour}", person.0));
        if self.store().handled(key.clone(), now).await? {
            return Ok(());
        }
        let row = LookRow {
            at: now,
            who: person,
            looked,
            channel: actor.channel,
        };
        let of_job = match looked {
            LookedAt::Record { job } => job,
            LookedAt::People | LookedAt::Looks => uuid::Uuid::nil(),
        };
        let crew = actor.crew.0.as_bytes();
        let (at, who) = (latest_first(now), person.0.as_bytes());
        let listed = row_key(&[crew, &at, who, of_job.as_bytes()]);
        let what = PersonWhat::Looked { at: looked };
        let index = vec![put(listed, &row)?];
        let hand = Hand::of(actor, now);
        self.note_by(key, hand, person, (what, index))
            .await
            .map(drop)
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
                LookedAt::People | LookedAt::Looks => None,
            };
            lines.push(LookLine {
                at: row.at,
                who: self.named(row.who).await?,
                channel: row.channel,
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
