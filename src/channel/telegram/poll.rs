//! Fetching updates by long polling.

use std::time::Duration;

use teloxide::RequestError;
use teloxide::payloads::GetUpdatesSetters;
use teloxide::requests::Requester;
use teloxide::types::AllowedUpdate;
use tokio_util::sync::CancellationToken;

use super::intake::Intake;
use super::line::Line;

/// How long the platform may hold an empty answer back.
pub(super) const HELD_MAX: Duration = Duration::from_secs(25);

/// While something is unfinished the platform sends it again at once; so long is waited.
const PATIENCE: Duration = Duration::from_millis(250);

/// After a failure so long is waited.
const AFTER_FAILURE: Duration = Duration::from_secs(1);

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
    loop {
        let fetched = tokio::select! {
            biased;
            () = shutdown.cancelled() => return,
            fetched = fetch(&line, &intake, HELD_MAX) => fetched,
        };
        let wait = match fetched {
            Ok(()) => Duration::ZERO,
            Err(RequestError::RetryAfter(seconds)) => seconds.duration(),
            Err(error) => {
                tracing::warn!(%error, "updates could not be fetched; again soon");
                AFTER_FAILURE
            }
        };
        tokio::select! {
            biased;
            () = shutdown.cancelled() => return,
            () = tokio::time::sleep(wait) => {}
        }
        // Whatever takes longer is fetched again and recognised.
        drop(tokio::time::timeout(PATIENCE, intake.settled()).await);
        while !intake.has_room() {
            tokio::select! {
                () = shutdown.cancelled() => return,
                () = tokio::time::sleep(AFTER_FAILURE) => {}
            }
        }
    }
}

async fn fetch(line: &Line, intake: &Intake, held: Duration) -> Result<(), RequestError> {
    let mut get = line
        .bot()
        .get_updates()
        .timeout(u32::try_from(held.as_secs()).unwrap_or_default())
        .allowed_updates(wanted());
    if let Some(offset) = intake.offset() {
        get = get.offset(i32::try_from(offset).unwrap_or(i32::MAX));
    }
    for update in line.send(get).await? {
        drop(intake.take(&update));
    }
    Ok(())
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
