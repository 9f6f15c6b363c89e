//! In which way a person wants to be asked, and with what they stand before a job.

use serde::{Deserialize, Serialize};

use super::Desk;
use super::actor::Actor;
use super::error::DeskError;
use super::kept_rows::Slot;
use super::tables::{PersonRow, Row, put};
use crate::flow::model::Role;
use crate::record::sign_off::SignOff;
use crate::store::{Batch, Table};
use crate::walk::context::Way;

/// What a person chose: under the person. No entry stands behind it: a job's record says which
/// steps were asked together.
#[derive(Clone, Copy, Debug, Default, Serialize, Deserialize)]
pub(super) struct WayRow {
    way: Way,
}

impl Row for WayRow {
    const TABLE: Table = Table::named("way");
    const KEPT: Option<Slot> = Some(Slot::Way);
}

/// What a person brings to a job besides their roles.
#[derive(Default)]
pub(super) struct Brings {
    /// What they have shown.
    pub(super) shown: Vec<SignOff>,
    /// In which way they are asked.
    pub(super) way: Way,
}

impl Desk {
    /// In which way the actor is asked.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub async fn way(&self, actor: &Actor) -> Result<Way, DeskError> {
        let row = self.present(actor).await?;
        self.way_of(actor, &row).await
    }

    /// Asks the actor in this way from then on.
    ///
    /// # Errors
    /// When the actor is an apprentice and chooses to do before reading.
    pub async fn set_way(&self, actor: &Actor, way: Way) -> Result<(), DeskError> {
        let row = self.present(actor).await?;
        if row.roles.contains(&Role::Apprentice) && way != Way::ReadThenDo {
            return Err(DeskError::NotAllowed(
                "Apprentices read a step, do it and then answer it. Lists are for whoever has \
                 learned the trade."
                    .to_owned(),
            ));
        }
        let mut batch = Batch::new(self.now());
        batch.index.push(put(actor.person.0, &WayRow { way })?);
        self.keep(batch).await.map(drop)
    }

    async fn way_of(&self, actor: &Actor, row: &PersonRow) -> Result<Way, DeskError> {
        let chosen = self
            .row::<WayRow>(actor.person.0)
            .await?
            .unwrap_or_default();
        Ok(chosen.way.of(&row.roles))
    }

    /// What the actor brings to a job.
    pub(super) async fn brings(&self, actor: &Actor, row: &PersonRow) -> Result<Brings, DeskError> {
        Ok(Brings {
            shown: self.shown_of(actor.crew, actor.person).await?,
            way: self.way_of(actor, row).await?,
        })
    }
}
