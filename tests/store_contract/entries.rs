//! Streams: expectations, order, all or nothing.

use fanwright::record::chain::{Head, verify_chain};
use fanwright::record::stream::{Seq, StreamId, StreamKind};
use fanwright::store::{AppendError, StoreError};
use uuid::Uuid;

use super::{Bench, JOBS, batch_of, entries, full_batch, input, job, second};

super::on_every_engine!(
    entries_read_back_in_order_and_chained,
    a_wrong_expectation_keeps_nothing_of_the_batch,
    an_append_without_entries_only_makes_sure,
    a_stream_named_twice_is_refused,
    something_too_long_is_refused_in_words,
    a_closed_store_takes_nothing,
    pages_of_streams_are_not_shifted_by_new_ones,
    kinds_are_listed_apart,
);

async fn entries_read_back_in_order_and_chained(bench: Bench) {
    let store = bench.open();
    assert_eq!(store.head(job(1)).await.unwrap(), Head::NONE);
    assert_eq!(store.read(job(1), Seq::FIRST, 9).await.unwrap(), []);
    let first = store
        .append(batch_of(vec![entries(job(1), 0, &["a", "b"])]))
        .await
        .unwrap();
    let second = store
        .append(batch_of(vec![entries(job(1), 2, &["c", ""])]))
        .await
        .unwrap();
    let all = store.read(job(1), Seq::NONE, 9).await.unwrap();
    let texts: Vec<_> = all.iter().map(|entry| entry.bytes.as_slice()).collect();
    assert_eq!(texts, [b"a".as_slice(), b"b", b"c", b""]);
    assert_eq!(first.heads, [(job(1), all[1].head())]);
    assert_eq!(second.heads, [(job(1), all[3].head())]);
    assert_eq!(
        verify_chain(job(1), &all),
        Ok(store.head(job(1)).await.unwrap())
    );
    assert_eq!(store.read(job(1), Seq(2), 2).await.unwrap(), all[1..3]);
    assert_eq!(store.read(job(1), Seq(4), 0).await.unwrap(), all[3..]);
    assert_eq!(store.read(job(1), Seq(5), 9).await.unwrap(), []);
}

async fn a_wrong_expectation_keeps_nothing_of_the_batch(bench: Bench) {
    let store = bench.open();
    store
        .append(batch_of(vec![entries(job(2), 0, &["a"])]))
        .await
        .unwrap();
    let before = super::picture(&*store).await;
    for expected in [0, 2, u64::MAX] {
        let mut batch = full_batch("key", entries(job(1), 0, &["x"]));
        batch.appends.push(entries(job(2), expected, &["y"]));
        let refused = store.append(batch).await.unwrap_err();
        let AppendError::Conflict {
            stream,
            expected: named,
            actual,
        } = refused
        else {
            panic!("{refused}");
        };
        assert_eq!((stream, named, actual), (job(2), Seq(expected), Seq(1)));
    }
    assert_eq!(super::picture(&*store).await, before);
    assert!(!store.handled(input("key"), second(0)).await.unwrap());
    let mut batch = full_batch("key", entries(job(1), 0, &["x"]));
    batch.appends.push(entries(job(2), 1, &["y"]));
    let heads = store.append(batch).await.unwrap().heads;
    assert_eq!(
        heads.iter().map(|(stream, _)| *stream).collect::<Vec<_>>(),
        [job(1), job(2)]
    );
}

async fn an_append_without_entries_only_makes_sure(bench: Bench) {
    let store = bench.open();
    let head = store
        .append(batch_of(vec![entries(job(1), 0, &["a"])]))
        .await
        .unwrap()
        .heads;
    let again = store
        .append(batch_of(vec![entries(job(1), 1, &[])]))
        .await
        .unwrap()
        .heads;
    assert_eq!(head, again);
    let refused = store.append(batch_of(vec![entries(job(1), 0, &[])])).await;
    assert!(matches!(refused, Err(AppendError::Conflict { .. })));
    store
        .append(batch_of(vec![entries(job(2), 0, &[])]))
        .await
        .unwrap();
    let streams = store.streams(StreamKind::Job, None, 9).await.unwrap();
    assert_eq!(streams.items, head);
}

async fn a_stream_named_twice_is_refused(bench: Bench) {
    let store = bench.open();
    let twice = batch_of(vec![entries(job(1), 0, &["a"]), entries(job(1), 1, &["b"])]);
    let refused = store.append(twice).await.unwrap_err();
    assert!(matches!(refused, AppendError::StreamNamedTwice { stream } if stream == job(1)));
    assert_eq!(store.head(job(1)).await.unwrap(), Head::NONE);
}

async fn something_too_long_is_refused_in_words(bench: Bench) {
    let store = bench.open();
    let long_entry = "x".repeat(fanwright::store::BATCH_BYTES_MAX);
    let refused = store
        .append(batch_of(vec![entries(job(1), 0, &[&long_entry])]))
        .await;
    let words = refused.unwrap_err().to_string();
    assert!(
        words.starts_with("everything one input leaves behind takes 16777"),
        "{words}"
    );
    let long_key = full_batch(&"k".repeat(1025), entries(job(1), 0, &["a"]));
    let words = store.append(long_key).await.unwrap_err().to_string();
    assert_eq!(
        words,
        "the key of an input takes 1025 bytes, and at most 1024 are taken."
    );
    let longest = "x".repeat(fanwright::store::BATCH_BYTES_MAX - 1024);
    store
        .append(batch_of(vec![entries(job(1), 0, &[&longest])]))
        .await
        .unwrap();
    let read = store.read(job(1), Seq::FIRST, 1).await.unwrap();
    assert!(read[0].bytes == longest.as_bytes());
}

async fn a_closed_store_takes_nothing(bench: Bench) {
    let store = bench.open();
    store.close().await.unwrap();
    let refused = store
        .append(batch_of(vec![entries(job(1), 0, &["a"])]))
        .await;
    assert!(
        matches!(refused, Err(AppendError::Failed(StoreError::Closed))),
        "{refused:?}"
    );
    store.close().await.unwrap();
    drop(store);
    assert_eq!(bench.open().head(job(1)).await.unwrap(), Head::NONE);
}

async fn pages_of_streams_are_not_shifted_by_new_ones(bench: Bench) {
    let store = bench.open();
    for number in [10, 20, 30, 40] {
        store
            .append(batch_of(vec![entries(job(number), 0, &["a"])]))
            .await
            .unwrap();
    }
    let first = store.streams(StreamKind::Job, None, 2).await.unwrap();
    assert_eq!(streams(&first.items), [job(10), job(20)]);
    for number in [5, 25, 50] {
        store
            .append(batch_of(vec![entries(job(number), 0, &["a"])]))
            .await
            .unwrap();
    }
    // A cursor goes through an address line and outlives the process.
    let cursor = first.next.unwrap().to_string().parse().unwrap();
    let store = bench.reopen(store).await;
    let second = store
        .streams(StreamKind::Job, Some(cursor), 3)
        .await
        .unwrap();
    assert_eq!(streams(&second.items), [job(25), job(30), job(40)]);
    let third = store
        .streams(StreamKind::Job, second.next, 3)
        .await
        .unwrap();
    assert_eq!((streams(&third.items), third.next), (vec![job(50)], None));
}

async fn kinds_are_listed_apart(bench: Bench) {
    let store = bench.open();
    for kind in StreamKind::ALL {
        let stream = StreamId::new(kind, Uuid::from_u128(7));
        store
            .append(batch_of(vec![entries(stream, 0, &["a"])]))
            .await
            .unwrap();
        let found = store.streams(kind, None, 9).await.unwrap();
        assert_eq!((streams(&found.items), found.next), (vec![stream], None));
    }
    store
        .append(batch_of(vec![entries(job(8), 0, &["a"])]))
        .await
        .unwrap();
    let cursor = store.streams(StreamKind::Job, None, 1).await.unwrap().next;
    let foreign = store.streams(StreamKind::Crew, cursor.clone(), 1).await;
    assert!(matches!(foreign, Err(StoreError::ForeignCursor)));
    let foreign = store.scan(JOBS, b"job".to_vec(), cursor, 1).await;
    assert!(matches!(foreign, Err(StoreError::ForeignCursor)));
}

fn streams(items: &[(StreamId, Head)]) -> Vec<StreamId> {
    items.iter().map(|(stream, _)| *stream).collect()
}
