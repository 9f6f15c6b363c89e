//! Rows that every input needs, kept as they were read.
//!
//! What is kept of a table is good as long as the table did not change since it was read,
//! whoever changed it: the store tells by [`crate::store::Watch`]. After a change everything kept
//! of that table is let go. A store that cannot tell has nothing kept.

use std::any::Any;
use std::collections::HashMap;
use std::sync::{Arc, PoisonError, RwLock};

use super::competence::ShownRow;
use super::hours::CrewZoneRow;
use super::tables::{AddressRow, AtHandRow, EvaporatorRow, PersonRow, ReachRow, RoomRow, Row};
use super::ways::WayRow;
use crate::store::{Store, Table, Watch};

/// So much is kept of one table; then it begins anew. A row takes some hundred bytes.
const ROWS_MAX: usize = 8_192;

/// A table of which rows are kept: one that every input looks into and few inputs change.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Slot {
    /// Who speaks from an address.
    Address,
    /// People with their roles.
    Person,
    /// Where people hear news.
    Reach,
    /// In which way people are asked.
    Way,
    /// The jobs at hand.
    AtHand,
    /// Evaporators.
    Evaporator,
    /// What people have shown, all of a person under the person.
    Shown,
    /// By which clocks crews live.
    CrewZone,
    /// Jobs that are run in a group, and all that are not.
    Room,
}

impl Slot {
    const ALL: [Slot; 9] = [
        Slot::Address,
        Slot::Person,
        Slot::Reach,
        Slot::Way,
        Slot::AtHand,
        Slot::Evaporator,
        Slot::Shown,
        Slot::CrewZone,
        Slot::Room,
    ];

    fn table(self) -> Table {
        match self {
            Slot::Address => AddressRow::TABLE,
            Slot::Person => PersonRow::TABLE,
            Slot::Reach => ReachRow::TABLE,
            Slot::Way => WayRow::TABLE,
            Slot::AtHand => AtHandRow::TABLE,
            Slot::Evaporator => EvaporatorRow::TABLE,
            Slot::Shown => ShownRow::TABLE,
            Slot::CrewZone => CrewZoneRow::TABLE,
            Slot::Room => RoomRow::TABLE,
        }
    }
}

/// What is kept of every table.
pub(super) struct KeptRows {
    shelves: [Shelf; Slot::ALL.len()],
}

struct Shelf {
    watch: Option<Watch>,
    rows: RwLock<Rows>,
}

#[derive(Default)]
struct Rows {
    /// The number of the watch that they were read under.
    changes: u64,
    by_key: HashMap<Vec<u8>, Arc<dyn Any + Send + Sync>>,
}

/// What a look into what is kept finds.
pub(super) enum Look<V> {
    /// It.
    Kept(V),
    /// Nothing: it has to be read, and may be kept then.
    Unknown(Reading),
}

/// A reading of the store under way. It is kept only if nothing changed meanwhile.
pub(super) struct Reading {
    slot: Slot,
    changes: Option<u64>,
}

impl KeptRows {
    /// Nothing yet of this store.
    pub(super) fn of(store: &dyn Store) -> KeptRows {
        KeptRows {
            shelves: Slot::ALL.map(|slot| Shelf {
                watch: store.watch(&slot.table()),
                rows: RwLock::default(),
            }),
        }
    }

    /// Looks under a key.
    pub(super) fn look<V: Any + Clone>(&self, slot: Slot, key: &[u8]) -> Look<V> {
        let shelf = &self.shelves[slot as usize];
        let changes = shelf.watch.as_ref().map(Watch::changes);
        let rows = shelf.rows.read().unwrap_or_else(PoisonError::into_inner);
        let kept = rows
            .by_key
            .get(key)
            .filter(|_| changes == Some(rows.changes));
        match kept.and_then(|kept| kept.downcast_ref::<V>()) {
            Some(kept) => Look::Kept(kept.clone()),
            None => Look::Unknown(Reading { slot, changes }),
        }
    }

    /// Keeps what was read under a key since the look.
    pub(super) fn keep<V: Any + Send + Sync>(&self, reading: &Reading, key: Vec<u8>, read: V) {
        let Some(changes) = reading.changes else {
            return;
        };
        let shelf = &self.shelves[reading.slot as usize];
        let mut rows = shelf.rows.write().unwrap_or_else(PoisonError::into_inner);
        if rows.changes > changes {
            return;
        }
        if rows.changes < changes || rows.by_key.len() >= ROWS_MAX {
            rows.by_key.clear();
            rows.changes = changes;
        }
        rows.by_key.insert(key, Arc::new(read));
    }
}
