//! Everything that is counted and measured, under its name and with a word on it.

use std::borrow::Cow;

use prometheus_client::metrics::counter::Counter;
use prometheus_client::metrics::family::Family;
use prometheus_client::metrics::gauge::Gauge;
use prometheus_client::metrics::histogram::Histogram;
use prometheus_client::registry::{Metric, Registry, Unit};

use super::buckets;

/// One label: what it is called, and a word of the program's own.
pub(super) type One = [(&'static str, &'static str); 1];

/// Two labels.
pub(super) type Two = [(&'static str, &'static str); 2];

/// Method, template of the address and status.
pub(super) type OfRequest = [(&'static str, Cow<'static, str>); 3];

/// Times by labels.
pub(super) type TimesBy<L> = Family<L, Histogram, fn() -> Histogram>;

/// Registers metrics under their names.
pub(super) struct Naming<'r>(pub(super) &'r mut Registry);

impl Naming<'_> {
    fn plain<M: Metric + Clone>(&mut self, name: &str, help: &str, metric: M) -> M {
        self.0.register(name, help, metric.clone());
        metric
    }

    fn seconds<M: Metric + Clone>(&mut self, name: &str, help: &str, metric: M) -> M {
        let unit = Unit::Seconds;
        self.0.register_with_unit(name, help, unit, metric.clone());
        metric
    }
}

/// How long things take.
pub(super) struct Times {
    pub(super) updates: Histogram,
    pub(super) replies: TimesBy<One>,
    pub(super) send_waits: TimesBy<One>,
    pub(super) send_requests: Histogram,
    pub(super) steps: Histogram,
    pub(super) appends: Histogram,
    pub(super) syncs: Histogram,
    pub(super) requests: TimesBy<OfRequest>,
    pub(super) reports: Histogram,
    pub(super) photos: Histogram,
}

impl Times {
    pub(super) fn named(named: &mut Naming<'_>) -> Times {
        Times {
            updates: named.seconds(
                "update",
                "From taking in an update of a chat until all that it does is durable",
                for_a_person(),
            ),
            replies: named.seconds(
                "reply",
                "From a message being ready until its chat has it, by how urgent it is",
                TimesBy::new_with_constructor(in_turn),
            ),
            send_waits: named.seconds(
                "send_wait",
                "How long a message waits for its first turn, by how urgent it is",
                TimesBy::new_with_constructor(in_turn),
            ),
            send_requests: named.seconds(
                "send_request",
                "How long the chat service takes to answer one request",
                for_a_person(),
            ),
            steps: named.seconds("engine_step", "One decision of the engine", in_memory()),
            appends: named.seconds(
                "store_append",
                "From handing a batch to the store until it would survive a power cut",
                on_disk(),
            ),
            syncs: named.seconds("store_sync", "One wait for the disk", on_disk()),
            requests: named.seconds(
                "request",
                "A request to a page or the API, until its answer begins",
                TimesBy::new_with_constructor(for_a_person),
            ),
            reports: named.seconds("report", "Setting one report as a PDF", for_a_person()),
            photos: named.seconds("photo", "Taking one photo in", for_a_person()),
        }
    }
}

/// How often things happen.
pub(super) struct Counts {
    pub(super) inputs: Family<Two, Counter>,
    pub(super) refusals: Family<One, Counter>,
    pub(super) sends: Family<One, Counter>,
    pub(super) conflicts: Counter,
    pub(super) wrong_codes: Family<One, Counter>,
    pub(super) calls: Family<One, Counter>,
    pub(super) torn_tails: Counter,
    pub(super) log_lines: Family<One, Counter>,
}

impl Counts {
    pub(super) fn named(named: &mut Naming<'_>) -> Counts {
        Counts {
            inputs: named.plain(
                "inputs",
                "Inputs to jobs, by channel and by what became of them",
                Family::default(),
            ),
            refusals: named.plain(
                "refusals",
                "Inputs that had no effect, by the reason",
                Family::default(),
            ),
            sends: named.plain(
                "sends",
                "Requests to the chat service to show something, by how they ended",
                Family::default(),
            ),
            conflicts: named.plain(
                "store_conflicts",
                "Batches that came second and were made anew",
                Counter::default(),
            ),
            wrong_codes: named.plain(
                "wrong_codes",
                "Codes and passwords that were not right",
                Family::default(),
            ),
            calls: named.plain(
                "webhook_calls",
                "Calls to other programs, by how they ended",
                Family::default(),
            ),
            torn_tails: named.plain(
                "torn_tails",
                "Unfinished writes that were cut off the journal at its opening",
                Counter::default(),
            ),
            log_lines: named.plain(
                "log_lines",
                "Lines of the log that warn or tell of a fault",
                Family::default(),
            ),
        }
    }
}

/// How things stand.
pub(super) struct Gauges {
    pub(super) journal_frame: Gauge,
    pub(super) index_frame: Gauge,
    pub(super) index_lag: Gauge,
    pub(super) jobs_at_hand: Gauge,
    pub(super) outbox_waiting: Family<One, Gauge>,
    pub(super) outbox_oldest: Family<One, Gauge>,
    pub(super) sessions: Gauge,
    pub(super) disk_free: Gauge,
    pub(super) unread_frames: Gauge,
    pub(super) damaged: Gauge,
}

impl Gauges {
    pub(super) fn named(named: &mut Naming<'_>) -> Gauges {
        Gauges {
            journal_frame: named.plain(
                "journal_frame",
                "The last frame of the journal",
                Gauge::default(),
            ),
            index_frame: named.plain(
                "index_frame",
                "The last frame that the index's files hold",
                Gauge::default(),
            ),
            index_lag: named.plain(
                "index_lag_frames",
                "How many frames the index's files are behind the journal",
                Gauge::default(),
            ),
            jobs_at_hand: named.plain(
                "jobs_at_hand",
                "Jobs that are folded and kept in memory",
                Gauge::default(),
            ),
            outbox_waiting: named.plain(
                "outbox_waiting",
                "What is due and not delivered yet, by where it goes",
                Family::default(),
            ),
            outbox_oldest: named.seconds(
                "outbox_oldest",
                "How long the oldest of it has been due",
                Family::default(),
            ),
            sessions: named.plain(
                "sessions",
                "Browsers in which somebody is signed in",
                Gauge::default(),
            ),
            disk_free: named.plain(
                "disk_free_bytes",
                "What the data folder may still take",
                Gauge::default(),
            ),
            unread_frames: named.plain(
                "journal_unread_frames",
                "Frames that were trusted at the opening and are not read back yet",
                Gauge::default(),
            ),
            damaged: named.plain(
                "journal_damaged",
                "Whether something that was read back is not as it was written",
                Gauge::default(),
            ),
        }
    }
}

fn in_memory() -> Histogram {
    Histogram::new(buckets::MEMORY)
}

fn on_disk() -> Histogram {
    Histogram::new(buckets::DISK)
}

fn for_a_person() -> Histogram {
    Histogram::new(buckets::PERSON)
}

fn in_turn() -> Histogram {
    Histogram::new(buckets::TURN)
}
