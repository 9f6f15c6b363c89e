//! A kit or speed book that somebody shows to the crew.

use std::collections::BTreeMap;

use super::Desk;
use super::actor::Actor;
use super::error::DeskError;
use super::goods::{Replaced, Which};
use super::id::CrewId;
use super::screen::Named;
use super::shared_flows::{
    SharedFile, SharedMark, SharedRow, SharedWhat, Taken, has_changed, shared_key,
};
use super::tables::put;
use crate::record::chain::Hash;
use crate::store::{Batch, InputKey};
use crate::trade::kit::Kit;
use crate::trade::speed_book::SpeedBook;

/// A kit or speed book that somebody shared, beside the crew's own.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct GoodsCard {
    /// Which shared file.
    pub mark: SharedMark,
    /// Which of the two.
    pub which: Which,
    /// What it is called.
    pub name: String,
    /// How many assemblies or models it lists.
    pub rows: usize,
    /// Who shared it.
    pub by: Named,
    /// What it lists that the crew's does not.
    pub added: Vec<String>,
    /// What it lists otherwise than the crew's.
    pub changed: Vec<String>,
    /// What the crew's lists and it does not.
    pub gone: Vec<String>,
    /// Whether it is the crew's.
    pub is_in_use: bool,
    /// Whether it was taken over from another crew.
    pub is_from_others: bool,
}

/// What a file lists: its name, and its rows by what they are called.
struct Listed {
    name: String,
    rows: BTreeMap<String, String>,
}

impl Desk {
    pub(super) async fn share_goods(
        &self,
        actor: &Actor,
        which: Which,
        (text, is_forwarded): (String, bool),
    ) -> Result<SharedFile, DeskError> {
        if let Err(wrong) = listed(which, &text) {
            return Ok(SharedFile::Unusable(wrong));
        }
        let text = self.store().put_blob(text.into_bytes()).await?;
        let revision = self.goods_revision(actor, which).await?;
        let mut batch = Batch::new(self.now());
        let own = text.to_string();
        let first = self.first_shared(&mut batch, (actor.crew, text), &own);
        let first = first.await?.filter(|_| is_forwarded);
        let row = SharedRow {
            text,
            by: actor.person,
            at: batch.at,
            base: revision.map(|(revision, _)| revision),
            from: first.map(|first| first.crew),
            what: match which {
                Which::Kit => SharedWhat::Kit,
                Which::SpeedBook => SharedWhat::SpeedBook,
            },
        };
        batch.index.push(put(shared_key(actor.crew, text), &row)?);
        self.keep(batch).await?;
        self.goods_card(actor, which, &row).await
    }

    pub(super) async fn goods_card(
        &self,
        actor: &Actor,
        which: Which,
        row: &SharedRow,
    ) -> Result<SharedFile, DeskError> {
        let fault = |wrong: String| DeskError::Fault(format!("A shared file: {wrong}"));
        let text = self.text_of(row.text).await?;
        let new = listed(which, &text).map_err(fault)?;
        let stands = self.goods_revision(actor, which).await?;
        let is_in_use = stands.as_ref().is_some_and(|(_, before)| *before == text);
        let before = match stands {
            Some((_, text)) => listed(which, &text).map_err(fault)?.rows,
            None => BTreeMap::new(),
        };
        let differs = |key: &&String| before.get(*key).is_some_and(|row| *row != new.rows[*key]);
        Ok(SharedFile::Goods(GoodsCard {
            mark: mark_of(row),
            which,
            rows: new.rows.len(),
            by: self.named(row.by).await?,
            added: keys(new.rows.keys().filter(|key| !before.contains_key(*key))),
            changed: keys(new.rows.keys().filter(differs)),
            gone: keys(before.keys().filter(|key| !new.rows.contains_key(*key))),
            name: new.name,
            is_in_use,
            is_from_others: row.from.is_some(),
        }))
    }

    pub(super) async fn take_goods(
        &self,
        key: InputKey,
        actor: &Actor,
        (which, seen): (Which, Option<Hash>),
        (text, from): (String, Option<CrewId>),
    ) -> Result<Taken, DeskError> {
        let what = match which {
            Which::Kit => "change the crew's kit",
            Which::SpeedBook => "change the crew's speed book",
        };
        self.must_be_supervisor(actor, what).await?;
        let stands = self.goods_revision(actor, which).await?;
        if stands.is_some_and(|(_, stands)| stands == text) {
            return Ok(Taken::Goods(which));
        }
        let taken = self.take_over_goods(key, actor, (which, seen), (&text, from));
        match taken.await? {
            Replaced::Kept => Ok(Taken::Goods(which)),
            Replaced::HasChanged => Err(has_changed()),
        }
    }
}

fn mark_of(row: &SharedRow) -> SharedMark {
    SharedMark::of(row.text)
}

fn keys<'k>(keys: impl Iterator<Item = &'k String>) -> Vec<String> {
    keys.cloned().collect()
}

/// Reads a kit or a speed book; what is wrong with it otherwise.
fn listed(which: Which, text: &str) -> Result<Listed, String> {
    match which {
        Which::Kit => {
            let kit = Kit::read(text).map_err(|problem| problem.to_string())?;
            let all = kit.assemblies().iter();
            let row = |one: &crate::trade::kit::Assembly| {
                (one.key.as_str().to_owned(), format!("{one:?}"))
            };
            Ok(Listed {
                name: kit.name().to_owned(),
                rows: all.map(row).collect(),
            })
        }
        Which::SpeedBook => {
            let book = SpeedBook::read(text).map_err(|problem| problem.to_string())?;
            let all = book.rows().iter();
            Ok(Listed {
                name: book.name().to_owned(),
                rows: all
                    .map(|row| (row.model.clone(), format!("{row:?}")))
                    .collect(),
            })
        }
    }
}
