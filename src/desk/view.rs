//! Making a screen and handing out a photo.

use super::Desk;
use super::actor::Actor;
use super::card::phase;
use super::checklist::shows;
use super::error::DeskError;
use super::floor::Work;
use super::id::JobId;
use super::proposal::may_decide;
use super::screen::{Closing, Phase, Screen};
use super::tables::PersonRow;
use super::ways::Brings;
use crate::flow::name::{FlowName, PictureName, StepName};
use crate::record::around::LookedAt;
use crate::record::chain::Hash;
use crate::record::stream::Seq;
use crate::walk::context::Viewer;
use crate::walk::prompt::{Note, Tone};

impl Desk {
    pub(super) async fn make_screen(
        &self,
        actor: &Actor,
        (person, brings): (&PersonRow, &Brings),
        work: &Work,
    ) -> Result<Screen, DeskError> {
        let viewer = Viewer {
            who: actor.person,
            roles: &person.roles,
            shown: &brings.shown,
            way: brings.way,
        };
        let phase = phase(&work.state);
        let reviewer = may_decide(work, actor, &person.roles);
        let mut prompt = self.prompt_of(work, viewer);
        if !prompt.lacks.is_empty() && actor.person == work.state.holder {
            prompt.notes.push(Note {
                tone: Tone::Plain,
                text: self.help_with(actor, &prompt.lacks).await?,
            });
        }
        prompt.notes.splice(0..0, self.last_time(work).await?);
        if prompt.asks_how_often() && self.is_alone(actor).await? {
            prompt.notes.push(Note {
                tone: Tone::Warning,
                text: "Nobody else is in your crew: nobody would be told here. Tell somebody \
                       outside where you are."
                    .to_owned(),
            });
        }
        let mut closing = Vec::new();
        if reviewer && phase == Phase::HandedIn {
            closing.extend([Closing::Accept, Closing::SendBack]);
            prompt.notes.extend(self.shown_findings(work).await?);
        }
        let shown = self.shown_proposal(work, reviewer).await?;
        prompt.notes.extend(shown.notes);
        closing.extend(shown.closing);
        Ok(Screen {
            job: work.job,
            evaporator: self.evaporator_label(work.evaporator).await?,
            holder: self.named(work.state.holder).await?,
            phase,
            prompt,
            closing,
            photos: work.photos_when_over(),
        })
    }

    /// The flow and the step that a job stands at.
    ///
    /// # Errors
    /// When the crew has no such job.
    pub async fn step_at_hand(
        &self,
        actor: &Actor,
        job: JobId,
    ) -> Result<Option<(FlowName, StepName)>, DeskError> {
        self.present(actor).await?;
        let place = self.place_of(job);
        let mut place = place.lock().await;
        let work = self.folded_for(actor, job, &mut place).await?;
        let top = work.state.top();
        Ok(top.map(|call| (call.flow.clone(), call.step.clone())))
    }

    /// The SVG text of a picture of the edition that a job walks.
    ///
    /// # Errors
    /// When the crew has no such job, or its edition no such picture.
    pub async fn picture(
        &self,
        actor: &Actor,
        job: JobId,
        name: &PictureName,
    ) -> Result<String, DeskError> {
        self.present(actor).await?;
        let place = self.place_of(job);
        let mut place = place.lock().await;
        let work = self.folded_for(actor, job, &mut place).await?;
        let picture = work.edition.picture(name).map(str::to_owned);
        picture.ok_or(DeskError::NotFound("picture"))
    }

    /// The stored JPEG of a photo that belongs to the job.
    ///
    /// # Errors
    /// When the crew has no such job, or the job no such photo.
    pub async fn photo(
        &self,
        actor: &Actor,
        job: JobId,
        stored: Hash,
    ) -> Result<Vec<u8>, DeskError> {
        self.present(actor).await?;
        self.work_for(actor, job).await?;
        let text = stored.to_string();
        let entries = self.entries(job, Seq::FIRST).await?;
        if !entries.iter().any(|entry| shows(entry, &text)) {
            return Err(DeskError::NotFound("photo"));
        }
        self.note_look(actor, LookedAt::Record { job: job.0 })
            .await?;
        self.store()
            .get_blob(stored)
            .await?
            .ok_or(DeskError::NotFound("photo"))
    }
}
