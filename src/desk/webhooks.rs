//! Calls to other programs when something happens to a job: to which addresses, and what.
//!
//! A call waits in the outbox, written in the same batch as the entries that it tells of. Of the
//! calls about one job to one address only the first is due: the later ones wait for it. A call
//! that fails is tried again after growing waits; after days it is given up and told to the
//! supervisors, who can have it sent again.

use std::collections::{BTreeMap, BTreeSet};

use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::Desk;
use super::actor::Actor;
use super::chance::{new_id, secret};
use super::error::DeskError;
use super::id::{CrewId, JobId};
use super::keep::{Hand, Kept, TRIES};
use super::tables::{MadeRow, Row, id_at_end, key as row_key, put, remove};
use crate::record::around::{CrewWhat, WebhookEvent};
use crate::store::{Batch, InputKey, Table};

mod calls;
mod wait;

pub(super) use calls::is_call;
pub use calls::{Call, CallOut};
pub use wait::TRIES_MAX;

/// The most addresses of a crew.
pub const WEBHOOKS_MAX: usize = 10;
/// The most characters of an address.
const URL_CHARACTERS_MAX: usize = 500;
/// How many random bytes a secret has; the specification asks for 24 to 64.
const SECRET_BYTES: usize = 32;

/// An address under its crew and number. Its secret lies apart, where it can be erased.
#[derive(Clone, Debug, Serialize, Deserialize)]
struct WebhookRow {
    url: String,
    events: BTreeSet<WebhookEvent>,
    set: Timestamp,
}

impl Row for WebhookRow {
    const TABLE: Table = Table::named("webhook");
}

/// How the last calls to an address went: under its number.
#[derive(Clone, Debug, Default, Serialize, Deserialize)]
struct StateRow {
    delivered: Option<Timestamp>,
    failed: Option<(Timestamp, String)>,
}

impl Row for StateRow {
    const TABLE: Table = Table::named("webhook_state");
}

/// A call that was given up: under the crew, the address and the call's id.
#[derive(Clone, Debug, Serialize, Deserialize)]
struct GivenUpRow {
    call: Call,
    at: Timestamp,
    why: String,
}

impl Row for GivenUpRow {
    const TABLE: Table = Table::named("webhook_given_up");
}

/// An address as a list shows it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct WebhookLine {
    /// Its number.
    pub webhook: Uuid,
    /// The address.
    pub url: String,
    /// When it is called.
    pub events: BTreeSet<WebhookEvent>,
    /// When it was set.
    pub set: Timestamp,
    /// When a call was last taken.
    pub delivered: Option<Timestamp>,
    /// When a call last failed, and why.
    pub failed: Option<(Timestamp, String)>,
    /// Calls that were given up, the oldest first.
    pub given_up: Vec<GivenUp>,
}

/// A call that was given up.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct GivenUp {
    /// What tells it from every other call.
    pub call: String,
    /// The job.
    pub job: JobId,
    /// What it tells.
    pub event: WebhookEvent,
    /// When it was given up.
    pub at: Timestamp,
    /// Why the last try failed.
    pub why: String,
}

impl Desk {
    /// Has an address called from now on; the same input twice sets it once.
    ///
    /// # Errors
    /// When the actor is no supervisor, the address cannot be used, or there are too many.
    pub async fn set_webhook(
        &self,
        key: InputKey,
        actor: &Actor,
        url: &str,
        events: &BTreeSet<WebhookEvent>,
    ) -> Result<WebhookLine, DeskError> {
        let url = usable(url, self.rules().webhooks_to_private)?;
        if events.is_empty() {
            return Err(not_understood("Say at least one event to be told of."));
        }
        let crew = actor.crew;
        let _turn = self.inner.queues.turn(crew.stream()).await;
        for _ in 0..TRIES {
            self.must_be_supervisor(actor, "set addresses to call")
                .await?;
            if let Some(made) = self.row::<MadeRow>(key.0.as_bytes()).await? {
                return self.webhook(actor, made.id).await;
            }
            let kept = self.rows::<WebhookRow>(crew.0.as_bytes()).await?;
            if kept.len() >= WEBHOOKS_MAX {
                return Err(DeskError::NotUnderstood(format!(
                    "Your crew has {WEBHOOKS_MAX} addresses already. Remove one first."
                )));
            }
            let now = self.now();
            let webhook = new_id(self.inner.parts.chance.as_ref(), now)?;
            // Before the batch, so that no call is ever made without a secret.
            self.draw_webhook_secret(webhook).await?;
            let row = WebhookRow {
                url: url.clone(),
                events: events.clone(),
                set: now,
            };
            let what = CrewWhat::WebhookSet {
                webhook,
                url: url.clone(),
                events: events.clone(),
            };
            let mut batch = Batch::handling(key.clone(), now);
            let expected = self.last(crew.stream()).await?;
            let hand = Hand::of(actor, now);
            batch
                .appends
                .push(hand.writes(crew.stream(), expected, vec![what])?);
            batch.index.push(put(under(crew, webhook), &row)?);
            batch
                .index
                .push(put(key.0.as_bytes(), &MadeRow { id: webhook })?);
            match self.keep(batch).await {
                Ok(Kept::Fresh) => return self.webhook_line(crew, webhook, row).await,
                // Another delivery was faster: its address is found next time.
                Ok(Kept::Before) | Err(DeskError::Busy) => {
                    self.store().erase_name(webhook).await?;
                }
                Err(error) => return Err(error),
            }
        }
        Err(DeskError::Busy)
    }

    /// The addresses that are called, the first set first.
    ///
    /// # Errors
    /// When the actor is no supervisor.
    pub async fn webhooks(&self, actor: &Actor) -> Result<Vec<WebhookLine>, DeskError> {
        self.must_be_supervisor(actor, "see addresses to call")
            .await?;
        let mut lines = Vec::new();
        for (key, row) in self.rows::<WebhookRow>(actor.crew.0.as_bytes()).await? {
            if let Some(webhook) = id_at_end(&key) {
                lines.push(self.webhook_line(actor.crew, webhook, row).await?);
            }
        }
        Ok(lines)
    }

    /// One address.
    ///
    /// # Errors
    /// When the actor is no supervisor, or the crew has no such address.
    pub async fn webhook(&self, actor: &Actor, webhook: Uuid) -> Result<WebhookLine, DeskError> {
        let row = self.webhook_row(actor, webhook).await?;
        self.webhook_line(actor.crew, webhook, row).await
    }

    /// The secret that signs the calls to an address, as the receiver writes it down.
    ///
    /// # Errors
    /// As [`Desk::webhook`].
    pub async fn webhook_secret(&self, actor: &Actor, webhook: Uuid) -> Result<String, DeskError> {
        self.webhook_row(actor, webhook).await?;
        let secret = self.store().name(webhook).await?;
        secret.ok_or_else(|| DeskError::Fault(format!("The secret of webhook {webhook} is gone.")))
    }

    /// Signs the calls to an address with a new secret from now on.
    ///
    /// # Errors
    /// As [`Desk::webhook`].
    pub async fn renew_webhook_secret(
        &self,
        key: InputKey,
        actor: &Actor,
        webhook: Uuid,
    ) -> Result<(), DeskError> {
        let _turn = self.inner.queues.turn(actor.crew.stream()).await;
        if self.is_done(&key, actor).await? {
            return Ok(());
        }
        self.webhook_row(actor, webhook).await?;
        // Before the batch, so that what says that it was renewed is never kept beside the old.
        self.draw_webhook_secret(webhook).await?;
        let what = CrewWhat::WebhookSecretRenewed { webhook };
        self.about_webhook(key, actor, webhook, (what, false)).await
    }

    /// Calls an address no more; what waits for it is let go.
    ///
    /// # Errors
    /// As [`Desk::webhook`].
    pub async fn remove_webhook(
        &self,
        key: InputKey,
        actor: &Actor,
        webhook: Uuid,
    ) -> Result<(), DeskError> {
        let _turn = self.inner.queues.turn(actor.crew.stream()).await;
        if self.is_done(&key, actor).await? {
            return Ok(());
        }
        self.webhook_row(actor, webhook).await?;
        // Before the batch, so that no secret outlives its address.
        self.store().erase_name(webhook).await?;
        let what = CrewWhat::WebhookRemoved { webhook };
        self.about_webhook(key, actor, webhook, (what, true)).await
    }

    /// Whether a supervisor did this already.
    async fn is_done(&self, key: &InputKey, actor: &Actor) -> Result<bool, DeskError> {
        self.must_be_supervisor(actor, "set addresses to call")
            .await?;
        self.was_handled(key).await
    }

    /// Writes about an address, and with `gone` takes away everything kept of it. Whoever calls
    /// this has the crew's turn.
    async fn about_webhook(
        &self,
        key: InputKey,
        actor: &Actor,
        webhook: Uuid,
        (what, gone): (CrewWhat, bool),
    ) -> Result<(), DeskError> {
        let crew = actor.crew;
        for _ in 0..TRIES {
            self.webhook_row(actor, webhook).await?;
            let now = self.now();
            let expected = self.last(crew.stream()).await?;
            let mut batch = Batch::handling(key.clone(), now);
            let hand = Hand::of(actor, now);
            batch
                .appends
                .push(hand.writes(crew.stream(), expected, vec![what.clone()])?);
            if gone {
                batch.index.push(remove::<WebhookRow>(under(crew, webhook)));
                batch.index.push(remove::<StateRow>(webhook));
                let given_up = self.rows::<GivenUpRow>(&under(crew, webhook)).await?;
                let rows = given_up.into_iter();
                batch
                    .index
                    .extend(rows.map(|(key, _)| remove::<GivenUpRow>(key)));
            }
            match self.keep(batch).await {
                Err(DeskError::Busy) => {}
                other => return other.map(drop),
            }
        }
        Err(DeskError::Busy)
    }

    async fn webhook_row(&self, actor: &Actor, webhook: Uuid) -> Result<WebhookRow, DeskError> {
        self.must_be_supervisor(actor, "see addresses to call")
            .await?;
        let row = self.row::<WebhookRow>(under(actor.crew, webhook)).await?;
        row.ok_or(DeskError::NotFound("webhook"))
    }

    /// Draws a secret and keeps it with the names: apart from the journal, in the backup, and
    /// erased when the address is removed.
    async fn draw_webhook_secret(&self, webhook: Uuid) -> Result<(), DeskError> {
        use base64::Engine;
        use base64::engine::general_purpose::STANDARD;
        let bytes: [u8; SECRET_BYTES] = secret(self.inner.parts.chance.as_ref())?;
        let text = format!("whsec_{}", STANDARD.encode(bytes));
        Ok(self.store().set_name(webhook, text).await?)
    }

    async fn webhook_line(
        &self,
        crew: CrewId,
        webhook: Uuid,
        row: WebhookRow,
    ) -> Result<WebhookLine, DeskError> {
        let state = self.row::<StateRow>(webhook).await?.unwrap_or_default();
        let given_up = self.rows::<GivenUpRow>(&under(crew, webhook)).await?;
        let given_up = given_up.into_iter().map(|(_, row)| GivenUp {
            call: row.call.id,
            job: row.call.job,
            event: row.call.event,
            at: row.at,
            why: row.why,
        });
        Ok(WebhookLine {
            webhook,
            url: row.url,
            events: row.events,
            set: row.set,
            delivered: state.delivered,
            failed: state.failed,
            given_up: given_up.collect(),
        })
    }

    /// The addresses of a crew that want to be told of one of these.
    async fn told_of(
        &self,
        crew: CrewId,
        events: &BTreeSet<WebhookEvent>,
    ) -> Result<BTreeMap<Uuid, WebhookRow>, DeskError> {
        let rows = self.rows::<WebhookRow>(crew.0.as_bytes()).await?;
        let wants = |row: &WebhookRow| !row.events.is_disjoint(events);
        let numbered = rows.into_iter().filter(|(_, row)| wants(row));
        Ok(numbered
            .filter_map(|(key, row)| Some((id_at_end(&key)?, row)))
            .collect())
    }
}

fn under(crew: CrewId, webhook: Uuid) -> Vec<u8> {
    row_key(&[crew.0.as_bytes(), webhook.as_bytes()])
}

/// An address as it will be called.
fn usable(url: &str, to_private: bool) -> Result<String, DeskError> {
    let url = url.trim();
    let read = reqwest::Url::parse(url).ok();
    let read = read.filter(|read| read.has_host() && url.chars().count() <= URL_CHARACTERS_MAX);
    let Some(read) = read else {
        return Err(not_understood(
            "Write the whole address, like https://office.example/fanwright.",
        ));
    };
    match read.scheme() {
        "https" => {}
        "http" if to_private => {}
        _ => return Err(not_understood("The address must begin with https://.")),
    }
    if !read.username().is_empty() || read.password().is_some() || read.fragment().is_some() {
        return Err(not_understood(
            "The address may hold no name, no password and no part after a #.",
        ));
    }
    Ok(read.to_string())
}

fn not_understood(sentence: &str) -> DeskError {
    DeskError::NotUnderstood(sentence.to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_a_whole_encrypted_address_can_be_used() {
        assert_eq!(
            usable(" https://office.example/a?b=c ", false).unwrap(),
            "https://office.example/a?b=c"
        );
        assert!(usable("http://127.0.0.1:1/", true).is_ok());
        let long = format!("https://office.example/{}", "x".repeat(500));
        for wrong in [
            "",
            "office.example",
            "http://office.example/",
            "ftp://office.example/",
            "https://",
            "file:///etc/passwd",
            "https://a:b@office.example/",
            "https://office.example/#part",
            &long,
        ] {
            assert!(usable(wrong, false).is_err(), "{wrong}");
        }
    }
}
