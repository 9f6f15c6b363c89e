//! Names that can be erased, and photos kept by their hash.

use fanwright::record::chain::Hash;
use uuid::Uuid;

use super::Bench;

super::on_every_engine!(
    a_name_is_given_changed_and_erased,
    a_blob_is_kept_under_the_hash_of_its_bytes,
);

async fn a_name_is_given_changed_and_erased(bench: Bench) {
    let (one, two) = (Uuid::from_u128(1), Uuid::from_u128(2));
    let mut store = bench.open();
    store
        .set_name(two, "Robin Sample".to_owned())
        .await
        .unwrap();
    store
        .set_name(one, "Avery \"Fan\" Example\n".to_owned())
        .await
        .unwrap();
    store
        .set_name(two, "Robin Specimen".to_owned())
        .await
        .unwrap();
    store = bench.break_off(store);
    let avery = store.name(one).await.unwrap();
    assert_eq!(avery.as_deref(), Some("Avery \"Fan\" Example\n"));
    assert_eq!(
        store.name(two).await.unwrap().as_deref(),
        Some("Robin Specimen")
    );
    assert!(store.erase_name(one).await.unwrap());
    assert!(!store.erase_name(one).await.unwrap());
    store = bench.reopen(store).await;
    assert_eq!(store.name(one).await.unwrap(), None);
    assert_eq!(
        store.names().await.unwrap(),
        [(two, "Robin Specimen".to_owned())]
    );
}

async fn a_blob_is_kept_under_the_hash_of_its_bytes(bench: Bench) {
    let mut store = bench.open();
    let photo: Vec<u8> = (0..=255).cycle().take(300_000).collect();
    let hash = store.put_blob(photo.clone()).await.unwrap();
    assert_eq!(hash, Hash::of(&photo));
    assert_eq!(store.put_blob(photo.clone()).await.unwrap(), hash);
    let empty = store.put_blob(Vec::new()).await.unwrap();
    store = bench.break_off(store);
    assert!(store.get_blob(hash).await.unwrap() == Some(photo));
    assert_eq!(store.get_blob(empty).await.unwrap(), Some(Vec::new()));
    assert_eq!(store.get_blob(Hash::of(b"never kept")).await.unwrap(), None);
}
