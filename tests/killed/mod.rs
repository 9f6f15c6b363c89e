//! The whole server is killed in the middle of a job, again and again: nothing acknowledged is
//! lost, nothing happens twice, and everybody is shown where they were.

mod in_the_chat;
mod load;
mod on_the_page;

use std::ffi::OsStr;
use std::path::{Path, PathBuf};

use fanwright::desk::id::JobId;
use fanwright::record::chain::verify_chain;
use fanwright::record::entry::{Entry, What};
use fanwright::record::stream::Seq;
use fanwright::store::{Journal, Store};
use tempfile::TempDir;

use crate::support::bot_api::BotApi;
use crate::support::program::Program;

/// The steps of the flow and what each says, in order.
const STEPS: [(&str, &str); 6] = [
    ("arrive", "Stand where you can see the fan."),
    ("look", "Does the fan turn?"),
    ("gear", "What do you wear?"),
    ("read", "What does the nameplate say?"),
    ("plate", "Send a photo of the nameplate."),
    ("remark", "What did you see?"),
];

/// What the last step leads to.
const END: &str = "The fan turns. Nothing is to be done.";

/// What the step after this one says.
fn next_says(step: &str) -> &'static str {
    let at = STEPS.iter().position(|(name, _)| *name == step).unwrap();
    STEPS.get(at + 1).map_or(END, |(_, says)| says)
}

/// A folder with the flow and the data, and the program over it.
struct Bench {
    api: BotApi,
    folder: TempDir,
    /// The record when it was last looked at.
    record: Vec<Entry>,
}

impl Bench {
    async fn new() -> Bench {
        let folder = tempfile::tempdir().unwrap();
        Program::flows(&folder.path().join("flows"));
        Bench {
            api: BotApi::start().await,
            folder,
            record: Vec::new(),
        }
    }

    fn data(&self) -> PathBuf {
        self.folder.path().join("data")
    }

    fn serve(&self) -> Program {
        let flows = self.folder.path().join("flows");
        Program::serve(
            &self.api,
            &self.data(),
            &[OsStr::new("--flows"), flows.as_os_str()],
        )
    }

    /// Looks at what the killed program left: whole, and everything of before still there. Gives
    /// the steps that were answered, in order.
    async fn answered(&mut self, job: JobId) -> Vec<String> {
        let record = record(&self.data(), job).await;
        assert!(record.starts_with(&self.record), "something kept is gone");
        self.record = record;
        let answered = self.record.iter().filter_map(|entry| match &entry.what {
            What::Answered { step, .. } => Some(step.to_string()),
            _ => None,
        });
        answered.collect()
    }
}

async fn record(data: &Path, job: JobId) -> Vec<Entry> {
    let (store, _) = Journal::open(data).unwrap();
    let stream = job.stream();
    let stored = store.read(stream, Seq::FIRST, usize::MAX).await.unwrap();
    verify_chain(stream, &stored).unwrap();
    store.close().await.unwrap();
    let read = |bytes: &Vec<u8>| serde_json::from_slice(bytes).unwrap();
    stored.iter().map(|stored| read(&stored.bytes)).collect()
}

/// The names of the first so many steps.
fn first(count: usize) -> Vec<String> {
    let names = STEPS[..count].iter();
    names.map(|(name, _)| (*name).to_owned()).collect()
}

/// A photo.
fn photo() -> Vec<u8> {
    include_bytes!("../stories/photo.png").to_vec()
}
