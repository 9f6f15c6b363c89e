//! A folder with people at work, and the program over it.

use std::ffi::OsStr;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::Arc;

use fanwright::desk::evaporators::NewEvaporator;
use fanwright::desk::id::JobId;
use fanwright::desk::jobs::NewJob;
use fanwright::desk::sessions::SessionLimits;
use fanwright::desk::{Actor, ChannelAddress, Desk};
use fanwright::flow::model::Role;
use fanwright::flow::name::FlowName;
use fanwright::server::{self, Settings};
use fanwright::store::{InputKey, Store};
use tempfile::TempDir;

use crate::support::bot_api::BotApi;
use crate::support::program::Program;

/// So many times a job asks for words and then for a choice.
pub(super) const ROUNDS: usize = 6;

/// Somebody at work, as they come in.
pub(super) struct Comer {
    pub(super) name: String,
    pub(super) tag: String,
    pub(super) actor: Actor,
    pub(super) address: ChannelAddress,
    pub(super) job: JobId,
}

/// The folder.
pub(super) struct Site {
    pub(super) api: BotApi,
    folder: TempDir,
    flows: PathBuf,
}

impl Site {
    /// A crew with so many people in chats and as many on pages, each at the first step of a job.
    pub(super) async fn with(each: usize) -> (Site, Vec<Comer>) {
        let folder = tempfile::tempdir().unwrap();
        let flows = folder.path().join("flows");
        std::fs::create_dir_all(&flows).unwrap();
        std::fs::write(flows.join("look-round.yaml"), flow()).unwrap();
        let site = Site {
            api: BotApi::start().await,
            folder,
            flows,
        };
        let comers = site.people(each).await;
        (site, comers)
    }

    pub(super) fn data(&self) -> PathBuf {
        self.folder.path().join("data")
    }

    async fn people(&self, each: usize) -> Vec<Comer> {
        let settings = Settings {
            data: self.data(),
            flows: Some(self.flows.clone()),
            open_door: false,
            demo_goods: false,
            public_url: None,
            sessions: SessionLimits::default(),
            webhooks_to_private: false,
        };
        let opened = server::open(&settings).unwrap();
        let desk = &opened.desk;
        desk.start().await.unwrap();
        let code = desk.first_supervisor_code().await.unwrap().unwrap().code;
        let chat = ChannelAddress::Telegram { chat: 1, user: 1 };
        let key = InputKey("site:supervisor".to_owned());
        let supervisor = desk.join(key, &code, "Sue", &chat).await.unwrap();
        let mut comers = Vec::new();
        for number in 0..each {
            let user = 1001 + number as i64;
            let chat = ChannelAddress::Telegram { chat: user, user };
            let name = format!("Chat {number}");
            comers.push(comes(desk, &supervisor, (&name, chat)).await);
            let session = desk.new_session().unwrap();
            let page = ChannelAddress::Browser { session };
            let name = format!("Page {number}");
            comers.push(comes(desk, &supervisor, (&name, page)).await);
        }
        opened.store.close().await.unwrap();
        comers
    }

    /// Starts the program without waiting for it.
    pub(super) fn starts(&self) -> Program {
        let options = [OsStr::new("--flows"), self.flows.as_os_str()];
        Program::starts(&self.api, &self.data(), &options)
    }

    /// The journal as a kill left it, to look at while the program goes on with its own.
    pub(super) fn copy(&self) -> TempDir {
        let copy = tempfile::tempdir().unwrap();
        let (from, to) = (self.data().join("journal"), copy.path().join("journal"));
        std::fs::create_dir_all(&to).unwrap();
        for file in std::fs::read_dir(from).unwrap() {
            let file = file.unwrap();
            std::fs::copy(file.path(), to.join(file.file_name())).unwrap();
        }
        copy
    }

    /// Writes the record of a job out and checks it, both with the program.
    pub(super) fn verifies(&self, job: JobId) {
        let file = self.folder.path().join("record.json");
        let job = job.to_string();
        let data = self.data();
        let data = data.to_str().unwrap();
        let path = file.to_str().unwrap();
        fanwright(&["record", &job, "--json", path, "--data", data]);
        fanwright(&["verify", path]);
    }
}

fn fanwright(args: &[&str]) {
    let run = Command::new(env!("CARGO_BIN_EXE_fanwright"))
        .args(args)
        .output();
    let run = run.unwrap();
    assert!(run.status.success(), "{args:?}: {run:?}");
}

async fn comes(desk: &Desk, supervisor: &Actor, (name, address): (&str, ChannelAddress)) -> Comer {
    let key = |what: &str| InputKey(format!("site:{what}:{name}"));
    let roles = [Role::Technician].into();
    let code = desk.invite(supervisor, roles).await.unwrap().code;
    let actor = desk.join(key("join"), &code, name, &address).await.unwrap();
    let tag = name.replace(' ', "-").to_uppercase();
    let new = NewEvaporator {
        site: "Corner Market".to_owned(),
        tag: tag.clone(),
        hangs: String::new(),
    };
    let label = desk.add_evaporator(key("add"), &actor, new).await.unwrap();
    let new = NewJob {
        evaporator: label.id,
        flow: FlowName::from("look-round"),
        training: false,
    };
    let begun = desk.begin(key("begin"), &actor, new).await.unwrap();
    Comer {
        name: name.to_owned(),
        tag,
        actor,
        address,
        job: begun.screen.job,
    }
}

/// Words and a choice in turn.
fn flow() -> String {
    let mut text = "flow: look-round\ntitle: Look round\nlanguage: en\nhands_off: true\n\
        outcomes: { done: Looked round }\nfacts:\n"
        .to_owned();
    for at in 1..=ROUNDS {
        text += &format!("  seen_{at}: {{ text: 60, label: Seen {at} }}\n");
        text += &format!(
            "  fan_{at}: {{ one_of: {{ turns: It turns, stands: It stands }}, label: Fan {at} }}\n"
        );
    }
    text += "start: note_1\nsteps:\n";
    for at in 1..=ROUNDS {
        let next = match at {
            ROUNDS => "done".to_owned(),
            _ => format!("note_{}", at + 1),
        };
        text += &format!(
            "  note_{at}: {{ write: seen_{at}, say: What do you see at place {at}?, then: look_{at} }}\n"
        );
        text += &format!(
            "  look_{at}: {{ choose: fan_{at}, say: Does fan {at} turn?, then: {next} }}\n"
        );
    }
    text + "  done: { finish: done, say: That was all. }\n"
}

/// The steps in the order in which a job asks for them.
pub(super) fn steps() -> Vec<String> {
    let pair = |at| [format!("note_{at}"), format!("look_{at}")];
    (1..=ROUNDS).flat_map(pair).collect()
}

/// Opens what a kill left and gives its store.
pub(super) fn opened(copy: &Path) -> Arc<dyn Store> {
    Arc::new(fanwright::store::Journal::open(copy).unwrap().0)
}
