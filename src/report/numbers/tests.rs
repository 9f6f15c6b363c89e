//! Sums give back what was added, and say what they should.

use proptest::prelude::*;

use super::*;

fn job() -> impl Strategy<Value = JobNumbers> {
    let word = || prop::sample::select(vec!["Motor", "Blade", "=SUM(A1)"]).prop_map(str::to_owned);
    let parts = prop::collection::btree_map(word(), 0_u64..200_000, 0..3);
    let flags = (any::<bool>(), any::<bool>(), 0_u32..3);
    let gains = (0_i64..900_000, 0_i64..900_000);
    let replaced = prop::option::of((word(), 1_u32..6));
    let found = prop::collection::vec(word(), 0..3);
    (word(), flags, found, parts, replaced, gains).prop_map(
        |(outcome, (handed_in, accepted, sent_back), found, parts, replaced, gains)| JobNumbers {
            outcome,
            handed_in,
            accepted,
            sent_back,
            found,
            parts,
            replaced,
            saved_milliwatts: gains.0,
            heat_milliwatts: gains.0,
            saved_watt_hours: gains.1,
        },
    )
}

proptest! {
    #[test]
    fn what_was_added_is_given_back(jobs in prop::collection::vec(job(), 1..8)) {
        let mut sum = Numbers::default();
        for job in &jobs {
            sum.add(job);
        }
        let whole = sum.clone();
        for job in &jobs {
            sum.take(job);
        }
        prop_assert_eq!(sum, Numbers::default());
        let (first, last) = jobs.split_at(jobs.len() / 2);
        let mut joined = Numbers::default();
        for part in [first, last] {
            let mut sum = Numbers::default();
            part.iter().for_each(|job| sum.add(job));
            joined.join(&sum);
        }
        prop_assert_eq!(joined, whole);
    }

    #[test]
    fn the_middle_time_is_known_to_a_tenth(seconds in prop::collection::vec(1_u64..90_000, 1..40)) {
        let mut times = Times::default();
        for seconds in &seconds {
            times.count(*seconds, 1);
        }
        let mut sorted = seconds;
        sorted.sort_unstable();
        let middle = sorted[sorted.len().div_ceil(2) - 1] as f64;
        let told = times.middle_seconds().unwrap();
        prop_assert!((told / middle - 1.0).abs() < 0.1, "{told} for {middle}");
    }
}

#[test]
fn only_accepted_jobs_count_for_the_share_accepted_at_first() {
    let mut sum = Numbers::default();
    assert_eq!(sum.accepted_at_first_percent(), None);
    for (accepted, sent_back) in [(true, 0), (true, 2), (true, 0), (true, 0), (false, 1)] {
        sum.add(&JobNumbers {
            handed_in: true,
            accepted,
            sent_back,
            ..JobNumbers::default()
        });
    }
    assert_eq!(sum.accepted_at_first_percent(), Some(75.0));
}

#[test]
fn what_a_spreadsheet_would_run_is_text_in_the_table() {
    let mut sum = Numbers::default();
    sum.add(&JobNumbers {
        outcome: "=1+1".to_owned(),
        replaced: Some(("@old".to_owned(), 2)),
        saved_milliwatts: 90_000,
        ..JobNumbers::default()
    });
    let table = csv(&sum);
    assert!(
        table.contains("\r\nHow jobs ended,'=1+1,1,jobs\r\n"),
        "{table}"
    );
    assert!(table.contains(",'@old,2,fans\r\n"), "{table}");
    assert!(table.contains("Gain,power saved,90.0,W\r\n"), "{table}");
}
