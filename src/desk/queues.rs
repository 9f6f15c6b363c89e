//! Waiting in line for a stream that many write to.
//!
//! The store refuses whoever writes behind an end that has moved on. Waiting in line within this
//! process keeps that from happening again and again when a whole crew joins at once.

use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError};

use tokio::sync::{Mutex as Queue, OwnedMutexGuard};

use crate::record::stream::StreamId;

/// So many lines are kept before those that nobody stands in are let go.
const LINES_MAX: usize = 1_024;

/// A line for every stream that was asked for.
#[derive(Default)]
pub(super) struct Queues {
    lines: Mutex<HashMap<StreamId, Arc<Queue<()>>>>,
}

impl Queues {
    /// Waits until it is this caller's turn; the turn ends when the answer is dropped.
    pub(super) async fn turn(&self, stream: StreamId) -> OwnedMutexGuard<()> {
        let line = {
            // Nothing that touches the map can panic half-way.
            let mut lines = self.lines.lock().unwrap_or_else(PoisonError::into_inner);
            if lines.len() >= LINES_MAX {
                lines.retain(|_, line| Arc::strong_count(line) > 1);
            }
            Arc::clone(lines.entry(stream).or_default())
        };
        line.lock_owned().await
    }
}
