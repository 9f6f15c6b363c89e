//! The log: one event a line on the error output, as text or as JSON, without anybody's data.
//!
//! What stands in it: what happened, to which job or update, and what the operator can do about
//! it. Chats stand in it by a mark that means nothing after a restart. Libraries say only what is
//! wrong, whatever is asked for: what they say at other levels may hold addresses and texts.

use std::io::stderr;
use std::panic;

use tracing::{Event, Level, Subscriber};
use tracing_subscriber::EnvFilter;
use tracing_subscriber::filter::filter_fn;
use tracing_subscriber::layer::{Context, Layer, SubscriberExt};
use tracing_subscriber::util::SubscriberInitExt;

use crate::metrics::metrics;

/// How much is logged if nobody says.
const USUAL: &str = "fanwright=info,warn";

/// Begins to log: `FANWRIGHT_LOG` says how much, like `debug`; `FANWRIGHT_LOG_FORMAT` is `text` or
/// `json`.
///
/// # Errors
/// A sentence for the operator, when the format is another word.
pub(super) fn begin() -> Result<(), String> {
    let is_json = match std::env::var("FANWRIGHT_LOG_FORMAT").as_deref() {
        Err(_) | Ok("" | "text") => false,
        Ok("json") => true,
        Ok(other) => {
            return Err(format!(
                "“{other}” is no format of the log. Set FANWRIGHT_LOG_FORMAT to text or json."
            ));
        }
    };
    let filter = EnvFilter::try_from_env("FANWRIGHT_LOG").unwrap_or_else(|_| EnvFilter::new(USUAL));
    let ours =
        filter_fn(|about| about.target().starts_with("fanwright") || *about.level() <= Level::WARN);
    let lines = tracing_subscriber::fmt::layer().with_writer(stderr);
    let lines = match is_json {
        true => lines.json().flatten_event(true).boxed(),
        false => lines.boxed(),
    };
    let logs = tracing_subscriber::registry()
        .with(filter)
        .with(lines.with_filter(ours))
        .with(Counting)
        .try_init();
    // A program that already logs goes on as it does.
    drop(logs);
    panic::set_hook(Box::new(|panicked| {
        // What a panic says may quote what somebody typed; where it was does not.
        let place = panicked.location().map(ToString::to_string);
        tracing::error!(place, "a part of the server panicked; the others go on");
    }));
    Ok(())
}

/// Counts the lines that somebody should look at.
struct Counting;

impl<S: Subscriber> Layer<S> for Counting {
    fn on_event(&self, event: &Event<'_>, _: Context<'_, S>) {
        match *event.metadata().level() {
            Level::ERROR => metrics().logged("error"),
            Level::WARN => metrics().logged("warn"),
            _ => {}
        }
    }
}
