//! Labels for evaporators, as a PDF in the chat.

use std::sync::Arc;

use super::sender::{Kind, What};
use super::talk::Turn;
use super::words;
use crate::desk::DeskError;
use crate::desk::labels::{LabelsWanted, Opens, Which};
use crate::report::pdf::Paper;

impl Turn<'_> {
    /// Sends labels of the evaporators whose line has these words, of all without any. Where the
    /// first word names the paper, it is taken for that.
    pub(super) async fn labels(&self, rest: &str) -> Result<(), DeskError> {
        let Some(actor) = self.actor().await? else {
            return Ok(());
        };
        let (first, others) = rest.split_once(' ').unwrap_or((rest, ""));
        let (paper, words) = match first.to_lowercase().as_str() {
            "a4" => (Paper::A4, others),
            "letter" => (Paper::Letter, others),
            _ => (Paper::default(), rest),
        };
        let wanted = |opens| LabelsWanted {
            which: match words.trim() {
                "" => Which::All,
                words => Which::Words(words.to_owned()),
            },
            opens: Some(opens),
            paper,
            public_url: None,
        };
        // Whoever asks in a chat wants codes that open it.
        let pdf = self.talk.desk.labels(&actor, wanted(Opens::Chat)).await?;
        let what = What::File {
            bytes: Arc::new(pdf),
            file: "labels.pdf".to_owned(),
            caption: words::LABELS.to_owned(),
        };
        self.talk.sender.send(self.place, Kind::Own, vec![what]);
        Ok(())
    }
}
