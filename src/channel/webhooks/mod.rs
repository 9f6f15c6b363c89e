//! Calls other programs when something happened to a job, signed as the Standard Webhooks
//! specification has it (standardwebhooks.com, version 1.0.0).
//!
//! What is called, in which order and how often is the desk's; here is one try after the other.

mod guard;
mod sign;

use std::error::Error;
use std::sync::Arc;
use std::time::Duration;

use futures_util::future::join_all;
use jiff::Timestamp;
use reqwest::header::CONTENT_TYPE;
use reqwest::redirect::Policy;
use reqwest::{Client, Url};
use tokio_util::sync::CancellationToken;

use crate::desk::webhooks::CallOut;
use crate::desk::{Desk, DeskError};
use crate::metrics::metrics;
use guard::Guard;

pub use guard::is_public;
pub use sign::signature;

/// How long a receiver may take to answer.
const ANSWER_WITHIN: Duration = Duration::from_secs(10);

/// So many calls are made at the same time.
const AT_ONCE: usize = 32;

/// How often the outbox is looked at.
const LOOKED_AT_EVERY: Duration = Duration::from_secs(1);

/// Tells the time of day.
pub type Now = Arc<dyn Fn() -> Timestamp + Send + Sync>;

/// Makes the calls that the desk wants made.
pub struct Webhooks {
    desk: Desk,
    client: Client,
    guard: Guard,
    now: Now,
}

impl Webhooks {
    /// Calls for this desk.
    ///
    /// # Errors
    /// A sentence for the operator, when no encrypted line can be set up.
    pub fn new(desk: Desk, now: Now) -> Result<Webhooks, String> {
        let guard = Guard {
            to_private: desk.rules().webhooks_to_private,
        };
        let client = Client::builder()
            .redirect(Policy::none())
            .no_proxy()
            .timeout(ANSWER_WITHIN)
            .dns_resolver(Arc::new(guard))
            .user_agent(concat!("Fanwright/", env!("CARGO_PKG_VERSION")))
            .build()
            .map_err(|error| format!("Other programs cannot be called: {error}."))?;
        Ok(Webhooks {
            desk,
            client,
            guard,
            now,
        })
    }

    /// Makes calls until the shutdown.
    pub async fn run(self, shutdown: CancellationToken) {
        loop {
            if let Err(error) = self.look().await {
                let error = error.for_the_log();
                tracing::error!(error, "calls to other programs cannot be made");
            }
            tokio::select! {
                () = shutdown.cancelled() => return,
                () = tokio::time::sleep(LOOKED_AT_EVERY) => {}
            }
        }
    }

    /// Makes every call that is due, and says when the next one is.
    ///
    /// # Errors
    /// When the store cannot be read or cannot keep how it went.
    pub async fn look(&self) -> Result<Option<Timestamp>, DeskError> {
        loop {
            let (out, next) = self.desk.calls_due(AT_ONCE).await?;
            if out.is_empty() {
                return Ok(next);
            }
            for went in join_all(out.iter().map(|call| self.call(call))).await {
                went?;
            }
        }
    }

    async fn call(&self, out: &CallOut) -> Result<(), DeskError> {
        match self.attempt(out).await {
            Ok(()) => {
                metrics().called("taken");
                self.desk.call_taken(out).await
            }
            Err(why) => {
                metrics().called("failed");
                let webhook = out.call.webhook;
                tracing::info!(%webhook, attempts = out.attempts + 1, why, "a call failed");
                self.desk.call_failed(out, &why).await
            }
        }
    }

    /// One try; what went wrong is a sentence.
    async fn attempt(&self, out: &CallOut) -> Result<(), String> {
        let url = Url::parse(&out.url).map_err(|_| "The address cannot be read.".to_owned())?;
        if !self.guard.lets_pass(&url) {
            return Err(guard::PRIVATE.to_owned());
        }
        let timestamp = (self.now)().as_second();
        let call = &out.call;
        let signature = sign::signature(&out.secret, &call.id, timestamp, &call.body)
            .ok_or_else(|| "The secret of this address cannot be read.".to_owned())?;
        let request = self
            .client
            .post(url)
            .header(CONTENT_TYPE, "application/json")
            .header("webhook-id", &call.id)
            .header("webhook-timestamp", timestamp)
            .header("webhook-signature", signature)
            .body(call.body.clone());
        // The status is all that matters; whatever follows it is not read.
        let answered = request.send().await.map_err(|error| in_words(&error))?;
        let status = answered.status();
        if status.is_success() {
            return Ok(());
        }
        Err(format!("It answered {}.", status.as_u16()))
    }
}

fn in_words(error: &reqwest::Error) -> String {
    if error.is_timeout() {
        let seconds = ANSWER_WITHIN.as_secs();
        return format!("It did not answer within {seconds} seconds.");
    }
    let mut deepest: &dyn Error = error;
    while let Some(deeper) = deepest.source() {
        deepest = deeper;
    }
    let told = deepest.to_string();
    match told.strip_suffix('.') {
        Some(_) => told,
        None => format!("No connection: {told}."),
    }
}
