//! Calls that wait: written with the entries that they tell of, called in order, tried again.

use std::collections::{BTreeMap, BTreeSet};

use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::{GivenUpRow, StateRow, WebhookRow, under, wait};
use crate::desk::Desk;
use crate::desk::actor::Actor;
use crate::desk::card::phase;
use crate::desk::chance::secret;
use crate::desk::error::DeskError;
use crate::desk::floor::Work;
use crate::desk::id::{CrewId, JobId};
use crate::desk::keep::{Hand, TRIES};
use crate::desk::screen::{EvaporatorLabel, Phase};
use crate::desk::tables::{key as row_key, put, read, remove, written};
use crate::flow::name::FlowName;
use crate::record::around::{CrewWhat, WebhookEvent};
use crate::record::entry::{Entry, What};
use crate::record::person::PersonId;
use crate::store::{Batch, Delivery, DeliveryMark, InputKey, NewNotice, NoticeId, PendingNotice};

/// What the address of a notice to another program begins with.
const WEBHOOK: &str = "webhook:";

/// How many notices are read at once.
const READ_AT_ONCE: usize = 256;

/// The most characters that are kept of why a call failed.
const WHY_CHARACTERS_MAX: usize = 200;

/// One call: what is told, and about what.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Call {
    /// The crew.
    pub crew: CrewId,
    /// The number of the address.
    pub webhook: Uuid,
    /// What tells it from every other call; the same at every try.
    pub id: String,
    /// The job.
    pub job: JobId,
    /// What is told.
    pub event: WebhookEvent,
    /// The body as it is sent.
    pub body: String,
}

/// A call to be made now.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CallOut {
    /// Its place in the outbox.
    pub notice: NoticeId,
    /// How often it was tried in vain.
    pub attempts: u32,
    /// The address.
    pub url: String,
    /// The secret that signs it.
    pub secret: String,
    /// What is told.
    pub call: Call,
}

/// The body of a call: the type, the time and the data, as the Standard Webhooks specification
/// has it. No names: they can be asked for.
#[derive(Serialize)]
struct Body<'a> {
    #[serde(rename = "type")]
    kind: String,
    timestamp: Timestamp,
    data: Data<'a>,
}

#[derive(Serialize)]
struct Data<'a> {
    job: JobId,
    /// The place of the entry that this tells of; of two calls about a job the later has more.
    entry: u64,
    phase: Phase,
    evaporator: &'a EvaporatorLabel,
    flow: &'a FlowName,
    /// Who did it.
    person: Option<PersonId>,
}

impl Desk {
    /// Puts calls about these entries of a job into the batch that keeps them.
    pub(in crate::desk) async fn put_out_calls(
        &self,
        batch: &mut Batch,
        (before, after): (&Work, &Work),
        entries: &[Entry],
    ) -> Result<(), DeskError> {
        let told: Vec<(WebhookEvent, u64, &Entry)> = entries
            .iter()
            .zip(before.seq().next().0..)
            .filter_map(|(entry, place)| Some((event(&entry.what)?, place, entry)))
            .collect();
        let events: BTreeSet<WebhookEvent> = told.iter().map(|(event, ..)| *event).collect();
        if events.is_empty() || after.state.pins.training {
            return Ok(());
        }
        let addresses = self.told_of(after.crew, &events).await?;
        if addresses.is_empty() {
            return Ok(());
        }
        let evaporator = self.evaporator_label(after.evaporator).await?;
        for (event, place, entry) in told {
            let body = Body {
                kind: format!("job.{}", event.word()),
                timestamp: entry.at,
                data: Data {
                    job: after.job,
                    entry: place,
                    phase: phase(&after.state),
                    evaporator: &evaporator,
                    flow: &after.state.pins.flow,
                    person: entry.who,
                },
            };
            let body = String::from_utf8_lossy(&written(&body)?).into_owned();
            for (webhook, row) in &addresses {
                if row.events.contains(&event) {
                    let call = Call {
                        crew: after.crew,
                        webhook: *webhook,
                        id: format!("{}_{place}", after.job.0.simple()),
                        job: after.job,
                        event,
                        body: body.clone(),
                    };
                    // Times of entries never go back; a clock that does holds no call up.
                    let due = batch.at.min(self.now());
                    batch.notices.push(notice(&call, due)?);
                }
            }
        }
        Ok(())
    }

    /// The calls to be made now, at most `limit`, and when the next one is due after that.
    ///
    /// Of the calls about one job to one address only the first counts.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub async fn calls_due(
        &self,
        limit: usize,
    ) -> Result<(Vec<CallOut>, Option<Timestamp>), DeskError> {
        let now = self.now();
        let (mut out, mut next): (Vec<CallOut>, Option<Timestamp>) = (Vec::new(), None);
        for (pending, call) in self.first_calls().await? {
            if pending.due > now || out.len() >= limit {
                let due = pending.due.max(now);
                next = Some(next.map_or(due, |other| other.min(due)));
                continue;
            }
            let row = self
                .row::<WebhookRow>(under(call.crew, call.webhook))
                .await?;
            let secret = self.store().name(call.webhook).await?;
            match (row, secret) {
                (Some(row), Some(secret)) => out.push(CallOut {
                    notice: pending.id,
                    attempts: pending.attempts,
                    url: row.url,
                    secret,
                    call,
                }),
                // The address was removed while the call waited.
                _ => self.mark(vec![mark(pending.id, Delivery::GivenUp)]).await?,
            }
        }
        Ok((out, next))
    }

    /// The first waiting call to each address about each job.
    async fn first_calls(&self) -> Result<Vec<(PendingNotice, Call)>, DeskError> {
        let mut first: BTreeMap<(Uuid, JobId), (PendingNotice, Call)> = BTreeMap::new();
        let mut after = None;
        loop {
            let page = self
                .store()
                .notices_pending(Timestamp::MAX, after, READ_AT_ONCE)
                .await?;
            for pending in page.items {
                if !is_call(&pending.address) {
                    continue;
                }
                let call: Call = read(&pending.payload)?;
                let line = (call.webhook, call.job);
                if first
                    .get(&line)
                    .is_none_or(|(other, _)| pending.id < other.id)
                {
                    first.insert(line, (pending, call));
                }
            }
            after = page.next;
            if after.is_none() {
                let mut first: Vec<_> = first.into_values().collect();
                first.sort_by_key(|(pending, _)| (pending.due, pending.id));
                return Ok(first);
            }
        }
    }

    /// A call was taken.
    ///
    /// # Errors
    /// When the store cannot keep it; the call is then made once more.
    pub async fn call_taken(&self, out: &CallOut) -> Result<(), DeskError> {
        let now = self.now();
        let mut batch = Batch::new(now);
        batch.marks.push(mark(out.notice, Delivery::Delivered));
        let mut state = self.call_state(out).await?;
        state.delivered = Some(now);
        batch.index.push(put(out.call.webhook, &state)?);
        self.keep(batch).await.map(drop)
    }

    /// A call failed: it is tried again later, or given up.
    ///
    /// # Errors
    /// When the store cannot keep it; the call is then made once more.
    pub async fn call_failed(&self, out: &CallOut, why: &str) -> Result<(), DeskError> {
        let why: String = why.chars().take(WHY_CHARACTERS_MAX).collect();
        let [drawn] = secret(self.inner.parts.chance.as_ref())?;
        let Some(wait) = wait::after(out.attempts.saturating_add(1), drawn) else {
            return self.give_up(out, why).await;
        };
        let now = self.now();
        let due = now.saturating_add(wait).unwrap_or(now);
        let mut batch = Batch::new(now);
        batch.marks.push(mark(out.notice, Delivery::Retry { due }));
        let mut state = self.call_state(out).await?;
        state.failed = Some((now, why));
        batch.index.push(put(out.call.webhook, &state)?);
        self.keep(batch).await.map(drop)
    }

    async fn call_state(&self, out: &CallOut) -> Result<StateRow, DeskError> {
        let state = self.row::<StateRow>(out.call.webhook).await?;
        Ok(state.unwrap_or_default())
    }

    async fn give_up(&self, out: &CallOut, why: String) -> Result<(), DeskError> {
        let Call { crew, webhook, .. } = out.call;
        let _turn = self.inner.queues.turn(crew.stream()).await;
        for _ in 0..TRIES {
            let now = self.now();
            let expected = self.last(crew.stream()).await?;
            let what = CrewWhat::WebhookGivenUp {
                webhook,
                event: out.call.id.clone(),
            };
            let mut state = self.call_state(out).await?;
            state.failed = Some((now, why.clone()));
            let row = GivenUpRow {
                call: out.call.clone(),
                at: now,
                why: why.clone(),
            };
            let mut batch = Batch::new(now);
            let hand = Hand::server(now);
            batch
                .appends
                .push(hand.writes(crew.stream(), expected, vec![what])?);
            batch.marks.push(mark(out.notice, Delivery::GivenUp));
            batch.index.push(put(webhook, &state)?);
            batch
                .index
                .push(put(given_up_key(crew, webhook, &out.call.id), &row)?);
            match self.keep(batch).await {
                Err(DeskError::Busy) => {}
                other => return other.map(drop),
            }
        }
        Err(DeskError::Busy)
    }

    /// Makes a call that was given up once more, from the first try on.
    ///
    /// # Errors
    /// When the actor is no supervisor, or no such call was given up.
    pub async fn call_again(
        &self,
        key: InputKey,
        actor: &Actor,
        webhook: Uuid,
        call: &str,
    ) -> Result<(), DeskError> {
        self.webhook_row(actor, webhook).await?;
        if self.was_handled(&key).await? {
            return Ok(());
        }
        let place = given_up_key(actor.crew, webhook, call);
        let row = self.row::<GivenUpRow>(place.clone()).await?;
        let row = row.ok_or(DeskError::NotFound("call"))?;
        let mut batch = Batch::handling(key, self.now());
        batch.notices.push(notice(&row.call, batch.at)?);
        batch.index.push(remove::<GivenUpRow>(place));
        self.keep(batch).await.map(drop)
    }
}

/// Whether a notice with this address is a call to another program.
pub(in crate::desk) fn is_call(address: &str) -> bool {
    address.starts_with(WEBHOOK)
}

fn event(what: &What) -> Option<WebhookEvent> {
    match what {
        What::HandedIn => Some(WebhookEvent::HandedIn),
        What::SentBack { .. } => Some(WebhookEvent::SentBack),
        What::Accepted { .. } => Some(WebhookEvent::Accepted),
        What::LeftLockedOut { .. } => Some(WebhookEvent::LeftLockedOut),
        _ => None,
    }
}

fn notice(call: &Call, due: Timestamp) -> Result<NewNotice, DeskError> {
    Ok(NewNotice {
        address: format!("{WEBHOOK}{}", call.webhook),
        payload: written(call)?,
        due,
    })
}

fn mark(notice: NoticeId, outcome: Delivery) -> DeliveryMark {
    DeliveryMark { notice, outcome }
}

fn given_up_key(crew: CrewId, webhook: Uuid, call: &str) -> Vec<u8> {
    row_key(&[crew.0.as_bytes(), webhook.as_bytes(), call.as_bytes()])
}
