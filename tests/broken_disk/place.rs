//! The program over a folder of its own on a disk, with somebody on the page and somebody in a
//! chat, each at the first step of a job.

use std::ffi::OsStr;
use std::path::{Path, PathBuf};

use fanwright::record::chain::verify_chain;
use fanwright::record::entry::{Entry, What};
use fanwright::record::stream::{Seq, StreamKind};
use fanwright::store::{Journal, Store};
use tempfile::TempDir;

use crate::support::bot_api::BotApi;
use crate::support::chat::Chat;
use crate::support::page::Page;
use crate::support::program::Program;

pub(super) struct Place {
    pub(super) page: Page,
    pub(super) chat: Chat,
    program: Program,
    data: PathBuf,
    job: String,
    /// Where the flows are.
    _flows: TempDir,
}

impl Place {
    pub(super) async fn at(disk: &Path) -> Place {
        let flows = tempfile::tempdir().unwrap();
        Program::flows(flows.path());
        let api = BotApi::start().await;
        let data = disk.join("data");
        let options = [OsStr::new("--flows"), flows.path().as_os_str()];
        let program = Program::serve(&api, &data, &options);
        let code = program.code.clone().unwrap();
        let mut page = Page::joined(&program.base, &code, "Sam").await;
        page.open("/new-job").await;
        let fields = [
            ("site", "Corner Market"),
            ("tag", "EV-3"),
            ("hangs", "left"),
        ];
        page.fill_and_press(&fields, "Add this evaporator").await;
        page.press("Begin the job").await;
        let job = page.path.clone();
        page.open("/people").await;
        let role = [("role", "technician")];
        page.fill_and_press(&role, "Make a one-time code").await;
        let code = page.text.lines().find(|line| {
            line.len() == 16 && line.bytes().all(|letter| letter.is_ascii_alphanumeric())
        });
        let mut chat = Chat::new(&api, 1001, "Toni");
        chat.say(&format!("/start {}", code.unwrap())).await;
        chat.say("/new").await;
        chat.press("Another evaporator").await;
        chat.reply("Corner Market, EV-4, right").await;
        page.open(&job).await;
        Place {
            page,
            chat,
            program,
            data,
            job,
            _flows: flows,
        }
    }

    pub(super) fn data(&self) -> &Path {
        &self.data
    }

    /// The address of the job on the page.
    pub(super) fn page_job(&self) -> String {
        self.job.clone()
    }

    pub(super) async fn killed(self) -> Killed {
        self.program.kill();
        Killed { data: self.data }
    }
}

/// What was left of it.
pub(super) struct Killed {
    data: PathBuf,
}

impl Killed {
    /// The steps that were answered in each job.
    pub(super) async fn answered(&self) -> Vec<Vec<String>> {
        let (store, _) = Journal::open(&self.data).unwrap();
        let jobs = store.streams(StreamKind::Job, None, usize::MAX).await;
        let mut all = Vec::new();
        for (job, _) in jobs.unwrap().items {
            let stored = store.read(job, Seq::FIRST, usize::MAX).await.unwrap();
            verify_chain(job, &stored).unwrap();
            let read = |bytes: &Vec<u8>| serde_json::from_slice::<Entry>(bytes).unwrap();
            let entries = stored.iter().map(|stored| read(&stored.bytes));
            let answered = entries.filter_map(|entry| match entry.what {
                What::Answered { step, .. } => Some(step.to_string()),
                _ => None,
            });
            all.push(answered.collect());
        }
        store.close().await.unwrap();
        all
    }
}
