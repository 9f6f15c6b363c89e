//! The one thread that carries changes from memory into the index's files.

use std::sync::Arc;
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};

use super::Shared;
use super::committer::Indexed;
use super::folder::distrust_index;
use crate::metrics::metrics;
use crate::store::codec::time_from;
use crate::store::index::{Changes, Index, Watermark, keys};
use crate::store::{INPUTS_KEPT, StoreError};

/// How many rounds may wait for the index before the journal waits too.
const ROUNDS_WAITING_MAX: usize = 64;

/// The changes carried in one step, unless a single round has more.
pub(super) const CHANGES_AT_ONCE: usize = 20_000;

/// Forgotten inputs removed in one step.
const FORGOTTEN_AT_ONCE: usize = 1_000;

/// The way that changes take to the indexer.
pub(super) fn channel() -> (SyncSender<Indexed>, Receiver<Indexed>) {
    sync_channel(ROUNDS_WAITING_MAX)
}

/// Works until the committer sends no more, or until the index fails.
pub(super) fn run(shared: &Arc<Shared>, jobs: &Receiver<Indexed>) {
    while let Ok(first) = jobs.recv() {
        if !carry(shared, first, jobs) {
            return;
        }
    }
}

/// Carries this and what else waits, as far as it goes in one step; whether the index took it.
pub(super) fn carry(shared: &Shared, first: Indexed, jobs: &Receiver<Indexed>) -> bool {
    let Indexed {
        mut changes,
        mut mark,
    } = first;
    while changes.len() < CHANGES_AT_ONCE {
        let Ok(job) = jobs.try_recv() else { break };
        changes.extend(job.changes);
        mark = job.mark;
    }
    if let Err(why) = apply(shared.index.as_ref(), &mut changes, mark) {
        tracing::error!(%why, "the index stops following the journal");
        if let Err(why) = distrust_index(&shared.folder) {
            tracing::error!(%why, "a rebuild of the index could not be asked for");
        }
        return false;
    }
    shared.overlay.retire(mark.frame, &changes);
    metrics().index_is_at(mark.frame);
    true
}

/// Carries changes into the index and clears away inputs that are no longer remembered.
pub(super) fn apply(
    index: &dyn Index,
    changes: &mut Changes,
    mark: Watermark,
) -> Result<(), StoreError> {
    forget_old_inputs(index, changes)?;
    index.apply(changes, mark)
}

fn forget_old_inputs(index: &dyn Index, changes: &mut Changes) -> Result<(), StoreError> {
    let by_time = keys::inputs_by_time();
    // The latest input of this step tells the time; without one there is nothing to clear away.
    let newest = changes.range(by_time.clone()..keys::notices()).next_back();
    let newest = newest.and_then(|(key, _)| keys::input_of_time(key));
    let Some(now) = newest.and_then(|(_, at)| time_from(at)) else {
        return Ok(());
    };
    let Ok(oldest_kept) = now.checked_sub(INPUTS_KEPT) else {
        return Ok(());
    };
    let old = index.keys_between(&by_time, &keys::inputs_from(oldest_kept), FORGOTTEN_AT_ONCE)?;
    for key in old {
        let Some((input, at)) = keys::input_of_time(&key) else {
            continue;
        };
        // An input handled again since then is remembered under its later time.
        if !changes.contains_key(&input) && index.get(&input)?.as_deref() == Some(&at) {
            changes.insert(input, None);
        }
        changes.entry(key).or_insert(None);
    }
    Ok(())
}
