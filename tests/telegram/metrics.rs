//! What monitoring reads while somebody walks, held against the rules of its format.

use std::collections::{BTreeMap, BTreeSet};
use std::ffi::OsStr;

use crate::support::bot_api::{BotApi, Fault};
use crate::support::chat::Chat;
use crate::support::program::Program;

/// A set of metrics, read by the rules of OpenMetrics 1.0 (the specification of the Cloud Native
/// Computing Foundation, sections “Text format” and “Histogram”).
#[derive(Debug, Default)]
struct Read {
    types: BTreeMap<String, String>,
    samples: BTreeMap<String, f64>,
}

impl Read {
    fn of(text: &str) -> Read {
        let mut read = Read::default();
        let body = text.strip_suffix("# EOF\n").expect("it ends with # EOF");
        for line in body.lines() {
            if let Some(about) = line.strip_prefix("# TYPE ") {
                let (name, kind) = about.split_once(' ').unwrap();
                let before = read.types.insert(name.to_owned(), kind.to_owned());
                assert_eq!(before, None, "{name} is declared twice");
                continue;
            }
            if line.starts_with("# HELP ") || line.starts_with("# UNIT ") {
                continue;
            }
            assert!(!line.starts_with('#') && !line.is_empty(), "{line}");
            let (name, value) = line.rsplit_once(' ').unwrap();
            let value: f64 = value.parse().unwrap_or_else(|_| panic!("{line}"));
            assert!(read.declares(name), "{name} has no type");
            let before = read.samples.insert(name.to_owned(), value);
            assert_eq!(before, None, "{name} comes twice");
        }
        read.histograms_hold();
        read
    }

    /// Whether a sample belongs to a declared metric, by the endings that its type allows.
    fn declares(&self, sample: &str) -> bool {
        let bare = sample.split('{').next().unwrap();
        self.types.iter().any(|(name, kind)| {
            let endings: &[&str] = match kind.as_str() {
                "counter" => &["_total"],
                "histogram" => &["_bucket", "_sum", "_count"],
                "info" => &["_info"],
                _ => &[""],
            };
            endings
                .iter()
                .any(|ending| bare.strip_suffix(ending) == Some(name))
        })
    }

    /// Buckets only ever grow, and the last of them is the count.
    fn histograms_hold(&self) {
        let mut buckets: BTreeMap<(String, String), Vec<(f64, f64)>> = BTreeMap::new();
        for (sample, value) in &self.samples {
            let Some((name, labels)) = sample.split_once("_bucket{") else {
                continue;
            };
            let (before, bound) = labels.split_once("le=\"").unwrap();
            let (bound, after) = bound.split_once('"').unwrap();
            let bound = match bound {
                "+Inf" => f64::INFINITY,
                bound => bound.parse().unwrap(),
            };
            let others = format!("{before}{after}").replace(",}", "}");
            let others = others.trim_start_matches(',').trim_end_matches('}');
            let key = (name.to_owned(), others.trim_matches(',').to_owned());
            buckets.entry(key).or_default().push((bound, *value));
        }
        assert!(buckets.len() > 5, "{buckets:?}");
        for ((name, labels), mut all) in buckets {
            all.sort_by(|a, b| a.0.total_cmp(&b.0));
            assert!(all.windows(2).all(|two| two[0].1 <= two[1].1), "{name}");
            let (last, total) = all.last().unwrap();
            assert_eq!(*last, f64::INFINITY, "{name}");
            let count = match labels.is_empty() {
                true => format!("{name}_count"),
                false => format!("{name}_count{{{labels}}}"),
            };
            assert_eq!(self.samples.get(&count), Some(total), "{count}");
        }
    }

    /// The sum of all samples of this name with this label.
    fn sum(&self, name: &str, label: &str) -> f64 {
        let of =
            |sample: &&String| sample.split('{').next() == Some(name) && sample.contains(label);
        let found = self.samples.iter().filter(|(sample, _)| of(sample));
        found.map(|(_, value)| value).sum()
    }
}

async fn scrape(program: &Program) -> Read {
    let answer = reqwest::get(program.metrics.as_ref().unwrap())
        .await
        .unwrap();
    assert_eq!(answer.status(), 200);
    let kind = answer.headers()["content-type"]
        .to_str()
        .unwrap()
        .to_owned();
    assert!(kind.starts_with("application/openmetrics-text"), "{kind}");
    Read::of(&answer.text().await.unwrap())
}

#[tokio::test]
async fn what_is_counted_moves_as_somebody_walks_and_names_nobody() {
    let api = BotApi::start().await;
    let folder = tempfile::tempdir().unwrap();
    let options = ["--metrics-listen", "127.0.0.1:0"].map(OsStr::new);
    let program = Program::serve(&api, folder.path(), &options);
    let code = program.code.clone().unwrap();
    let mut sam = Chat::new(&api, 715_390_288, "Samantha");
    sam.say("/start ABCD-WRONG-CODE").await;
    sam.say(&format!("/start {code}")).await;
    let begun = scrape(&program).await;
    assert_eq!(
        begun.sum("fanwright_wrong_codes_total", "what=\"code\""),
        1.0
    );
    assert_eq!(begun.sum("fanwright_inputs_total", ""), 0.0);

    sam.say("/new").await;
    sam.press("Evaporator fan that moves no air").await;
    sam.reply("Corner Market, EV-3, meat cooler left").await;
    sam.press("Pause").await;
    sam.press("Go on with the job").await;
    // A button of before: it is stale by now.
    let all = api.sent(sam.user);
    let old = all
        .iter()
        .find(|sent| sent.text.contains("· step 1"))
        .unwrap();
    let stale = sam.pressing_on(old.id, &old.buttons[0].0.clone());
    sam.delivers(&stale).await;
    api.fail_next("sendmessage", Fault::Wait(0));
    sam.say("/help").await;
    for path in ["/job/0000", "/no/such/page"] {
        let asked = reqwest::get(format!("{}{path}", program.base)).await;
        assert!(asked.is_ok(), "{path}");
    }

    let walked = scrape(&program).await;
    let grew = |name: &str, label: &str| walked.sum(name, label) - begun.sum(name, label);
    assert_eq!(grew("fanwright_inputs_total", "outcome=\"advanced\""), 2.0);
    assert_eq!(grew("fanwright_refusals_total", "reason=\"stale\""), 1.0);
    assert_eq!(grew("fanwright_sends_total", "verdict=\"wait\""), 1.0);
    assert!(grew("fanwright_sends_total", "verdict=\"delivered\"") >= 6.0);
    assert!(grew("fanwright_update_seconds_count", "") >= 7.0);
    assert!(grew("fanwright_reply_seconds_count", "rank=\"answer\"") >= 6.0);
    assert!(grew("fanwright_send_wait_seconds_count", "rank=\"answer\"") >= 6.0);
    assert!(grew("fanwright_engine_step_seconds_count", "") >= 2.0);
    assert!(grew("fanwright_store_append_seconds_count", "") >= 3.0);
    assert!(grew("fanwright_store_sync_seconds_count", "") >= 3.0);
    assert!(grew("fanwright_request_seconds_count", "route=\"/job/{job}\"") >= 1.0);
    assert!(grew("fanwright_request_seconds_count", "status=\"404\"") >= 1.0);
    assert_eq!(walked.sum("fanwright_jobs_at_hand", ""), 1.0);
    assert!(walked.sum("fanwright_disk_free_bytes", "") > 1e6);
    assert!(walked.samples.contains_key("fanwright_index_lag_frames"));
    for nothing in ["fanwright_torn_tails_total", "fanwright_journal_damaged"] {
        assert_eq!(walked.samples.get(nothing), Some(&0.0), "{nothing}");
    }

    let pages = format!("{}/metrics", program.base);
    let from_the_pages = reqwest::get(pages).await.unwrap().status();
    assert_eq!(from_the_pages, 404, "they are not where people are let in");
    let words: BTreeSet<&String> = walked.samples.keys().collect();
    for secret in ["Samantha", "715390288", "Corner", &code, "0000-"] {
        assert!(!format!("{words:?}").contains(secret), "{secret}");
    }
    program.kill();
}
