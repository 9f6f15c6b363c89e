//! Telling whoever keeps rows of a table that the table changed.

use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, PoisonError, RwLock};

use super::batch::{IndexChange, Table};

/// Tells of the changes of one table.
#[derive(Clone, Debug, Default)]
pub struct Watch(Arc<AtomicU64>);

impl Watch {
    /// A number that is another one after every change of the table.
    ///
    /// It grows once the change can be read, and before the append that made it returns. So what
    /// is read after a look at this number is as new as the number, or newer.
    pub fn changes(&self) -> u64 {
        self.0.load(Ordering::Acquire)
    }

    pub(super) fn changed(&self) {
        self.0.fetch_add(1, Ordering::Release);
    }
}

/// The tables that are watched.
#[derive(Debug, Default)]
pub(super) struct Watches(RwLock<Vec<(Table, Watch)>>);

impl Watches {
    /// The watch of a table; the same one for everybody who asks.
    pub(super) fn of(&self, table: &Table) -> Watch {
        let mut tables = self.0.write().unwrap_or_else(PoisonError::into_inner);
        if let Some((_, watch)) = tables.iter().find(|(known, _)| known == table) {
            return watch.clone();
        }
        let watch = Watch::default();
        tables.push((table.clone(), watch.clone()));
        watch
    }

    /// The watches of the tables that these changes touch. They are few, so a list will do.
    pub(super) fn touched(&self, changes: &[IndexChange], watches: &mut Touched) {
        let tables = self.0.read().unwrap_or_else(PoisonError::into_inner);
        watches.0.resize(tables.len(), None);
        for change in changes {
            let of_table = |(known, _): &(Table, Watch)| *known == change.table;
            if let Some(at) = tables.iter().position(of_table)
                && watches.0[at].is_none()
            {
                watches.0[at] = Some(tables[at].1.clone());
            }
        }
    }
}

/// Watches of tables that change.
#[derive(Debug, Default)]
pub(super) struct Touched(Vec<Option<Watch>>);

impl Touched {
    /// Tells of the changes, which can be read by now.
    pub(super) fn tell(&self) {
        self.0.iter().flatten().for_each(Watch::changed);
    }
}
