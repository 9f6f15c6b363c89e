//! The report of the job at hand, as a PDF in the chat.

use std::sync::Arc;

use super::sender::{Kind, What};
use super::talk::Turn;
use super::words;
use crate::desk::DeskError;
use crate::report::pdf::Paper;

impl Turn<'_> {
    /// Sends the report of the job at hand; `rest` may name the paper.
    pub(super) async fn report(&self, rest: &str) -> Result<(), DeskError> {
        let Some(actor) = self.actor().await? else {
            return Ok(());
        };
        let paper = match rest.trim().to_lowercase().as_str() {
            "" | "letter" => Paper::Letter,
            "a4" => Paper::A4,
            _ => {
                self.say(words::WHICH_PAPER);
                return Ok(());
            }
        };
        let Some(job) = self.at_hand(&actor).await? else {
            return Ok(());
        };
        let pdf = self.talk.desk.pdf(&actor, job, paper).await?;
        let what = What::File {
            bytes: Arc::new(pdf),
            file: format!("job-{job}.pdf"),
            caption: words::REPORT.to_owned(),
        };
        self.talk.sender.send(self.place, Kind::Own, vec![what]);
        Ok(())
    }
}
