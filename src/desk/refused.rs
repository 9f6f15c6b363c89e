//! What somebody is told whose input had no effect.

use super::Desk;
use super::actor::Actor;
use super::decided::By;
use super::error::DeskError;
use super::floor::Work;
use crate::walk::input::Input;
use crate::walk::refusal::Refusal;

impl Desk {
    /// The sentence of a refusal, with names put in.
    pub(super) async fn refused(
        &self,
        by: By<'_>,
        work: &Work,
        refusal: Refusal,
    ) -> Result<String, DeskError> {
        let refusal = match refusal {
            Refusal::NotYours { .. } => Refusal::NotYours {
                holder: self.name_of(work.state.holder).await?,
            },
            Refusal::HandsOn { .. } => Refusal::HandsOn {
                holder: self.name_of(work.state.holder).await?,
            },
            other => other,
        };
        let other = work.last.who.filter(|last| Some(*last) != by.who());
        let was_faster = match refusal {
            Refusal::Stale => true,
            // What somebody did beside the question is not why the words came too early.
            Refusal::CameBefore => work.last.answered.is_some(),
            _ => false,
        };
        if let (true, Some(other)) = (was_faster, other) {
            let name = self.name_of(other).await?;
            let answered = work.last.answered.as_deref();
            let answered = answered.map(|answer| format!(": “{}”", shortened(answer)));
            let answered = answered.unwrap_or_default();
            return Ok(format!(
                "{name} was faster{answered}. Here is where the job stands."
            ));
        }
        Ok(refusal.to_string())
    }

    /// A job goes only to people of the crew.
    pub(super) async fn must_be_of_crew(
        &self,
        actor: &Actor,
        input: &Input,
    ) -> Result<(), DeskError> {
        let Input::HandOver(Some(to)) = input else {
            return Ok(());
        };
        let row = self.of_crew(actor.crew, *to).await?;
        row.map(drop).ok_or(DeskError::NotFound("person"))
    }
}

/// So much of an answer is told to whoever was slower.
const ANSWER_CHARACTERS_MAX: usize = 60;

fn shortened(answer: &str) -> String {
    match answer.char_indices().nth(ANSWER_CHARACTERS_MAX) {
        Some((at, _)) => format!("{}…", &answer[..at]),
        None => answer.to_owned(),
    }
}
