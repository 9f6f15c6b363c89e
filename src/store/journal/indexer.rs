//! The one thread that carries changes from memory into the index's files.

use std::sync::Arc;
use std::sync::atomic::Ordering;
use std::sync::mpsc::{Receiver, RecvTimeoutError, SyncSender, sync_channel};
use std::time::Duration;

use super::Shared;
use crate::metrics::metrics;
use crate::store::StoreError;
use crate::store::index::{Index, Sheet, Taken, keys};

/// The changes carried in one step at opening, unless a single frame has more.
pub(super) const CHANGES_AT_ONCE: usize = 20_000;

/// Blocks of forgotten inputs removed in one step.
const FORGOTTEN_AT_ONCE: usize = 1_000;

/// So long changes gather before they are carried, unless they are many. Nobody waits for them:
/// they are in the journal, and read from memory. After the end of the process that many frames
/// are read once more.
const GATHER: Duration = Duration::from_secs(1);

/// The way that words take to the indexer. One that waits stands for all that come meanwhile.
pub(super) fn channel() -> (SyncSender<()>, Receiver<()>) {
    sync_channel(1)
}

/// Works until the committer is gone, or until the index fails.
pub(super) fn run(shared: &Arc<Shared>, words: &Receiver<()>) {
    let mut is_rest_left = false;
    loop {
        // The first word says that there is something to do, the next that there is much.
        let begun = match is_rest_left {
            true => Ok(()),
            false => words.recv().map_err(|_| RecvTimeoutError::Disconnected),
        };
        let gathered = begun.and_then(|()| words.recv_timeout(GATHER));
        is_rest_left = match carry(shared) {
            Ok(is_rest_left) => is_rest_left,
            Err(Stopped) => return,
        };
        if matches!(gathered, Err(RecvTimeoutError::Disconnected)) {
            return;
        }
    }
}

/// The index took no more.
pub(super) struct Stopped;

/// Carries what is on the disk; whether there is something that is not yet.
pub(super) fn carry(shared: &Shared) -> Result<bool, Stopped> {
    let durable = shared.durable.load(Ordering::Acquire);
    let sheet = match shared.overlay.take(durable) {
        Taken::Nothing => return Ok(false),
        Taken::NotYet => return Ok(true),
        Taken::Sheet(sheet) => sheet,
    };
    apply(shared.index.as_ref(), &sheet).map_err(|why| {
        tracing::error!(%why, "the index stops following the journal");
        shared.heed(&why);
        Stopped
    })?;
    metrics().index_is_at(sheet.mark().frame);
    Ok(false)
}

/// Carries changes into the index and clears away inputs that are no longer remembered.
pub(super) fn apply(index: &dyn Index, sheet: &Sheet) -> Result<(), StoreError> {
    // The latest input of this step tells the time; without one there is nothing to clear away.
    let forgotten = match sheet.newest_inputs() {
        Some(day) => {
            let kept = keys::inputs_from(day.first_kept());
            index.keys_between(&keys::all_inputs(), &kept, FORGOTTEN_AT_ONCE)?
        }
        None => Vec::new(),
    };
    index.apply(sheet, &forgotten)
}
