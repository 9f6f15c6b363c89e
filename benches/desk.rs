//! The desk of a bench.

use std::sync::Arc;

use fanwright::desk::chance::SystemChance;
use fanwright::desk::clock::Clock;
use fanwright::desk::goods::StartingGoods;
use fanwright::desk::seal_keys::SealKeys;
use fanwright::desk::{Desk, Parts, Rules};
use fanwright::flow::library::Library;
use fanwright::record::seal::{SEED_BYTES, SigningKey};
use fanwright::store::Store;

/// A desk as the server has it, with a key that everybody knows.
pub(crate) fn desk(store: Arc<dyn Store>, clock: Arc<dyn Clock>, library: Library) -> Desk {
    let key = SigningKey::from_seed(&[7; SEED_BYTES]).unwrap();
    Desk::new(Parts {
        store,
        clock,
        chance: Arc::new(SystemChance),
        keys: Arc::new(SealKeys::in_memory(key)),
        library,
        goods: StartingGoods::default(),
        rules: Rules::default(),
    })
}
