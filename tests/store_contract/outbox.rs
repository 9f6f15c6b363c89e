//! Notices wait until a mark says what became of them.

use fanwright::store::{Batch, Delivery, DeliveryMark, NewNotice, NoticeId, PendingNotice, Store};
use jiff::Timestamp;

use super::{Bench, notice, second};

super::on_every_engine!(
    notices_come_in_the_order_they_are_due,
    a_delivered_or_given_up_notice_leaves,
    a_retry_counts_and_waits_for_its_time,
    notices_and_marks_outlast_a_break,
    ids_are_never_given_again,
    pages_of_notices_go_on_where_they_ended,
);

async fn put_out(store: &dyn Store, notices: Vec<NewNotice>) -> Vec<NoticeId> {
    let batch = Batch {
        notices,
        ..Batch::new(second(0))
    };
    store.append(batch).await.unwrap().notices
}

async fn mark(store: &dyn Store, notice: NoticeId, outcome: Delivery) {
    let marks = vec![DeliveryMark { notice, outcome }];
    let batch = Batch {
        marks,
        ..Batch::new(second(1))
    };
    assert!(!batch.must_outlast_power());
    store.append(batch).await.unwrap();
}

async fn pending(store: &dyn Store, due_by: Timestamp) -> Vec<PendingNotice> {
    let page = store.notices_pending(due_by, None, 100).await.unwrap();
    assert_eq!(page.next, None);
    page.items
}

fn addresses(notices: &[PendingNotice]) -> Vec<&str> {
    notices
        .iter()
        .map(|notice| notice.address.as_str())
        .collect()
}

async fn notices_come_in_the_order_they_are_due(bench: Bench) {
    let store = bench.open();
    let late = notice("late", second(9));
    let (one, two) = (notice("one", second(5)), notice("two", second(5)));
    let ids = put_out(&*store, vec![late, one, two]).await;
    assert!(ids.is_sorted() && ids.len() == 3);
    let found = pending(&*store, second(5)).await;
    assert_eq!(addresses(&found), ["one", "two"]);
    assert_eq!((found[0].id, found[0].attempts), (ids[1], 0));
    assert_eq!(
        (found[0].payload.as_slice(), found[0].due),
        (b"for one".as_slice(), second(5))
    );
    assert_eq!(pending(&*store, second(4)).await, []);
    assert_eq!(
        addresses(&pending(&*store, Timestamp::MAX).await),
        ["one", "two", "late"]
    );
}

async fn a_delivered_or_given_up_notice_leaves(bench: Bench) {
    let store = bench.open();
    let notices = ["one", "two", "three"]
        .map(|address| notice(address, second(0)))
        .to_vec();
    let ids = put_out(&*store, notices).await;
    mark(&*store, ids[0], Delivery::Delivered).await;
    mark(&*store, ids[1], Delivery::GivenUp).await;
    assert_eq!(
        addresses(&pending(&*store, Timestamp::MAX).await),
        ["three"]
    );
    // The second copy's mark, and a mark for what never was.
    mark(&*store, ids[0], Delivery::Retry { due: second(7) }).await;
    mark(&*store, NoticeId(u64::MAX), Delivery::Delivered).await;
    assert_eq!(
        addresses(&pending(&*store, Timestamp::MAX).await),
        ["three"]
    );
}

async fn a_retry_counts_and_waits_for_its_time(bench: Bench) {
    let store = bench.open();
    let ids = put_out(
        &*store,
        vec![notice("one", second(0)), notice("two", second(1))],
    )
    .await;
    for attempts in 1..=3 {
        mark(&*store, ids[0], Delivery::Retry { due: second(30) }).await;
        assert_eq!(addresses(&pending(&*store, second(29)).await), ["two"]);
        let found = pending(&*store, second(30)).await;
        assert_eq!(addresses(&found), ["two", "one"]);
        assert_eq!((found[1].attempts, found[1].due), (attempts, second(30)));
    }
}

async fn notices_and_marks_outlast_a_break(bench: Bench) {
    let mut store = bench.open();
    let notices = ["one", "two", "three"]
        .map(|address| notice(address, second(0)))
        .to_vec();
    let ids = put_out(&*store, notices).await;
    mark(&*store, ids[0], Delivery::Delivered).await;
    mark(&*store, ids[1], Delivery::Retry { due: second(30) }).await;
    let before = pending(&*store, Timestamp::MAX).await;
    assert_eq!(addresses(&before), ["three", "two"]);
    store = bench.break_off(store);
    assert_eq!(pending(&*store, Timestamp::MAX).await, before);
    store = bench.reopen(store).await;
    assert_eq!(pending(&*store, Timestamp::MAX).await, before);
}

async fn ids_are_never_given_again(bench: Bench) {
    let mut store = bench.open();
    let mut last = NoticeId(0);
    for _ in 0..4 {
        for id in put_out(
            &*store,
            vec![notice("one", second(0)), notice("two", second(0))],
        )
        .await
        {
            assert!(id > last);
            last = id;
            mark(&*store, id, Delivery::Delivered).await;
        }
        store = bench.break_off(store);
    }
    assert_eq!(pending(&*store, Timestamp::MAX).await, []);
}

async fn pages_of_notices_go_on_where_they_ended(bench: Bench) {
    let store = bench.open();
    let names = ["a", "b", "c", "d", "e"];
    let ids = put_out(&*store, names.map(|name| notice(name, second(0))).to_vec()).await;
    let first = store.notices_pending(second(0), None, 2).await.unwrap();
    assert_eq!(addresses(&first.items), ["a", "b"]);
    mark(&*store, ids[1], Delivery::Delivered).await;
    mark(&*store, ids[2], Delivery::Delivered).await;
    put_out(&*store, vec![notice("f", second(0))]).await;
    let second_page = store
        .notices_pending(second(0), first.next, 9)
        .await
        .unwrap();
    assert_eq!(addresses(&second_page.items), ["d", "e", "f"]);
    assert_eq!(second_page.next, None);
}
