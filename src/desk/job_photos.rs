//! The photos of a job for people to look at, in the order in which they came.

use jiff::Timestamp;

use super::Desk;
use super::actor::Actor;
use super::checklist::photo;
use super::error::DeskError;
use super::floor::Work;
use super::id::JobId;
use crate::record::chain::Hash;
use crate::record::entry::Entry;

/// A photo with the step that it answered.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct JobPhoto {
    /// The hash of the kept picture: [`Desk::photo`] has its bytes.
    pub stored: Hash,
    /// The title of the flow.
    pub flow: String,
    /// What was asked, as the screen said it.
    pub asked: String,
    /// When it was taken in.
    pub at: Timestamp,
}

impl Desk {
    /// The photos of a job, in the order in which they came. Looking at them is a look at the
    /// record.
    ///
    /// # Errors
    /// When the crew has no such job.
    pub async fn job_photos(&self, actor: &Actor, job: JobId) -> Result<Vec<JobPhoto>, DeskError> {
        let record = self.record_for(actor, job).await?;
        let list = self.checklist_of(&record).await?;
        let mut photos = Vec::new();
        for section in list.sections {
            for line in section.lines {
                let stored = line.photo.and_then(|photo| photo.stored.parse().ok());
                photos.extend(stored.map(|stored| JobPhoto {
                    stored,
                    flow: section.title.clone(),
                    asked: line.asked.unwrap_or(line.said),
                    at: line.at,
                }));
            }
        }
        Ok(photos)
    }
}

impl Work {
    /// How many photos a job that is over has; none are counted while it is walked.
    pub(super) fn photos_when_over(&self) -> usize {
        match self.state.is_open() {
            true => 0,
            false => self.photos,
        }
    }
}

/// How many photos came with these entries.
pub(super) fn photos_in(entries: &[Entry]) -> usize {
    entries.iter().filter(|entry| is_there(entry)).count()
}

/// Whether an entry brought a photo that is kept.
fn is_there(entry: &Entry) -> bool {
    let stored = photo(entry).map(|photo| photo.stored.parse::<Hash>());
    matches!(stored, Some(Ok(_)))
}
