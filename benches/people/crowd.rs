//! A data folder with many people at work, and the built program over it.

use std::io::{BufRead, BufReader};
use std::ops::Range;
use std::process::{Child, Command, Stdio};
use std::sync::Arc;
use std::time::Duration;

use fanwright::desk::clock::Clock;
use fanwright::desk::evaporators::NewEvaporator;
use fanwright::desk::jobs::NewJob;
use fanwright::desk::sessions::SessionLimits;
use fanwright::desk::{ChannelAddress, Desk, DeskError};
use fanwright::flow::model::Role;
use fanwright::flow::name::FlowName;
use fanwright::server::{self, Settings};
use fanwright::store::{InputKey, Store};
use jiff::{SignedDuration, Timestamp};
use tempfile::TempDir;
use tokio::task::JoinSet;

use crate::bot_api::{FIRST_CHAT, TOKEN};
use crate::memory::memory;
use crate::processor::processor;

/// So many people are in one crew.
const CREW: usize = 10;

/// So many steps a job has, as many as a whole visit.
pub const STEPS: usize = 64;

/// Their jobs began so long ago that nobody is sent their screen again at the start.
const AGO: SignedDuration = SignedDuration::from_hours(2);

/// A clock that stands still.
#[derive(Debug)]
struct Then(Timestamp);

impl Clock for Then {
    fn now(&self) -> Timestamp {
        self.0
    }

    fn running(&self) -> Duration {
        Duration::ZERO
    }
}

/// How people come in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum By {
    Chat,
    Page,
}

/// Somebody at the first step of a job.
#[derive(Clone, Debug)]
pub struct Worker {
    pub number: usize,
    pub tag: String,
    pub job: String,
    /// The cookie of their browser.
    pub cookie: String,
}

/// The folder, and those who work in it.
pub struct Crowd {
    folder: TempDir,
    pub workers: Vec<Worker>,
}

impl Crowd {
    /// So many people.
    pub async fn of(count: usize, by: By) -> Crowd {
        let folder = tempfile::tempdir().unwrap();
        std::fs::create_dir_all(folder.path().join("flows")).unwrap();
        std::fs::write(folder.path().join("flows/visit.yaml"), flow()).unwrap();
        let settings = Settings {
            data: folder.path().join("data"),
            flows: Some(folder.path().join("flows")),
            open_door: false,
            demo_goods: false,
            public_url: None,
            sessions: SessionLimits::default(),
            webhooks_to_private: false,
        };
        let opened = server::open(&settings).unwrap();
        let then = Arc::new(Then(Timestamp::now() - AGO));
        let desk = opened.desk_by(then, &settings);
        let mut coming = JoinSet::new();
        for first in (0..count).step_by(CREW) {
            let numbers = first..count.min(first + CREW);
            coming.spawn(crew(desk.clone(), numbers, by));
        }
        let mut workers = Vec::new();
        while let Some(came) = coming.join_next().await {
            workers.extend(came.unwrap().unwrap());
        }
        workers.sort_by_key(|worker| worker.number);
        opened.store.close().await.unwrap();
        Crowd { folder, workers }
    }

    /// Starts the program; gives where its pages are.
    pub fn serve(&self, api: Option<&str>) -> (Program, String) {
        let mut command = Command::new(env!("CARGO_BIN_EXE_fanwright"));
        command
            .args(["serve", "--listen", "127.0.0.1:0", "--data"])
            .arg(self.folder.path().join("data"))
            .arg("--flows")
            .arg(self.folder.path().join("flows"))
            .env("FANWRIGHT_LOG", "off")
            .env_remove("TELOXIDE_TOKEN");
        if let Some(api) = api {
            command.env("TELOXIDE_TOKEN", TOKEN);
            command.env("TELOXIDE_API_URL", api);
        }
        let mut program = Program::run(command);
        for line in program.lines() {
            if let Some(base) = line.strip_prefix("Listening on http://") {
                return (program, base.to_owned());
            }
        }
        panic!("the program ended before it was ready")
    }
}

/// A running program; it ends with this.
pub struct Program(Child);

impl Program {
    /// Runs it.
    pub fn run(mut command: Command) -> Program {
        Program(command.stdout(Stdio::piped()).spawn().unwrap())
    }

    /// What it tells, from the beginning.
    fn lines(&mut self) -> impl Iterator<Item = String> + use<> {
        let told = BufReader::new(self.0.stdout.take().unwrap());
        told.lines().map_while(Result::ok)
    }

    /// How much of the processors it had so far, and the most memory that it held.
    pub fn used(&self) -> String {
        let id = self.0.id().to_string();
        let processor = processor(&id).unwrap_or_default();
        let most = memory(&id, "VmHWM").unwrap_or_default() / 1_000_000;
        format!(
            "{:.1} s of processor, at most {most} MB",
            processor.as_secs_f64()
        )
    }
}

impl Drop for Program {
    fn drop(&mut self) {
        // It may have ended by itself.
        drop(self.0.kill());
        drop(self.0.wait());
    }
}

/// A crew of these people, each with an evaporator and a job on it.
async fn crew(desk: Desk, numbers: Range<usize>, by: By) -> Result<Vec<Worker>, DeskError> {
    let first = numbers.start;
    let code = desk.invite_new_crew().await?.code;
    let key = |what: &str, number| InputKey(format!("bench:{what}:{number}"));
    let chat = -1 - first as i64;
    let address = ChannelAddress::Telegram { chat, user: chat };
    let supervisor = desk
        .join(key("found", first), &code, "Sue", &address)
        .await?;
    let mut workers = Vec::new();
    for number in numbers {
        let (address, cookie) = match by {
            By::Chat => {
                let chat = FIRST_CHAT + number as i64;
                let address = ChannelAddress::Telegram { chat, user: chat };
                (address, String::new())
            }
            By::Page => {
                let session = desk.new_session()?;
                let cookie = format!("fanwright={}", session.reveal());
                (ChannelAddress::Browser { session }, cookie)
            }
        };
        let code = desk.invite(&supervisor, [Role::Technician].into()).await?;
        let name = format!("Worker {number}");
        let actor = desk
            .join(key("join", number), &code.code, &name, &address)
            .await?;
        let tag = format!("EV-{number}");
        let new = NewEvaporator {
            site: "Corner Market".to_owned(),
            tag: tag.clone(),
            hangs: String::new(),
        };
        let label = desk.add_evaporator(key("add", number), &actor, new).await?;
        let new = NewJob {
            evaporator: label.id,
            flow: FlowName::from("visit"),
            training: false,
        };
        let begun = desk.begin(key("begin", number), &actor, new).await?;
        workers.push(Worker {
            number,
            tag,
            job: begun.screen.job.to_string(),
            cookie,
        });
    }
    Ok(workers)
}

/// Questions with two answers, as many as a whole visit has.
fn flow() -> String {
    let mut text = "flow: visit\ntitle: A visit\nlanguage: en\nhands_off: true\n\
        outcomes: { done: Looked at everything }\nfacts:\n"
        .to_owned();
    for at in 1..=STEPS {
        text += &format!(
            "  fan_{at}: {{ one_of: {{ turns: It turns, stands: It stands still }}, \
             label: Fan {at} }}\n"
        );
    }
    text += "start: look_1\nsteps:\n";
    for at in 1..=STEPS {
        let next = match at {
            STEPS => "done".to_owned(),
            _ => format!("look_{}", at + 1),
        };
        text += &format!(
            "  look_{at}:\n    choose: fan_{at}\n    say: Look at fan {at} from where you \
             stand. Does it turn?\n    why: Somebody may have switched it off.\n    \
             then: {next}\n"
        );
    }
    text + "  done: { finish: done, say: That was all. }\n"
}
