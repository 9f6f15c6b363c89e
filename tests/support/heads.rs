//! What was written between two looks, but for the notes of who looked at what.

use std::collections::BTreeMap;

use fanwright::record::around::{Happening, PersonWhat};
use fanwright::record::chain::Stored;
use fanwright::record::stream::{Seq, StreamId, StreamKind};
use fanwright::store::Store;

/// The ends of all streams.
pub(crate) struct Heads(BTreeMap<StreamId, Seq>);

impl Heads {
    pub(crate) async fn of(store: &dyn Store) -> Heads {
        let mut heads = BTreeMap::new();
        for kind in StreamKind::ALL {
            let page = store.streams(kind, None, 10_000).await.unwrap();
            heads.extend(page.items.into_iter().map(|(id, head)| (id, head.seq)));
        }
        Heads(heads)
    }

    /// The streams into which something was written since; one of a person does not count for
    /// what that person looked at.
    pub(crate) async fn written_since(&self, store: &dyn Store) -> Vec<String> {
        let mut written = Vec::new();
        for (id, seq) in Heads::of(store).await.0 {
            let before = self.0.get(&id).copied().unwrap_or(Seq::NONE);
            if seq == before {
                continue;
            }
            let new = store.read(id, before.next(), 1_000).await.unwrap();
            if id.kind != StreamKind::Person || !new.iter().all(is_look) {
                written.push(id.to_string());
            }
        }
        written
    }
}

fn is_look(entry: &Stored) -> bool {
    let read: Happening<PersonWhat> = serde_json::from_slice(&entry.bytes).unwrap();
    matches!(read.what, PersonWhat::Looked { .. })
}
