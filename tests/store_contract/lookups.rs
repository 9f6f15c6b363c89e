//! Lookup tables: written with a batch, read by key and by prefix.

use fanwright::store::{
    Batch, Common, IndexChange, IndexRow, List, Page, Store, StoreError, Table,
};

use super::{Bench, JOBS, second};

super::on_every_engine!(
    a_row_is_read_back_changed_and_removed,
    tables_with_similar_names_are_apart,
    a_scan_gives_the_rows_with_a_prefix_in_order,
    pages_of_rows_are_not_shifted_by_changes,
    lists_are_asked_what_they_have_in_common,
    a_change_of_a_table_is_told_before_the_append_returns,
);

async fn change(store: &dyn Store, index: Vec<IndexChange>) {
    store
        .append(Batch {
            index,
            ..Batch::new(second(0))
        })
        .await
        .unwrap();
}

async fn get(store: &dyn Store, table: Table, key: &[u8]) -> Option<Vec<u8>> {
    store.get(table, key.to_vec()).await.unwrap()
}

fn keys(page: &Page<IndexRow>) -> Vec<&[u8]> {
    page.items.iter().map(|row| row.key.as_slice()).collect()
}

async fn a_change_of_a_table_is_told_before_the_append_returns(bench: Bench) {
    let store = bench.open();
    let other = Table::named("jobs_other");
    let watches = [JOBS, other.clone()].map(|table| store.watch(&table).unwrap());
    let told = || watches.each_ref().map(|watch| watch.changes());
    let before = told();
    change(&*store, vec![IndexChange::put(JOBS, "a", "1")]).await;
    let put = told();
    assert_ne!(put[0], before[0]);
    assert_eq!(put[1], before[1]);
    change(&*store, vec![IndexChange::remove(other, "a")]).await;
    assert_eq!(told()[0], put[0]);
    assert_ne!(told()[1], put[1]);
}

async fn a_row_is_read_back_changed_and_removed(bench: Bench) {
    let mut store = bench.open();
    assert_eq!(get(&*store, JOBS, b"a").await, None);
    let (one, two) = (
        IndexChange::put(JOBS, "a", "1"),
        IndexChange::put(JOBS, "a", "2"),
    );
    change(
        &*store,
        vec![one.clone(), two, IndexChange::put(JOBS, "", "")],
    )
    .await;
    assert_eq!(
        get(&*store, JOBS, b"a").await.as_deref(),
        Some(b"2".as_slice())
    );
    assert_eq!(
        get(&*store, JOBS, b"").await.as_deref(),
        Some(b"".as_slice())
    );
    store = bench.break_off(store);
    assert_eq!(
        get(&*store, JOBS, b"a").await.as_deref(),
        Some(b"2".as_slice())
    );
    change(&*store, vec![one, IndexChange::remove(JOBS, "a")]).await;
    change(&*store, vec![IndexChange::remove(JOBS, "never there")]).await;
    assert_eq!(get(&*store, JOBS, b"a").await, None);
    store = bench.reopen(store).await;
    assert_eq!(get(&*store, JOBS, b"a").await, None);
}

async fn tables_with_similar_names_are_apart(bench: Bench) {
    let store = bench.open();
    let (job, jobs) = (Table::named("job"), Table::named("jobs"));
    let puts = [(job.clone(), "sa"), (jobs.clone(), "a")];
    change(
        &*store,
        puts.map(|(table, key)| IndexChange::put(table, key, key))
            .to_vec(),
    )
    .await;
    assert_eq!(
        get(&*store, jobs.clone(), b"a").await.as_deref(),
        Some(b"a".as_slice())
    );
    assert_eq!(get(&*store, job.clone(), b"a").await, None);
    assert_eq!(
        keys(&store.scan(job, Vec::new(), None, 9).await.unwrap()),
        [b"sa"]
    );
    assert_eq!(
        keys(&store.scan(jobs, Vec::new(), None, 9).await.unwrap()),
        [b"a"]
    );
    let none = store
        .scan(Table::named("jo"), Vec::new(), None, 9)
        .await
        .unwrap();
    assert_eq!((none.items, none.next), (Vec::new(), None));
}

async fn a_scan_gives_the_rows_with_a_prefix_in_order(bench: Bench) {
    let mut store = bench.open();
    let all: [&[u8]; 6] = [b"a", b"b", b"b\x00", b"bz", b"b\xff\xff", b"c"];
    let mut puts: Vec<_> = all.map(|key| IndexChange::put(JOBS, key, key)).to_vec();
    puts.reverse();
    change(&*store, puts).await;
    for _ in 0..2 {
        let found = store.scan(JOBS, b"b".to_vec(), None, 9).await.unwrap();
        assert_eq!(keys(&found), all[1..5]);
        assert!(found.items.iter().all(|row| row.key == row.value));
        assert_eq!(
            keys(&store.scan(JOBS, Vec::new(), None, 9).await.unwrap()),
            all
        );
        assert_eq!(
            keys(&store.scan(JOBS, b"b\xff".to_vec(), None, 9).await.unwrap()),
            all[4..5]
        );
        store = bench.reopen(store).await;
    }
}

async fn pages_of_rows_are_not_shifted_by_changes(bench: Bench) {
    let store = bench.open();
    let put = |key: &'static str| IndexChange::put(JOBS, key, key);
    change(
        &*store,
        ["open/1", "open/3", "open/5", "open/7", "shut/1"]
            .map(put)
            .to_vec(),
    )
    .await;
    let prefix = || b"open/".to_vec();
    let first = store.scan(JOBS, prefix(), None, 2).await.unwrap();
    assert_eq!(keys(&first), [b"open/1", b"open/3"]);
    let removed = ["open/3", "open/5"].map(|key| IndexChange::remove(JOBS, key));
    change(&*store, [["open/2", "open/4"].map(put), removed].concat()).await;
    let second = store
        .scan(JOBS, prefix(), first.next.clone(), 9)
        .await
        .unwrap();
    assert_eq!(keys(&second), [b"open/4", b"open/7"]);
    assert_eq!(second.next, None);
    let foreign = store.scan(JOBS, b"shut/".to_vec(), first.next, 9).await;
    assert!(matches!(foreign, Err(StoreError::ForeignCursor)));
}

async fn lists_are_asked_what_they_have_in_common(bench: Bench) {
    let mut store = bench.open();
    let other = Table::named("other");
    let rows = [
        "fan/1", "fan/3", "fan/5", "fan/7", "ice/3", "ice/7", "ice/8",
    ];
    let mut puts = rows.map(|key| IndexChange::put(JOBS, key, "")).to_vec();
    let rows = ["b1", "b2", "b3", "b7", "b9"];
    puts.extend(rows.map(|key| IndexChange::put(other.clone(), key, "")));
    change(&*store, puts).await;
    let list = |table: &Table, prefix: &str| List {
        table: table.clone(),
        prefix: prefix.as_bytes().to_vec(),
    };
    let ask = Common {
        groups: vec![
            vec![list(&JOBS, "fan/"), list(&JOBS, "ice/")],
            vec![list(&other, "b"), list(&other, "no such")],
        ],
        from: Vec::new(),
        to: None,
        limit: 2,
        looks_max: 100,
    };
    for _ in 0..2 {
        let first = store.common(ask.clone()).await.unwrap();
        assert_eq!(first.ends, [b"1", b"3"]);
        let next = Common {
            from: first.next.unwrap(),
            ..ask.clone()
        };
        let rest = store.common(next).await.unwrap();
        assert_eq!((rest.ends, rest.next), (vec![b"7".to_vec()], None));
        let bounded = Common {
            from: b"2".to_vec(),
            to: Some(b"3".to_vec()),
            ..ask.clone()
        };
        let bounded = store.common(bounded).await.unwrap();
        assert_eq!((bounded.ends, bounded.next), (vec![b"3".to_vec()], None));
        store = bench.reopen(store).await;
    }
    for groups in [vec![], vec![vec![list(&JOBS, "fan/")], vec![]]] {
        let none = store
            .common(Common {
                groups,
                ..ask.clone()
            })
            .await;
        assert_eq!(none.unwrap().ends, Vec::<Vec<u8>>::new());
    }
}
