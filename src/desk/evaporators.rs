//! The equipment of a crew.

use jiff::Timestamp;
use uuid::Uuid;

use super::Desk;
use super::actor::Actor;
use super::chance::new_id;
use super::error::DeskError;
use super::finds::listed_evaporator;
use super::id::{CrewId, EvaporatorId, JobId};
use super::identity::on_one_line;
use super::keep::{Hand, Kept, TRIES};
use super::labels::{code_typed, short_code};
use super::lists::JOBS_A_PAGE;
use super::noted::Remembered;
use super::screen::{EvaporatorLabel, EvaporatorPage};
use super::tables::{EvaporatorRow, MadeRow, id_at_end, key as row_key, list, put};
use crate::record::around::{CrewWhat, EvaporatorWhat, LookedAt};
use crate::record::stream::Seq;
use crate::store::{Batch, Cursor, IndexChange, InputKey};

/// The most characters of a site, a tag or a place.
pub const LABEL_CHARACTERS_MAX: usize = 80;

/// What is known of an evaporator when it is added.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NewEvaporator {
    /// Where: the shop, the building. Needed.
    pub site: String,
    /// What is written on it; may be empty.
    pub tag: String,
    /// Where it hangs: the box, the wall; may be empty.
    pub hangs: String,
}

impl Desk {
    /// Adds an evaporator; the same input twice adds it once.
    ///
    /// # Errors
    /// When a text is missing or too long.
    pub async fn add_evaporator(
        &self,
        key: InputKey,
        actor: &Actor,
        new: NewEvaporator,
    ) -> Result<EvaporatorLabel, DeskError> {
        self.present(actor).await?;
        let new = tidy(&new)?;
        let _turn = self.inner.queues.turn(actor.crew.stream()).await;
        for _ in 0..TRIES {
            if let Some(made) = self.row::<MadeRow>(key.0.as_bytes()).await? {
                return self.evaporator_label(EvaporatorId(made.id)).await;
            }
            let now = self.now();
            let id = EvaporatorId(new_id(self.inner.parts.chance.as_ref(), now)?);
            let mut batch = Batch::handling(key.clone(), now);
            self.write_evaporator(&mut batch, actor, id, &new).await?;
            match self.keep(batch).await {
                Ok(Kept::Fresh) => return Ok(label(id, row(actor.crew, &new, now))),
                // Another delivery of the same input was faster: its id is found next time.
                Ok(Kept::Before) | Err(DeskError::Busy) => {}
                Err(error) => return Err(error),
            }
        }
        Err(DeskError::Busy)
    }

    async fn write_evaporator(
        &self,
        batch: &mut Batch,
        actor: &Actor,
        id: EvaporatorId,
        new: &NewEvaporator,
    ) -> Result<(), DeskError> {
        let crew = actor.crew;
        let hand = Hand::of(actor, batch.at);
        let added = EvaporatorWhat::Added {
            crew: crew.0,
            site: new.site.clone(),
            tag: new.tag.clone(),
            hangs: new.hangs.clone(),
        };
        let in_crew = CrewWhat::EvaporatorAdded { evaporator: id.0 };
        let expected = self.last(crew.stream()).await?;
        batch
            .appends
            .push(hand.writes(id.stream(), Seq::NONE, vec![added])?);
        batch
            .appends
            .push(hand.writes(crew.stream(), expected, vec![in_crew])?);
        let added = row(crew, new, batch.at);
        batch.index.push(put(id.0, &added)?);
        batch
            .index
            .extend(listed_evaporator(crew, &label(id, added)));
        let listed = row_key(&[crew.0.as_bytes(), id.0.as_bytes()]);
        batch
            .index
            .push(IndexChange::put(list::CREW_EVAPORATORS, listed, []));
        if let Some(key) = &batch.key {
            let made = put(key.0.as_bytes(), &MadeRow { id: id.0 })?;
            batch.index.push(made);
        }
        Ok(())
    }

    /// The crew's evaporators by site and tag; with `words`, those whose line holds all of them,
    /// and the one with that short code.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub async fn evaporators(
        &self,
        actor: &Actor,
        words: &str,
    ) -> Result<Vec<EvaporatorLabel>, DeskError> {
        self.present(actor).await?;
        self.evaporators_with(actor.crew, words).await
    }

    /// As [`Desk::evaporators`], of any crew.
    pub(super) async fn evaporators_with(
        &self,
        crew: CrewId,
        words: &str,
    ) -> Result<Vec<EvaporatorLabel>, DeskError> {
        let code = code_typed(words);
        let words: Vec<String> = words.split_whitespace().map(str::to_lowercase).collect();
        let mut found = Vec::new();
        for id in self
            .listed(list::CREW_EVAPORATORS, crew.0.as_bytes())
            .await?
        {
            let label = self.evaporator_label(EvaporatorId(id)).await?;
            let line = label.line().to_lowercase();
            let is_meant = code.as_ref() == Some(&short_code(label.id));
            if is_meant || words.iter().all(|word| line.contains(word)) {
                found.push(label);
            }
        }
        found.sort_by(|a, b| in_order(a).cmp(&in_order(b)));
        Ok(found)
    }

    /// One evaporator with what is known of it and its jobs, the newest first,
    /// [`JOBS_A_PAGE`] a page. It is written down that the actor looked.
    ///
    /// # Errors
    /// When the crew has no such evaporator.
    pub async fn evaporator(
        &self,
        actor: &Actor,
        id: EvaporatorId,
        after: Option<Cursor>,
    ) -> Result<EvaporatorPage, DeskError> {
        self.present(actor).await?;
        let row = self.evaporator_of(actor.crew, id).await?;
        let evaporator = id.0;
        self.note_look(actor, LookedAt::Evaporator { evaporator })
            .await?;
        let prefix = || id.0.as_bytes().to_vec();
        let jobs = self.store();
        let jobs = jobs.scan(list::EVAPORATOR_JOBS, prefix(), after, JOBS_A_PAGE);
        let jobs = jobs.await?;
        let last = self.store().scan(list::EVAPORATOR_JOBS, prefix(), None, 1);
        let last = last.await?.items.pop();
        let last = last.and_then(|row| id_at_end(&row.key)).map(JobId);
        let mut recheck = self.what_stays(id, Remembered::LookAgain).await?;
        // Whoever begins a job on it looks again.
        recheck.retain(|known| Some(known.job) == last);
        let lines = jobs.items.iter().filter_map(|row| id_at_end(&row.key));
        Ok(EvaporatorPage {
            added: row.added,
            near: row.near,
            label: label(id, row),
            jobs: self.lines(lines.collect()).await?,
            next: jobs.next,
            nameplate: self.what_stays(id, Remembered::Nameplate).await?,
            setting: self.what_stays(id, Remembered::Setting).await?,
            recheck,
            trends: self.trends(id).await?,
        })
    }

    /// The row of an evaporator of this crew.
    pub(super) async fn evaporator_of(
        &self,
        crew: CrewId,
        id: EvaporatorId,
    ) -> Result<EvaporatorRow, DeskError> {
        let row = self.row::<EvaporatorRow>(id.0).await?;
        row.filter(|row| row.crew == crew)
            .ok_or(DeskError::NotFound("evaporator"))
    }

    /// The label of an evaporator.
    pub(super) async fn evaporator_label(
        &self,
        id: EvaporatorId,
    ) -> Result<EvaporatorLabel, DeskError> {
        let row = self.row::<EvaporatorRow>(id.0).await?;
        Ok(label(id, row.ok_or(DeskError::NotFound("evaporator"))?))
    }

    /// The change that lists a job under its evaporator.
    pub(super) fn list_under_evaporator(
        evaporator: EvaporatorId,
        began: Timestamp,
        job: Uuid,
    ) -> IndexChange {
        let began = super::tables::latest_first(began);
        let key = row_key(&[evaporator.0.as_bytes(), &began, job.as_bytes()]);
        IndexChange::put(list::EVAPORATOR_JOBS, key, [])
    }
}

fn row(crew: CrewId, new: &NewEvaporator, added: Timestamp) -> EvaporatorRow {
    EvaporatorRow {
        crew,
        site: new.site.clone(),
        tag: new.tag.clone(),
        hangs: new.hangs.clone(),
        added,
        near: None,
    }
}

pub(super) fn label(id: EvaporatorId, row: EvaporatorRow) -> EvaporatorLabel {
    EvaporatorLabel {
        id,
        site: row.site,
        tag: row.tag,
        hangs: row.hangs,
    }
}

fn tidy(new: &NewEvaporator) -> Result<NewEvaporator, DeskError> {
    let site = tidy_text("The site", &new.site)?;
    if site.is_empty() {
        return Err(DeskError::NotUnderstood(
            "An evaporator needs a site: the shop or building where it hangs. Type it.".to_owned(),
        ));
    }
    Ok(NewEvaporator {
        site,
        tag: tidy_text("The tag", &new.tag)?,
        hangs: tidy_text("The place where it hangs", &new.hangs)?,
    })
}

fn tidy_text(what: &str, text: &str) -> Result<String, DeskError> {
    let text = on_one_line(text);
    let characters = text.chars().count();
    if characters > LABEL_CHARACTERS_MAX {
        return Err(DeskError::NotUnderstood(format!(
            "{what} has {characters} characters, and {LABEL_CHARACTERS_MAX} fit. Shorten it."
        )));
    }
    Ok(text)
}

/// What labels are sorted by.
fn in_order(it: &EvaporatorLabel) -> impl Ord + use<'_> {
    (as_counted(&it.site), as_counted(&it.tag), it.id)
}

/// A text in parts that sort as people count: `EV-2` before `EV-10`.
fn as_counted(text: &str) -> Vec<(&str, u64)> {
    let mut parts = Vec::new();
    let mut rest = text;
    while !rest.is_empty() {
        let digits_from = rest.find(|letter: char| letter.is_ascii_digit());
        let (words, after) = rest.split_at(digits_from.unwrap_or(rest.len()));
        let digits_to = after.find(|letter: char| !letter.is_ascii_digit());
        let (digits, after) = after.split_at(digits_to.unwrap_or(after.len()));
        let number = match digits {
            "" => 0,
            // One too long to count comes last.
            digits => digits.parse().unwrap_or(u64::MAX),
        };
        parts.push((words, number));
        rest = after;
    }
    parts
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn labels_sort_as_people_count() {
        let mut tags = ["EV-10", "EV-2b", "EV-2", "Box 3 EV-1", "", "EV-02", "7"];
        tags.sort_by_key(|tag| as_counted(tag));
        assert_eq!(
            tags,
            ["", "7", "Box 3 EV-1", "EV-2", "EV-02", "EV-2b", "EV-10"]
        );
        let long = "9".repeat(30);
        assert_eq!(as_counted(&long), [("", u64::MAX)]);
    }

    #[test]
    fn a_site_is_needed_and_long_texts_are_refused() {
        let new = |site: &str, tag: &str| NewEvaporator {
            site: site.to_owned(),
            tag: tag.to_owned(),
            hangs: String::new(),
        };
        assert_eq!(
            tidy(&new(" Corner  Shop ", "")).unwrap().site,
            "Corner Shop"
        );
        assert!(
            tidy(&new(" ", "EV 1"))
                .unwrap_err()
                .to_string()
                .contains("needs a site")
        );
        let long = "x".repeat(81);
        let refusal = tidy(&new("Shop", &long)).unwrap_err().to_string();
        assert_eq!(
            refusal,
            "The tag has 81 characters, and 80 fit. Shorten it."
        );
    }
}
