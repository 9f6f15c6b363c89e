//! Photos: fetched from the platform, taken in by the desk, then an answer like any other.

use super::asked::Question;
use super::decode::Photo;
use super::press::stale_press;
use super::talk::Turn;
use super::words;
use crate::desk::DeskError;
use crate::desk::photo::PHOTO_BYTES_MAX;
use crate::desk::screen::Outcome;
use crate::walk::input::Input;
use crate::walk::prompt::Ask;

impl Turn<'_> {
    pub(super) async fn photo(&self, photo: Photo) -> Result<(), DeskError> {
        let Some(actor) = self.actor().await? else {
            return Ok(());
        };
        let desk = &self.talk.desk;
        let Some(job) = self.at_hand(&actor).await? else {
            return Ok(());
        };
        let meant = self.meant(&actor, job, photo.message).await?;
        let shown = desk.screen(&actor, job).await?;
        if !meant.is_for(Question::of(&shown)) {
            return self.came_before(&actor, (meant, photo.message)).await;
        }
        if !matches!(shown.prompt.ask, Ask::Photo { .. }) {
            // The desk remembers it, so that it is told once.
            let key = self.key.clone();
            let handled = desk.handle(key, &actor, job, stale_press()).await?;
            if handled.outcome != Outcome::AlreadyHandled {
                let sentence = Some(words::NO_PHOTO_WANTED);
                self.show(&actor, &handled.screen, sentence).await;
            }
            return Ok(());
        }
        let told = (photo.file.as_str(), photo.bytes as usize);
        let bytes = match self.talk.fetch(told, PHOTO_BYTES_MAX).await {
            Ok(bytes) => bytes,
            Err(missing) => {
                let sentence = missing.words(PHOTO_BYTES_MAX);
                self.show(&actor, &shown, Some(&sentence)).await;
                return Ok(());
            }
        };
        match desk.take_photo(bytes).await {
            Ok(kept) => {
                let sent = (photo.message, Input::Photo(kept));
                let refused = self.answer(&actor, meant, sent).await?;
                if refused.is_none() {
                    self.talk.receipt(self.place, photo.message);
                }
                if photo.has_caption && refused.is_none() {
                    self.say(words::CAPTION);
                }
            }
            Err(error) if error.is_fault() => return Err(error),
            Err(error) => self.show(&actor, &shown, Some(&error.to_string())).await,
        }
        Ok(())
    }
}
