//! Answers to other programs, kept so that a request that comes twice is answered alike.
//!
//! A program names each of its requests. Before a request is handled its name and the hash of all
//! that it asks for are kept; after it, the answer. Whoever repeats the request gets that answer,
//! also after a crash between the two: what the request does carries an input key made of its
//! name, so that it is done once.

use jiff::{SignedDuration, Timestamp};
use serde::{Deserialize, Serialize};

use super::Desk;
use super::error::DeskError;
use super::tables::{Row, earliest_first, key as row_key, put, remove, time_of};
use super::tokens::Caller;
use crate::record::chain::Hash;
use crate::store::{Batch, INPUTS_KEPT, IndexChange, InputKey, Table};

/// So many answers whose time is over are let go with every new request.
const LET_GO_AT_ONCE: usize = 8;

/// Names of requests by the time when they are let go: time, token and name.
const BY_TIME: Table = Table::named("api_request_by_time");

/// An answer as it was given.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct KeptAnswer {
    /// The status of it.
    pub status: u16,
    /// The headers worth repeating.
    pub headers: Vec<(String, String)>,
    /// The body.
    pub body: String,
}

/// A request under its token and the hash of its name.
#[derive(Clone, Debug, Serialize, Deserialize)]
struct RequestRow {
    /// The hash of all that it asks for.
    asks: Hash,
    answer: Option<KeptAnswer>,
}

impl Row for RequestRow {
    const TABLE: Table = Table::named("api_request");
}

/// What is known of a request's name.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Begun {
    /// It was not answered yet; it is to be handled under this key.
    ToHandle(InputKey),
    /// It was answered.
    Answered(KeptAnswer),
    /// The name belongs to a request that asked for something else.
    AskedOtherwise,
}

impl Desk {
    /// Takes note of a request before it is handled.
    ///
    /// # Errors
    /// When the store cannot keep it.
    pub async fn begin_request(
        &self,
        caller: &Caller,
        name: &str,
        asks: Hash,
    ) -> Result<Begun, DeskError> {
        let key = request_key(caller, name);
        let input = InputKey(format!(
            "api:{}:{}",
            caller.token(),
            Hash::of(name.as_bytes())
        ));
        let now = self.now();
        let kept = self.row::<RequestRow>(key.clone()).await?;
        match kept {
            Some(row) if row.asks != asks => return Ok(Begun::AskedOtherwise),
            Some(RequestRow {
                answer: Some(answer),
                ..
            }) => return Ok(Begun::Answered(answer)),
            Some(_) => return Ok(Begun::ToHandle(input)),
            None => {}
        }
        let mut batch = Batch::new(now);
        self.let_go(&mut batch, now).await?;
        let row = RequestRow { asks, answer: None };
        batch.index.push(put(key.clone(), &row)?);
        // A little longer than the input's key is remembered, so that the name never means
        // something new while the key still stands for the old.
        let until = now + SignedDuration::from_secs(INPUTS_KEPT.as_secs().cast_signed() + 3_600);
        let by_time = row_key(&[&earliest_first(until), &key]);
        batch.index.push(IndexChange::put(BY_TIME, by_time, []));
        self.keep(batch).await?;
        Ok(Begun::ToHandle(input))
    }

    /// Keeps the answer to a request, for whoever repeats it.
    ///
    /// # Errors
    /// When the store cannot keep it.
    pub async fn answer_request(
        &self,
        caller: &Caller,
        name: &str,
        (asks, answer): (Hash, KeptAnswer),
    ) -> Result<(), DeskError> {
        let row = RequestRow {
            asks,
            answer: Some(answer),
        };
        let mut batch = Batch::new(self.now());
        batch.index.push(put(request_key(caller, name), &row)?);
        self.keep(batch).await.map(drop)
    }

    async fn let_go(&self, batch: &mut Batch, now: Timestamp) -> Result<(), DeskError> {
        let oldest = self
            .store()
            .scan(BY_TIME, Vec::new(), None, LET_GO_AT_ONCE)
            .await?;
        for row in oldest.items {
            let Some((until, key)) = row.key.split_first_chunk::<8>() else {
                continue;
            };
            if time_of(until).is_some_and(|until| until < now) {
                batch.index.push(remove::<RequestRow>(key));
                batch.index.push(IndexChange::remove(BY_TIME, row.key));
            }
        }
        Ok(())
    }
}

fn request_key(caller: &Caller, name: &str) -> Vec<u8> {
    let Hash(name) = Hash::of(name.as_bytes());
    row_key(&[caller.token().as_bytes(), &name])
}
