//! The photos of a job in a chat, as albums in the order in which they came.
//!
//! One album is read from the store at a time, when the one before it has arrived: so a job with
//! many photos takes no more memory than one with a few.

use std::collections::BTreeSet;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use jiff::tz::TimeZone;

use super::decode::Place;
use super::outgoing::{ALBUM_MAX, Fate, Kind, Photo, What};
use super::queue::Rank;
use super::rich::{CAPTION_UNITS_MAX, Rich, Style};
use super::sender::Sender;
use super::talk::{Turn, texts};
use super::words;
use crate::desk::id::JobId;
use crate::desk::job_photos::JobPhoto;
use crate::desk::{Actor, Desk, DeskError};

/// The chats to which photos are on their way.
#[derive(Clone, Default)]
pub(super) struct Showing(Arc<Mutex<BTreeSet<i64>>>);

impl Showing {
    fn chats(&self) -> MutexGuard<'_, BTreeSet<i64>> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Turn<'_> {
    /// Shows the photos of the job at hand.
    pub(super) async fn photos_at_hand(&self) -> Result<(), DeskError> {
        let Some(actor) = self.actor().await? else {
            return Ok(());
        };
        let Some(job) = self.at_hand(&actor).await? else {
            return Ok(());
        };
        self.photos(&actor, job).await
    }

    /// Shows the photos of a job.
    pub(super) async fn photos(&self, actor: &Actor, job: JobId) -> Result<(), DeskError> {
        let desk = &self.talk.desk;
        let photos = desk.job_photos(actor, job).await?;
        if photos.is_empty() {
            self.say(words::NO_PHOTOS);
            return Ok(());
        }
        let clocks = desk.clocks(actor).await?;
        if !self.talk.showing.chats().insert(self.place.chat) {
            self.say(words::PHOTOS_ON_THE_WAY);
            return Ok(());
        }
        if photos.len() > 1 {
            self.say(&words::photos_come(photos.len()));
        }
        let errand = Errand {
            desk: desk.clone(),
            sender: self.talk.sender.clone(),
            actor: actor.clone(),
            job,
            place: self.place,
        };
        let showing = self.talk.showing.clone();
        self.talk.tasks.spawn(async move {
            let told = errand.bring(&photos, &clocks).await;
            showing.chats().remove(&errand.place.chat);
            if let Some(sentence) = told {
                errand.say(&sentence);
            }
        });
        Ok(())
    }
}

/// Photos on their way to somebody.
struct Errand {
    desk: Desk,
    sender: Sender,
    actor: Actor,
    job: JobId,
    place: Place,
}

impl Errand {
    /// Sends the photos, album after album; a sentence if that broke off.
    async fn bring(&self, photos: &[JobPhoto], clocks: &TimeZone) -> Option<String> {
        for few in shared_out(photos.len()) {
            let few = photos.get(few).unwrap_or_default();
            let what = match self.album(few, clocks).await {
                Ok(what) => what,
                Err(error) => {
                    if error.is_fault() {
                        tracing::error!(error = error.for_the_log(), "photos cannot be read");
                    }
                    return Some(error.to_string());
                }
            };
            let to = (self.place, Rank::Answer);
            let told = self.sender.send_and_tell(to, Kind::Own, vec![what]);
            if let Ok(Fate::Refused) = told.await {
                return Some(words::NOT_HERE.to_owned());
            }
        }
        None
    }

    async fn album(&self, few: &[JobPhoto], clocks: &TimeZone) -> Result<What, DeskError> {
        let mut photos = Vec::new();
        for photo in few {
            let jpeg = self.desk.photo(&self.actor, self.job, photo.stored).await?;
            photos.push(Photo {
                of: photo.stored,
                jpeg: Arc::new(jpeg),
                caption: caption(photo, clocks),
            });
        }
        Ok(What::Album(photos.into()))
    }

    fn say(&self, sentence: &str) {
        let whats = texts(&Rich::plain(sentence), None);
        let kind = Kind::Sentence(sentence.to_owned());
        self.sender.send(self.place, kind, whats);
    }
}

/// How many photos go into each album: as few albums as hold them, none of a single photo beside
/// a full one.
fn shared_out(count: usize) -> Vec<std::ops::Range<usize>> {
    let albums = count.div_ceil(ALBUM_MAX);
    let bound = |at: usize| count * at / albums;
    (0..albums).map(|at| bound(at)..bound(at + 1)).collect()
}

/// The step, and when the photo came.
fn caption(photo: &JobPhoto, clocks: &TimeZone) -> String {
    let at = photo.at.to_zoned_datetime(clocks.clone());
    let mut rich = Rich::default();
    rich.push(Style::Bold, &photo.flow);
    rich.line(Style::Plain, &photo.asked);
    rich.line(Style::Plain, &at.strftime("%Y-%m-%d %H:%M %Z").to_string());
    let parts = rich.parts(CAPTION_UNITS_MAX);
    parts.into_iter().next().unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_photo_is_in_one_album_and_the_albums_are_about_alike() {
        for count in 0..60usize {
            let albums = shared_out(count);
            let all: Vec<usize> = albums.iter().cloned().flatten().collect();
            assert_eq!(all, (0..count).collect::<Vec<_>>());
            assert!(albums.iter().all(|album| album.len() <= ALBUM_MAX));
            let is_alone = |album: &std::ops::Range<usize>| album.len() == 1;
            assert!(count == 1 || !albums.iter().any(is_alone), "{count}");
        }
    }

    #[test]
    fn the_words_under_a_photo_say_its_step_and_its_time_in_order() {
        let photo = JobPhoto {
            stored: crate::record::chain::Hash::of(b"x"),
            flow: "Look & see".to_owned(),
            asked: "Send a photo of the nameplate.".to_owned(),
            at: "2031-05-04T08:12:30Z".parse().unwrap(),
        };
        assert_eq!(
            caption(&photo, &TimeZone::UTC),
            "<b>Look &amp; see</b>\nSend a photo of the nameplate.\n2031-05-04 08:12 UTC"
        );
    }
}
