//! A reminder on its last way: whether it is still to be told, and what it says by now.

use jiff::Timestamp;

use super::matter::{Waiting, waiting};
use super::rows::{Of, SentRow};
use super::{Standing, wording};
use crate::desk::Desk;
use crate::desk::error::DeskError;
use crate::desk::floor::Work;
use crate::desk::hours::Hours;
use crate::desk::notice::{About, Notice, NoticeLine, Outgoing};
use crate::desk::tables::PersonRow;
use crate::record::person::PersonId;

/// What becomes of a notice whose turn it is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Turn {
    /// It is told, in these words.
    Told(Notice),
    /// Its person wants quiet until then.
    Later(Timestamp),
    /// What it is about is done.
    Needless,
}

/// One matter of a job at hand.
pub(super) struct Case {
    pub(super) work: Work,
    pub(super) waiting: Waiting,
    evaporator: String,
    holder: String,
    nobody_to_review: bool,
}

impl Desk {
    /// What becomes of a notice that is about to be sent. It may have waited long: a reminder of
    /// what is done by now, or of the night, is worse than none. Everything else is told as it is.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub async fn turn_of(&self, outgoing: &Outgoing) -> Result<Turn, DeskError> {
        let notice = &outgoing.notice;
        if notice.about != About::Reminder {
            return Ok(Turn::Told(notice.clone()));
        }
        let Some(person) = self.row::<PersonRow>(notice.to.0).await? else {
            return Ok(Turn::Needless);
        };
        let hours = self.hours_of(person.crew, notice.to).await?;
        let now = self.now();
        if hours.are_quiet(now) {
            return Ok(Turn::Later(hours.open_at(now)));
        }
        let by_now = self.by_now(notice).await?;
        Ok(by_now.map_or(Turn::Needless, Turn::Told))
    }

    /// What a notice says by now; none for a reminder of what is done.
    pub(in crate::desk) async fn by_now(
        &self,
        notice: &Notice,
    ) -> Result<Option<Notice>, DeskError> {
        if notice.about != About::Reminder {
            return self.with_names(notice.clone()).await.map(Some);
        }
        let Some(person) = self.row::<PersonRow>(notice.to.0).await? else {
            return Ok(None);
        };
        let sent = self.row::<SentRow>(notice.to.0).await?.unwrap_or_default();
        let cases = self.cases(notice.to, &sent.of).await?;
        let hours = self.hours_of(person.crew, notice.to).await?;
        Ok(written(notice.to, &cases, &hours))
    }

    /// Those of these matters that still wait for this person, the most pressing first.
    pub(super) async fn cases(&self, person: PersonId, of: &[Of]) -> Result<Vec<Case>, DeskError> {
        let mut cases = Vec::new();
        for of in of {
            cases.extend(self.case(person, of).await?);
        }
        cases.sort_by_key(|case| (case.waiting.matter.kind(), case.waiting.since));
        Ok(cases)
    }

    async fn case(&self, person: PersonId, of: &Of) -> Result<Option<Case>, DeskError> {
        let Some(work) = self.work_if_whole(of.job).await? else {
            return Ok(None);
        };
        let all = waiting(&work.edition, &work.state);
        let same =
            |waiting: &Waiting| (waiting.matter.kind(), waiting.since) == (of.kind, of.since);
        let Some(waiting) = all.into_iter().find(same) else {
            return Ok(None);
        };
        if self.standing(&work, &waiting).await? != Standing::Waits {
            return Ok(None);
        }
        let overdue = waiting.overdue(&self.crew_clocks(work.crew).await?);
        let people = self.waited_for(&work, &waiting.matter, overdue).await?;
        if people.iter().all(|(other, _)| *other != person) {
            return Ok(None);
        }
        let state = &work.state;
        Ok(Some(Case {
            evaporator: self.evaporator_label(work.evaporator).await?.line(),
            holder: self.name_of(state.holder).await?,
            nobody_to_review: !self.has_reviewer(work.crew, &state.holders).await?,
            waiting,
            work,
        }))
    }
}

/// The reminder of these matters; none if there are none.
pub(super) fn written(to: PersonId, cases: &[Case], hours: &Hours) -> Option<Notice> {
    let first = cases.first()?;
    let lines = cases.iter().map(|case| wording::Line {
        evaporator: &case.evaporator,
        matter: &case.waiting.matter,
        since: case.waiting.since,
        holder: (case.work.state.holder != to).then_some(case.holder.as_str()),
        nobody_to_review: case.nobody_to_review,
    });
    let lines: Vec<wording::Line<'_>> = lines.collect();
    let (sentence, each) = wording::message(&lines, &hours.zone);
    let each = cases.iter().zip(each).map(|(case, sentence)| NoticeLine {
        job: case.work.job,
        sentence,
    });
    Some(Notice {
        to,
        about: About::Reminder,
        job: Some(first.work.job),
        revision: first.work.state.revision,
        sentence,
        lines: each.collect(),
        people: Vec::new(),
        show_screen: false,
    })
}
