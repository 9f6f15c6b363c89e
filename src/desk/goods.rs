//! The kit and speed book of a crew: given by a supervisor, pinned by every job.

use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError};

use super::Desk;
use super::actor::Actor;
use super::error::DeskError;
use super::id::CrewId;
use super::keep::{Hand, TRIES};
use super::tables::{CrewRow, put};
use crate::record::around::CrewWhat;
use crate::record::chain::Hash;
use crate::store::{Batch, InputKey};
use crate::trade::goods::Goods;
use crate::trade::kit::Kit;
use crate::trade::speed_book::SpeedBook;

/// The texts of a kit and a speed book: what a new crew begins with, and what it has.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct StartingGoods {
    /// The text of a kit file.
    pub kit: Option<String>,
    /// The text of a speed book file.
    pub speed_book: Option<String>,
}

/// A kit and a speed book, read.
#[derive(Debug, Default)]
pub struct GoodsAtHand {
    /// The kit.
    pub kit: Kit,
    /// The speed book.
    pub speed_book: SpeedBook,
}

impl GoodsAtHand {
    pub(super) fn goods(&self) -> Goods<'_> {
        Goods {
            kit: &self.kit,
            speed_book: &self.speed_book,
        }
    }
}

/// Goods that were read since the start, by both revisions.
#[derive(Default)]
pub(super) struct Shelf {
    read: Mutex<HashMap<(String, String), Arc<GoodsAtHand>>>,
}

/// So many pairs of goods are kept read.
const GOODS_AT_HAND_MAX: usize = 256;

impl Shelf {
    fn find(&self, key: &(String, String)) -> Option<Arc<GoodsAtHand>> {
        // Nothing that touches the map can panic half-way.
        let read = self.read.lock().unwrap_or_else(PoisonError::into_inner);
        read.get(key).map(Arc::clone)
    }

    fn add(&self, key: (String, String), goods: &Arc<GoodsAtHand>) {
        let mut read = self.read.lock().unwrap_or_else(PoisonError::into_inner);
        if read.len() >= GOODS_AT_HAND_MAX {
            read.clear();
        }
        read.insert(key, Arc::clone(goods));
    }
}

/// Which of the two.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Which {
    /// The kit.
    Kit,
    /// The speed book.
    SpeedBook,
}

/// What became of a text that was to take the place of a certain revision.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Replaced {
    /// It was kept.
    Kept,
    /// Another revision stands there; nothing was changed.
    HasChanged,
}

impl Desk {
    /// The crew's goods as new jobs pin them.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub async fn goods(&self, actor: &Actor) -> Result<Arc<GoodsAtHand>, DeskError> {
        self.present(actor).await?;
        let (kit, speed_book) = self.revisions(actor.crew).await?;
        self.goods_at(&kit, &speed_book).await
    }

    /// The texts of the crew's kit and speed book, as new jobs pin them.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub async fn goods_texts(&self, actor: &Actor) -> Result<StartingGoods, DeskError> {
        self.present(actor).await?;
        let (kit, speed_book) = self.revisions(actor.crew).await?;
        Ok(StartingGoods {
            kit: self.goods_text(&kit).await?,
            speed_book: self.goods_text(&speed_book).await?,
        })
    }

    /// One of the two as new jobs pin it: its revision and its text.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub async fn goods_revision(
        &self,
        actor: &Actor,
        which: Which,
    ) -> Result<Option<(Hash, String)>, DeskError> {
        self.present(actor).await?;
        let row = self.row::<CrewRow>(actor.crew.0).await?.unwrap_or_default();
        let Some(revision) = revision(&row, which) else {
            return Ok(None);
        };
        let text = self.goods_text(&revision.to_string()).await?;
        Ok(text.map(|text| (revision, text)))
    }

    /// Gives the crew another text of one of the two in place of the revision that was seen, and
    /// of no other; jobs that run keep the one that they began with.
    ///
    /// # Errors
    /// When the actor is no supervisor, or the text cannot be read: with the place of what is
    /// wrong.
    pub async fn replace_goods(
        &self,
        key: InputKey,
        actor: &Actor,
        what: (Which, Option<Hash>),
        text: &str,
    ) -> Result<Replaced, DeskError> {
        self.take_over_goods(key, actor, what, (text, None)).await
    }

    /// The same for a text that was taken over from another crew.
    pub(super) async fn take_over_goods(
        &self,
        key: InputKey,
        actor: &Actor,
        (which, seen): (Which, Option<Hash>),
        (text, origin): (&str, Option<CrewId>),
    ) -> Result<Replaced, DeskError> {
        self.must_be_supervisor(actor, "change the crew's kit and speed book")
            .await?;
        let wrong = match which {
            Which::Kit => Kit::read(text).err().map(|problem| problem.to_string()),
            Which::SpeedBook => SpeedBook::read(text)
                .err()
                .map(|problem| problem.to_string()),
        };
        if let Some(wrong) = wrong {
            return Err(DeskError::NotUnderstood(wrong));
        }
        self.set_goods(key, actor, (which, seen), (text, origin))
            .await
    }

    async fn set_goods(
        &self,
        key: InputKey,
        actor: &Actor,
        (which, seen): (Which, Option<Hash>),
        (text, origin): (&str, Option<CrewId>),
    ) -> Result<Replaced, DeskError> {
        let revision = self.store().put_blob(text.as_bytes().to_vec()).await?;
        let origin = origin.map(|crew| crew.0);
        let _turn = self.inner.queues.turn(actor.crew.stream()).await;
        for _ in 0..TRIES {
            let stream = actor.crew.stream();
            let expected = self.last(stream).await?;
            let mut row = self.row::<CrewRow>(actor.crew.0).await?.unwrap_or_default();
            let now = self.now();
            if self::revision(&row, which) != seen
                && !self.store().handled(key.clone(), now).await?
            {
                return Ok(Replaced::HasChanged);
            }
            let what = match which {
                Which::Kit => {
                    row.kit = Some(revision);
                    CrewWhat::KitSet { revision, origin }
                }
                Which::SpeedBook => {
                    row.speed_book = Some(revision);
                    CrewWhat::SpeedBookSet { revision, origin }
                }
            };
            let mut batch = Batch::handling(key.clone(), now);
            batch
                .appends
                .push(Hand::of(actor, now).writes(stream, expected, vec![what])?);
            batch.index.push(put(actor.crew.0, &row)?);
            match self.keep(batch).await {
                Err(DeskError::Busy) => {}
                other => return other.map(|_| Replaced::Kept),
            }
        }
        Err(DeskError::Busy)
    }

    /// What a new crew begins with: its row and what is written about it.
    pub(super) async fn starting_goods(&self) -> Result<(CrewRow, Vec<CrewWhat>), DeskError> {
        let StartingGoods { kit, speed_book } = &self.inner.parts.goods;
        let (mut row, mut whats) = (CrewRow::default(), Vec::new());
        if let Some(text) = kit {
            let revision = self.store().put_blob(text.as_bytes().to_vec()).await?;
            row.kit = Some(revision);
            let origin = None;
            whats.push(CrewWhat::KitSet { revision, origin });
        }
        if let Some(text) = speed_book {
            let revision = self.store().put_blob(text.as_bytes().to_vec()).await?;
            row.speed_book = Some(revision);
            let origin = None;
            whats.push(CrewWhat::SpeedBookSet { revision, origin });
        }
        Ok((row, whats))
    }

    /// The revisions that a job of this crew pins now; empty where nothing was given.
    pub(super) async fn revisions(&self, crew: CrewId) -> Result<(String, String), DeskError> {
        let row = self.row::<CrewRow>(crew.0).await?.unwrap_or_default();
        let text = |hash: Option<Hash>| hash.map(|hash| hash.to_string()).unwrap_or_default();
        Ok((text(row.kit), text(row.speed_book)))
    }

    /// The goods of these revisions.
    pub(super) async fn goods_at(
        &self,
        kit: &str,
        speed_book: &str,
    ) -> Result<Arc<GoodsAtHand>, DeskError> {
        let key = (kit.to_owned(), speed_book.to_owned());
        if let Some(goods) = self.inner.shelf.find(&key) {
            return Ok(goods);
        }
        let mut goods = GoodsAtHand::default();
        if let Some(text) = self.goods_text(kit).await? {
            let problem = |problem| unreadable("kit", kit, &problem);
            goods.kit = Kit::read(&text).map_err(problem)?;
        }
        if let Some(text) = self.goods_text(speed_book).await? {
            let problem = |problem| unreadable("speed book", speed_book, &problem);
            goods.speed_book = SpeedBook::read(&text).map_err(problem)?;
        }
        let goods = Arc::new(goods);
        self.inner.shelf.add(key, &goods);
        Ok(goods)
    }

    pub(super) async fn goods_text(&self, revision: &str) -> Result<Option<String>, DeskError> {
        if revision.is_empty() {
            return Ok(None);
        }
        let fault = || DeskError::Fault(format!("The goods of revision {revision} are gone."));
        let hash: Hash = revision.parse().map_err(|_| fault())?;
        let blob = self.store().get_blob(hash).await?.ok_or_else(fault)?;
        String::from_utf8(blob).map(Some).map_err(|_| fault())
    }
}

fn revision(row: &CrewRow, which: Which) -> Option<Hash> {
    match which {
        Which::Kit => row.kit,
        Which::SpeedBook => row.speed_book,
    }
}

fn unreadable(what: &str, revision: &str, problem: &dyn std::fmt::Display) -> DeskError {
    DeskError::Fault(format!("The {what} {revision} cannot be read: {problem}"))
}
