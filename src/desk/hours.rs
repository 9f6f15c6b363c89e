//! When a person may be reminded: their quiet hours, in their time zone.
//!
//! A zone is the person's own, else the crew's, else the one of the machine. Only reminders heed
//! quiet hours: what is told when it happens, such as stopped work, comes at any hour.

pub mod quiet;
pub mod typed;

use jiff::Timestamp;
use jiff::tz::TimeZone;
use serde::{Deserialize, Serialize};

use super::Desk;
use super::actor::Actor;
use super::error::DeskError;
use super::id::CrewId;
use super::keep::{Hand, TRIES};
use super::kept_rows::Slot;
use super::tables::{Row, put};
use crate::record::around::CrewWhat;
use crate::record::person::PersonId;
use crate::store::{Batch, InputKey, Table};
use quiet::QuietHours;
use typed::{Wish, Zone};

/// What a person chose: under the person. No entry stands behind it: when somebody sleeps is
/// nothing that happened.
#[derive(Clone, Debug, Serialize, Deserialize)]
struct HoursRow {
    /// None at all if they want none.
    quiet: Option<QuietHours>,
    /// None while they keep to the zone of the crew.
    zone: Option<Zone>,
}

impl Row for HoursRow {
    const TABLE: Table = Table::named("hours");
}

impl Default for HoursRow {
    fn default() -> HoursRow {
        HoursRow {
            quiet: Some(QuietHours::USUAL),
            zone: None,
        }
    }
}

/// The time zone of a crew: under the crew.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub(super) struct CrewZoneRow {
    zone: Zone,
}

impl Row for CrewZoneRow {
    const TABLE: Table = Table::named("crew_zone");
    const KEPT: Option<Slot> = Some(Slot::CrewZone);
}

/// By which clock somebody lives, and when it is quiet by it.
#[derive(Clone, Debug, PartialEq)]
pub struct Hours {
    /// The quiet hours; none if the person wants none.
    pub quiet: Option<QuietHours>,
    /// The clocks that count.
    pub zone: TimeZone,
    /// The person's own zone; none while they keep to the crew's.
    pub own: Option<Zone>,
    /// The zone of the crew; none while it keeps to the machine's.
    pub crews: Option<Zone>,
}

impl Hours {
    /// The first moment from `at` on at which the person may be reminded.
    pub(super) fn open_at(&self, at: Timestamp) -> Timestamp {
        self.quiet.map_or(at, |quiet| quiet.over_at(at, &self.zone))
    }

    /// Whether the person wants to hear of nothing that can wait.
    pub(super) fn are_quiet(&self, at: Timestamp) -> bool {
        self.quiet.is_some_and(|quiet| quiet.hold(at, &self.zone))
    }

    /// The name of the zone that counts.
    pub fn zone_name(&self) -> &str {
        self.zone.iana_name().unwrap_or("the zone of the server")
    }

    /// In one sentence, for whoever asks.
    pub fn sentence(&self, now: Timestamp) -> String {
        let clock = now
            .to_zoned_datetime(self.zone.clone())
            .strftime("%H:%M")
            .to_string();
        let zone = self.zone_name();
        match self.quiet {
            Some(quiet) => format!(
                "You are not reminded of anything from {} to {} by the clock of {zone}, where it \
                 is {clock} now.",
                quiet.from(),
                quiet.to()
            ),
            None => format!(
                "You have no quiet hours: reminders come at any time. By the clock of {zone} it is \
                 {clock} now."
            ),
        }
    }
}

impl Desk {
    /// When the actor may be reminded.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub async fn hours(&self, actor: &Actor) -> Result<Hours, DeskError> {
        self.present(actor).await?;
        self.hours_of(actor.crew, actor.person).await
    }

    /// Grants the actor's own wish.
    ///
    /// # Errors
    /// When the store cannot keep it.
    pub async fn set_hours(&self, actor: &Actor, wish: Wish) -> Result<Hours, DeskError> {
        self.present(actor).await?;
        let mut row = self.hours_row(actor.person).await?;
        row.quiet = wish.quiet.unwrap_or(row.quiet);
        row.zone = wish.zone.unwrap_or(row.zone);
        let mut batch = Batch::new(self.now());
        batch.index.push(put(actor.person.0, &row)?);
        self.keep(batch).await?;
        self.hours_of(actor.crew, actor.person).await
    }

    /// Gives the crew this time zone: it counts for everybody who has none of their own.
    ///
    /// # Errors
    /// When the actor is no supervisor, or the store cannot keep it.
    pub async fn set_crew_zone(
        &self,
        key: InputKey,
        actor: &Actor,
        zone: Zone,
    ) -> Result<(), DeskError> {
        let stream = actor.crew.stream();
        let _turn = self.inner.queues.turn(stream).await;
        for _ in 0..TRIES {
            let expected = self.last(stream).await?;
            self.must_be_supervisor(actor, "set the time zone of the crew")
                .await?;
            let now = self.now();
            let what = CrewWhat::ZoneSet {
                zone: zone.name().to_owned(),
            };
            let mut batch = Batch::handling(key.clone(), now);
            batch
                .appends
                .push(Hand::of(actor, now).writes(stream, expected, vec![what])?);
            let row = CrewZoneRow { zone: zone.clone() };
            batch.index.push(put(actor.crew.0, &row)?);
            match self.keep(batch).await {
                Err(DeskError::Busy) => {}
                other => return other.map(drop),
            }
        }
        Err(DeskError::Busy)
    }

    async fn hours_row(&self, person: PersonId) -> Result<HoursRow, DeskError> {
        Ok(self.row::<HoursRow>(person.0).await?.unwrap_or_default())
    }

    /// When a person of this crew may be reminded.
    pub(super) async fn hours_of(
        &self,
        crew: CrewId,
        person: PersonId,
    ) -> Result<Hours, DeskError> {
        let row = self.hours_row(person).await?;
        let crews = self.row::<CrewZoneRow>(crew.0).await?.map(|row| row.zone);
        let named = row.zone.as_ref().and_then(Zone::clocks);
        let named = named.or_else(|| crews.as_ref().and_then(Zone::clocks));
        Ok(Hours {
            quiet: row.quiet,
            zone: named.unwrap_or_else(|| self.inner.parts.clock.zone()),
            own: row.zone,
            crews,
        })
    }

    /// The clocks of the actor's crew.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub async fn clocks(&self, actor: &Actor) -> Result<TimeZone, DeskError> {
        self.crew_clocks(actor.crew).await
    }

    /// The clocks of a crew.
    pub(super) async fn crew_clocks(&self, crew: CrewId) -> Result<TimeZone, DeskError> {
        let row = self.row::<CrewZoneRow>(crew.0).await?;
        let named = row.and_then(|row| row.zone.clocks());
        Ok(named.unwrap_or_else(|| self.inner.parts.clock.zone()))
    }
}
