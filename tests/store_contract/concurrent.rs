//! Many writers at once get one order, and all they were told is kept.

use std::sync::Arc;

use fanwright::record::stream::{Seq, StreamId};
use fanwright::store::{AppendError, Batch, Store};

use super::{Bench, entries, full_batch, input, job, second};

super::on_every_engine!(
    writers_of_one_stream_get_one_order,
    of_many_copies_of_one_input_one_is_kept,
    a_reader_sees_what_was_acknowledged,
);

const WRITERS: u64 = 24;
const EACH: u64 = 8;

/// Appends to the job and to the server's stream until it succeeds.
async fn insist(store: &dyn Store, text: &str) -> Seq {
    loop {
        let head = store.head(job(1)).await.unwrap().seq;
        let noted = store.head(StreamId::SERVER).await.unwrap().seq;
        let mut batch = Batch::handling(input(text), second(0));
        batch.appends = vec![
            entries(job(1), head.0, &[text]),
            entries(StreamId::SERVER, noted.0, &[text]),
        ];
        match store.append(batch).await {
            Ok(committed) => return committed.heads[0].1.seq,
            Err(AppendError::Conflict { .. }) => tokio::task::yield_now().await,
            Err(problem) => panic!("{problem}"),
        }
    }
}

async fn writers_of_one_stream_get_one_order(bench: Bench) {
    let store = bench.open();
    let writers: Vec<_> = (0..WRITERS)
        .map(|writer| {
            let store = Arc::clone(&store);
            tokio::spawn(async move {
                let mut places = Vec::new();
                for number in 0..EACH {
                    let text = format!("{writer}/{number}");
                    places.push((insist(&*store, &text).await, text));
                }
                places
            })
        })
        .collect();
    let mut told = Vec::new();
    for writer in writers {
        told.extend(writer.await.unwrap());
    }
    let store = bench.break_off(store);
    told.sort();
    let kept = store.read(job(1), Seq::FIRST, usize::MAX).await.unwrap();
    let text = |bytes: &[u8]| String::from_utf8(bytes.to_vec()).unwrap();
    let kept: Vec<_> = kept
        .iter()
        .map(|entry| (entry.seq, text(&entry.bytes)))
        .collect();
    assert_eq!(kept, told);
    let noted = store
        .read(StreamId::SERVER, Seq::FIRST, usize::MAX)
        .await
        .unwrap();
    // Batches are whole, so both streams saw the same order.
    let noted: Vec<_> = noted
        .iter()
        .map(|entry| (entry.seq, text(&entry.bytes)))
        .collect();
    assert_eq!(noted, told);
}

async fn of_many_copies_of_one_input_one_is_kept(bench: Bench) {
    let store = bench.open();
    let copies: Vec<_> = (0..WRITERS)
        .map(|writer| {
            let store = Arc::clone(&store);
            let batch = full_batch("page:1", entries(job(u128::from(writer)), 0, &["a"]));
            tokio::spawn(async move { store.append(batch).await })
        })
        .collect();
    let mut kept = 0;
    for copy in copies {
        match copy.await.unwrap() {
            Ok(_) => kept += 1,
            Err(AppendError::AlreadyHandled { .. }) => {}
            Err(problem) => panic!("{problem}"),
        }
    }
    assert_eq!(kept, 1);
    let picture = super::picture(&*store).await;
    assert_eq!((picture.streams.len(), picture.notices.len()), (1, 1));
}

async fn a_reader_sees_what_was_acknowledged(bench: Bench) {
    let store = bench.open();
    let writers: Vec<_> = (0..WRITERS)
        .map(|writer| {
            let store = Arc::clone(&store);
            tokio::spawn(async move {
                let stream = job(u128::from(writer));
                for number in 0..EACH {
                    let key = format!("{writer}/{number}");
                    let batch = full_batch(&key, entries(stream, number, &[&key]));
                    let id = store.append(batch).await.unwrap().notices[0];
                    let read = store.read(stream, Seq::FIRST, usize::MAX).await.unwrap();
                    assert_eq!(read.len() as u64, number + 1);
                    assert_eq!(read[read.len() - 1].bytes, key.as_bytes());
                    let row = store
                        .get(super::JOBS, key.clone().into_bytes())
                        .await
                        .unwrap();
                    assert_eq!(row.as_deref(), Some(b"open".as_slice()));
                    let due = store
                        .notices_pending(second(5), None, usize::MAX)
                        .await
                        .unwrap();
                    assert!(due.items.iter().any(|notice| notice.id == id));
                }
            })
        })
        .collect();
    for writer in writers {
        writer.await.unwrap();
    }
    let before = super::picture(&*store).await;
    assert_eq!(before.notices.len() as u64, WRITERS * EACH);
    let store = bench.reopen(store).await;
    assert_eq!(super::picture(&*store).await, before);
}
