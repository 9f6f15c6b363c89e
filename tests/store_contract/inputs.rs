//! The same input delivered twice has one effect.

use fanwright::store::{AppendError, Batch, Store};
use jiff::{SignedDuration, Timestamp};

use super::{Bench, entries, full_batch, input, job, second};

super::on_every_engine!(
    a_second_delivery_has_no_effect,
    a_refusal_is_remembered_as_handled,
    an_input_is_remembered_for_seven_days,
    many_old_inputs_are_forgotten_and_can_come_again,
);

const WEEK: SignedDuration = SignedDuration::from_hours(7 * 24);

async fn keep(store: &dyn Store, key: &str, at: Timestamp) -> Result<(), AppendError> {
    store
        .append(Batch::handling(input(key), at))
        .await
        .map(|_| ())
}

async fn a_second_delivery_has_no_effect(bench: Bench) {
    let store = bench.open();
    let batch = full_batch("page:1", entries(job(1), 0, &["a"]));
    store.append(batch).await.unwrap();
    let before = super::picture(&*store).await;
    // As it was, and decided anew after the first one was kept.
    for expected in [0, 1] {
        let again = full_batch("page:1", entries(job(1), expected, &["a"]));
        let refused = store.append(again).await.unwrap_err();
        assert!(matches!(refused, AppendError::AlreadyHandled { key } if key == input("page:1")));
    }
    assert_eq!(super::picture(&*store).await, before);
    let store = bench.break_off(store);
    let again = store
        .append(full_batch("page:1", entries(job(1), 1, &["a"])))
        .await;
    assert!(matches!(again, Err(AppendError::AlreadyHandled { .. })));
}

async fn a_refusal_is_remembered_as_handled(bench: Bench) {
    let store = bench.open();
    assert!(!store.handled(input("page:1"), second(0)).await.unwrap());
    keep(&*store, "page:1", second(0)).await.unwrap();
    assert!(store.handled(input("page:1"), second(0)).await.unwrap());
    assert!(!store.handled(input("page:10"), second(0)).await.unwrap());
    let store = bench.reopen(store).await;
    assert!(store.handled(input("page:1"), second(1)).await.unwrap());
}

async fn an_input_is_remembered_for_seven_days(bench: Bench) {
    let store = bench.open();
    keep(&*store, "page:1", second(0)).await.unwrap();
    let last = second(0) + WEEK;
    let after = last + SignedDuration::from_nanos(1);
    assert!(store.handled(input("page:1"), last).await.unwrap());
    assert!(!store.handled(input("page:1"), after).await.unwrap());
    let refused = keep(&*store, "page:1", last).await;
    assert!(matches!(refused, Err(AppendError::AlreadyHandled { .. })));
    keep(&*store, "page:1", after).await.unwrap();
    // Counted anew, and not forgotten together with its first time.
    keep(&*store, "page:2", after + SignedDuration::from_secs(1))
        .await
        .unwrap();
    assert!(store.handled(input("page:1"), after + WEEK).await.unwrap());
    // A clock that was set back does not open the door again.
    let refused = keep(&*store, "page:2", second(0)).await;
    assert!(matches!(refused, Err(AppendError::AlreadyHandled { .. })));
}

async fn many_old_inputs_are_forgotten_and_can_come_again(bench: Bench) {
    let mut store = bench.open();
    for round in 0..3_i64 {
        let at = second(0) + SignedDuration::from_hours(round * (7 * 24 + 1));
        for number in 0..40 {
            keep(&*store, &format!("page:{number}"), at).await.unwrap();
        }
        store = bench.reopen(store).await;
        for number in 0..40 {
            assert!(
                store
                    .handled(input(&format!("page:{number}")), at)
                    .await
                    .unwrap()
            );
        }
    }
}
