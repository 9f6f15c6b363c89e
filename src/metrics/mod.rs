//! What the operator's monitoring reads: counts and times, without anybody's data.
//!
//! There is one set for the process. No name, no number of a chat, a person or a job and no typed
//! word goes into a label: each is one of a few words of the program itself, or the template of an
//! address. What is measured decides nothing.

mod buckets;
mod registered;
mod stopwatch;

use std::borrow::Cow;
use std::sync::LazyLock;

use prometheus_client::encoding::text::encode;
use prometheus_client::metrics::info::Info;
use prometheus_client::registry::Registry;

use registered::{Counts, Gauges, Naming, Times};
pub use stopwatch::Stopwatch;

/// The kind of text that [`Metrics::text`] is.
pub const CONTENT_TYPE: &str = "application/openmetrics-text; version=1.0.0; charset=utf-8";

/// The set of this process.
pub fn metrics() -> &'static Metrics {
    static METRICS: LazyLock<Metrics> = LazyLock::new(Metrics::new);
    &METRICS
}

/// Everything that is counted and measured.
pub struct Metrics {
    registry: Registry,
    times: Times,
    counts: Counts,
    gauges: Gauges,
}

/// How things stand at the moment of a look.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Standing {
    /// Jobs that are folded and at hand.
    pub jobs_at_hand: usize,
    /// Messages to chats that are due and not delivered.
    pub to_chats: Waiting,
    /// Calls to other programs that are due and not taken.
    pub to_programs: Waiting,
    /// Browsers in which somebody is signed in.
    pub sessions: usize,
    /// Bytes that the data folder may still take; none where nobody knows.
    pub disk_free: Option<u64>,
    /// Frames that were trusted when the journal was opened and are not read back yet.
    pub unread_frames: u64,
    /// Whether something that was read back is not as it was written.
    pub is_damaged: bool,
}

/// What is due and still waits.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Waiting {
    /// How much.
    pub count: usize,
    /// How many seconds ago the oldest of it was due.
    pub oldest_seconds: i64,
}

impl Metrics {
    fn new() -> Metrics {
        let mut registry = Registry::with_prefix("fanwright");
        let version = Info::new([("version", env!("CARGO_PKG_VERSION"))]);
        registry.register("build", "The program", version);
        let named = &mut Naming(&mut registry);
        Metrics {
            times: Times::named(named),
            counts: Counts::named(named),
            gauges: Gauges::named(named),
            registry,
        }
    }

    /// All of it as text, in the format of OpenMetrics 1.0.
    pub fn text(&self, standing: &Standing) -> String {
        self.stands(standing);
        let mut text = String::new();
        if encode(&mut text, &self.registry).is_err() {
            tracing::error!("the metrics could not be written");
        }
        text
    }

    fn stands(&self, standing: &Standing) {
        self.gauges
            .index_lag
            .set(self.gauges.journal_frame.get() - self.gauges.index_frame.get());
        self.gauges.jobs_at_hand.set(count(standing.jobs_at_hand));
        self.gauges.sessions.set(count(standing.sessions));
        let bytes = standing.disk_free.map(i64::try_from);
        self.gauges
            .disk_free
            .set(bytes.map_or(-1, |bytes| bytes.unwrap_or(i64::MAX)));
        self.gauges
            .unread_frames
            .set(frame_number(standing.unread_frames));
        self.gauges.damaged.set(i64::from(standing.is_damaged));
        for (to, waiting) in [
            ("chat", standing.to_chats),
            ("program", standing.to_programs),
        ] {
            let to = [("to", to)];
            let many = self.gauges.outbox_waiting.get_or_create(&to);
            many.set(count(waiting.count));
            let oldest = self.gauges.outbox_oldest.get_or_create(&to);
            oldest.set(waiting.oldest_seconds);
        }
    }

    /// All that an update does is durable.
    pub fn update_is_durable(&self, taken: Stopwatch) {
        self.times.updates.observe(taken.seconds());
    }

    /// A message of this urgency goes out for the first time.
    pub fn send_waited(&self, rank: &'static str, offered: Stopwatch) {
        let times = self.times.send_waits.get_or_create(&[("rank", rank)]);
        times.observe(offered.seconds());
    }

    /// The chat service answered a request, with this verdict.
    pub fn send_answered(&self, verdict: &'static str, asked: Stopwatch) {
        self.times.send_requests.observe(asked.seconds());
        self.send_ended(verdict);
    }

    /// Something that was to be sent ended otherwise.
    pub fn send_ended(&self, verdict: &'static str) {
        self.counts
            .sends
            .get_or_create(&[("verdict", verdict)])
            .inc();
    }

    /// A chat has a message of this urgency.
    pub fn chat_has_it(&self, rank: &'static str, offered: Stopwatch) {
        let times = self.times.replies.get_or_create(&[("rank", rank)]);
        times.observe(offered.seconds());
    }

    /// The engine decided.
    pub fn step_decided(&self, began: Stopwatch) {
        self.times.steps.observe(began.seconds());
    }

    /// The store answered for a batch.
    pub fn appended(&self, began: Stopwatch) {
        self.times.appends.observe(began.seconds());
    }

    /// The disk has everything.
    pub fn synced(&self, began: Stopwatch) {
        self.times.syncs.observe(began.seconds());
    }

    /// A request was answered: its method, the template of its address, and the status.
    pub fn request_answered(
        &self,
        method: &'static str,
        (route, status): (&str, u16),
        began: Stopwatch,
    ) {
        let labels = [
            ("method", Cow::Borrowed(method)),
            ("route", Cow::Owned(route.to_owned())),
            ("status", Cow::Owned(status.to_string())),
        ];
        let times = self.times.requests.get_or_create(&labels);
        times.observe(began.seconds());
    }

    /// A report is set.
    pub fn report_made(&self, began: Stopwatch) {
        self.times.reports.observe(began.seconds());
    }

    /// A photo is taken in.
    pub fn photo_taken_in(&self, began: Stopwatch) {
        self.times.photos.observe(began.seconds());
    }

    /// An input to a job was handled.
    pub fn input(&self, channel: &'static str, outcome: &'static str) {
        let labels = [("channel", channel), ("outcome", outcome)];
        self.counts.inputs.get_or_create(&labels).inc();
    }

    /// An input had no effect.
    pub fn refused(&self, reason: &'static str) {
        self.counts
            .refusals
            .get_or_create(&[("reason", reason)])
            .inc();
    }

    /// A batch came second.
    pub fn conflict(&self) {
        self.counts.conflicts.inc();
    }

    /// A code or a password was not right.
    pub fn wrong_code(&self, what: &'static str) {
        self.counts
            .wrong_codes
            .get_or_create(&[("what", what)])
            .inc();
    }

    /// Another program was called.
    pub fn called(&self, outcome: &'static str) {
        self.counts
            .calls
            .get_or_create(&[("outcome", outcome)])
            .inc();
    }

    /// An unfinished write was cut off the journal.
    pub fn torn_tail(&self) {
        self.counts.torn_tails.inc();
    }

    /// The log has a line of this level.
    pub fn logged(&self, level: &'static str) {
        self.counts
            .log_lines
            .get_or_create(&[("level", level)])
            .inc();
    }

    /// The journal ends with this frame.
    pub fn journal_ends_at(&self, frame: u64) {
        self.gauges.journal_frame.set(frame_number(frame));
    }

    /// The index's files hold everything up to this frame.
    pub fn index_is_at(&self, frame: u64) {
        self.gauges.index_frame.set(frame_number(frame));
    }
}

fn count(count: usize) -> i64 {
    i64::try_from(count).unwrap_or(i64::MAX)
}

fn frame_number(frame: u64) -> i64 {
    i64::try_from(frame).unwrap_or(i64::MAX)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_text_is_whole_and_says_what_was_counted() {
        let metrics = Metrics::new();
        metrics.refused("stale");
        metrics.refused("stale");
        metrics.step_decided(Stopwatch::started());
        metrics.journal_ends_at(12);
        metrics.index_is_at(9);
        let standing = Standing {
            disk_free: Some(7),
            unread_frames: 5,
            is_damaged: true,
            to_chats: Waiting {
                count: 3,
                oldest_seconds: 40,
            },
            ..Standing::default()
        };
        let text = metrics.text(&standing);
        for line in [
            "fanwright_refusals_total{reason=\"stale\"} 2",
            "fanwright_engine_step_seconds_count 1",
            "fanwright_index_lag_frames 3",
            "fanwright_disk_free_bytes 7",
            "fanwright_journal_unread_frames 5",
            "fanwright_journal_damaged 1",
            "fanwright_outbox_waiting{to=\"chat\"} 3",
            "fanwright_outbox_oldest_seconds{to=\"chat\"} 40",
            "fanwright_outbox_waiting{to=\"program\"} 0",
            "# TYPE fanwright_update_seconds histogram",
        ] {
            assert!(text.lines().any(|it| it == line), "{line}\n{text}");
        }
        assert!(text.ends_with("# EOF\n"));
    }
}
