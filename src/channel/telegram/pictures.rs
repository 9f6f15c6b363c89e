//! Pictures and photos on their way out: one by one or as albums, each sent up only once.
//!
//! The platform gives every picture a name by which it can be sent again without its bytes. The
//! names are remembered by what the pictures show; when one is not known there any more, the bytes
//! go up again.

use std::collections::HashMap;
use std::sync::{Mutex, MutexGuard, PoisonError};

use teloxide::RequestError;
use teloxide::types::{FileId, ReplyMarkup};

use super::attempt::{self, Pictured, Shown, Verdict, verdict};
use super::decode::Place;
use super::line::{Attached, Line};
use super::outgoing::Photo;
use crate::record::chain::Hash;
use crate::report::picture::Png;

/// So many names are remembered; then all are forgotten.
const NAMES_MAX: usize = 8_192;

/// The names of pictures that the platform has already.
#[derive(Default)]
pub(super) struct Pictures(Mutex<HashMap<[u8; 32], FileId>>);

impl Pictures {
    /// One attempt to send a drawn picture, perhaps with a message under it.
    pub(super) async fn picture(
        &self,
        line: &Line,
        place: Place,
        png: &Png,
        under: (Option<&str>, Option<&ReplyMarkup>),
    ) -> Verdict<Option<i32>> {
        let file = || Attached {
            name: "picture.png".to_owned(),
            bytes: png.bytes.clone(),
        };
        self.alone(line, place, (png.of, &file), under).await
    }

    /// One attempt to send photos that belong together. The platform takes no album of one.
    pub(super) async fn album(
        &self,
        line: &Line,
        place: Place,
        photos: &[Photo],
    ) -> Verdict<Option<i32>> {
        if let [photo] = photos {
            let under = (Some(photo.caption.as_str()), None);
            let file = || bytes_of(photo);
            return self.alone(line, place, (photo.of, &file), under).await;
        }
        let known: Vec<Option<FileId>> = photos.iter().map(|photo| self.name(photo.of)).collect();
        let was_known = known.iter().any(Option::is_some);
        let files = known.into_iter().zip(photos).map(|(known, photo)| {
            let file = known.map_or_else(|| Shown::Bytes(bytes_of(photo)), Shown::Known);
            (file, photo.caption.as_str())
        });
        let sent = attempt::album(line, place, files.collect()).await;
        let of = photos.iter().map(|photo| photo.of);
        self.learn(of.collect(), was_known, sent)
    }

    async fn alone(
        &self,
        line: &Line,
        place: Place,
        (of, file): (Hash, &(dyn Fn() -> Attached + Sync)),
        under: (Option<&str>, Option<&ReplyMarkup>),
    ) -> Verdict<Option<i32>> {
        let known = self.name(of);
        let was_known = known.is_some();
        let file = known.map_or_else(|| Shown::Bytes(file()), Shown::Known);
        let sent = attempt::picture(line, place, file, under).await;
        self.learn(vec![of], was_known, sent)
    }

    /// Remembers the names that came back.
    fn learn(
        &self,
        of: Vec<Hash>,
        was_known: bool,
        sent: Result<Pictured, RequestError>,
    ) -> Verdict<Option<i32>> {
        match verdict(sent) {
            Verdict::Done(Pictured { names, message }) => {
                let mut kept = self.names();
                if kept.len() >= NAMES_MAX {
                    kept.clear();
                }
                let named = of.into_iter().zip(names);
                kept.extend(named.filter_map(|(of, name)| Some((of.0, name?))));
                Verdict::Done(message)
            }
            // The platform may have forgotten a file: once more, with the bytes.
            Verdict::Never(why) if was_known => {
                let mut kept = self.names();
                for Hash(of) in of {
                    kept.remove(&of);
                }
                Verdict::Again(why)
            }
            Verdict::Never(why) => Verdict::Never(why),
            Verdict::Moved(to) => Verdict::Moved(to),
            Verdict::Wait(wait) => Verdict::Wait(wait),
            Verdict::Again(why) => Verdict::Again(why),
        }
    }

    fn name(&self, Hash(of): Hash) -> Option<FileId> {
        self.names().get(&of).cloned()
    }

    fn names(&self) -> MutexGuard<'_, HashMap<[u8; 32], FileId>> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

fn bytes_of(photo: &Photo) -> Attached {
    Attached {
        name: "photo.jpg".to_owned(),
        bytes: photo.jpeg.as_ref().clone(),
    }
}
