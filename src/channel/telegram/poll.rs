//! Fetching updates by long polling.

use std::time::Duration;

use serde_json::value::RawValue;
use teloxide::RequestError;
use teloxide::payloads::GetUpdatesSetters;
use teloxide::requests::Requester;
use teloxide::types::AllowedUpdate;
use tokio::sync::watch;
use tokio_util::sync::CancellationToken;

use super::intake::Intake;
use super::line::{Line, read};

/// How long the platform may hold an empty answer back.
pub(super) const HELD_MAX: Duration = Duration::from_secs(25);

/// What is unfinished the platform sends again at once; where nothing else came, so long is waited
/// for some of it to be finished.
const PATIENCE: Duration = Duration::from_millis(250);

/// What came together is mostly finished together; so long is waited for all of it, so that it is
/// not fetched again. What takes longer holds up nobody.
const TOGETHER: Duration = Duration::from_millis(20);

/// After a failure so long is waited, and twice as long after each more.
const AFTER_FAILURE: Duration = Duration::from_millis(100);

/// But no longer than this.
const AFTER_FAILURE_MAX: Duration = Duration::from_millis(1_600);

/// What the bot wants to hear of.
pub(super) fn wanted() -> Vec<AllowedUpdate> {
    vec![
        AllowedUpdate::Message,
        AllowedUpdate::EditedMessage,
        AllowedUpdate::CallbackQuery,
        AllowedUpdate::MyChatMember,
        AllowedUpdate::InlineQuery,
    ]
}

/// Fetches updates until the shutdown; confirms those that are finished.
pub(super) async fn poll(line: Line, intake: Intake, shutdown: CancellationToken) {
    let mut failures = 0;
    loop {
        while !intake.has_room() {
            tokio::select! {
                biased;
                () = shutdown.cancelled() => return,
                _ = tokio::time::timeout(PATIENCE, intake.progress()) => {}
            }
        }
        let fetched = tokio::select! {
            biased;
            () = shutdown.cancelled() => return,
            fetched = fetch(&line, &intake, HELD_MAX) => fetched,
        };
        let wait = match fetched {
            Ok(Fetched { new, count }) => {
                failures = 0;
                if !new.is_empty() {
                    drop(tokio::time::timeout(TOGETHER, finished(new)).await);
                } else if count > 0 {
                    drop(tokio::time::timeout(PATIENCE, intake.progress()).await);
                }
                continue;
            }
            Err(RequestError::RetryAfter(seconds)) => seconds.duration(),
            Err(error) => {
                tracing::warn!(%error, "updates could not be fetched; again soon");
                failures += 1;
                after(failures)
            }
        };
        tokio::select! {
            biased;
            () = shutdown.cancelled() => return,
            () = tokio::time::sleep(wait) => {}
        }
    }
}

/// How long to wait after so many failures.
fn after(failures: u32) -> Duration {
    let doubled = 2_u32.saturating_pow(failures.saturating_sub(1));
    AFTER_FAILURE.saturating_mul(doubled).min(AFTER_FAILURE_MAX)
}

/// Returns when all of these are finished.
async fn finished(updates: Vec<watch::Receiver<bool>>) {
    for mut update in updates {
        // Its sender lives until it is finished.
        drop(update.wait_for(|is_finished| *is_finished).await);
    }
}

/// What was fetched.
struct Fetched {
    /// Those that came for the first time.
    new: Vec<watch::Receiver<bool>>,
    /// How many came in all.
    count: usize,
}

async fn fetch(line: &Line, intake: &Intake, held: Duration) -> Result<Fetched, RequestError> {
    let mut get = line
        .bot()
        .get_updates()
        .timeout(u32::try_from(held.as_secs()).unwrap_or_default())
        .allowed_updates(wanted());
    if let Some(offset) = intake.offset() {
        get = get.offset(i32::try_from(offset).unwrap_or(i32::MAX));
    }
    let answer = line.text(get, Vec::new()).await?;
    let updates: Vec<&RawValue> = read(&answer)?;
    let taken = updates
        .iter()
        .filter_map(|update| intake.take_fetched(update.get()));
    let new = taken
        .filter(|taken| taken.is_new)
        .map(|taken| taken.finished);
    Ok(Fetched {
        new: new.collect(),
        count: updates.len(),
    })
}

/// Tells the platform what is finished, so that it is not sent again after a restart.
pub(super) async fn confirm(line: &Line, intake: &Intake) {
    let Some(offset) = intake.offset() else {
        return;
    };
    let offset = i32::try_from(offset).unwrap_or(i32::MAX);
    let bot = line.bot();
    let confirm = bot.get_updates().offset(offset).limit(1).timeout(0);
    if let Err(error) = line.send(confirm).await {
        tracing::info!(%error, "the last updates could not be confirmed; they are known anyway");
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nobody_waits_two_seconds_for_the_next_fetch() {
        let waits: Vec<u128> = (1..8).map(|failures| after(failures).as_millis()).collect();
        assert_eq!(waits, [100, 200, 400, 800, 1_600, 1_600, 1_600]);
    }
}
