//! The `chat` command: one person at this machine's terminal, over the data folder itself.

use std::io::{BufReader, Write, stderr, stdin, stdout};
use std::path::PathBuf;
use std::process::ExitCode;

use crate::channel::terminal::Terminal;
use crate::desk::clock::{Clock, MachineClock};
use crate::desk::sessions::SessionLimits;
use crate::operator::DataFolder;
use crate::server::{self, Settings};
use crate::store::Store;

/// Arguments of `chat`.
#[derive(Debug, clap::Args)]
pub struct ChatArgs {
    /// The data folder
    #[command(flatten)]
    pub folder: DataFolder,
    /// A folder of flows instead of the shipped ones
    #[arg(long, value_name = "DIR", env = "FANWRIGHT_FLOWS")]
    pub flows: Option<PathBuf>,
    /// Who speaks: several people can take turns at one terminal
    #[arg(long = "as", value_name = "NAME", default_value = "me")]
    pub account: String,
    /// Begin a new crew with the invented demo kit and speed book
    #[arg(long)]
    pub demo: bool,
}

/// Talks in the terminal until the person leaves.
pub fn run(args: &ChatArgs) -> ExitCode {
    let settings = Settings {
        data: args.folder.data.clone(),
        flows: args.flows.clone(),
        open_door: false,
        demo_goods: args.demo,
        public_url: None,
        sessions: SessionLimits::default(),
        webhooks_to_private: false,
    };
    let talked = tokio::runtime::Builder::new_multi_thread()
        .worker_threads(2)
        .enable_all()
        .build()
        .map_err(|error| error.to_string())
        .and_then(|runtime| runtime.block_on(talk(&settings, &args.account)));
    match talked {
        Ok(()) => ExitCode::SUCCESS,
        Err(told) => {
            // Without a terminal to tell it to, the exit status says it.
            drop(writeln!(stderr(), "{told}"));
            ExitCode::FAILURE
        }
    }
}

async fn talk(settings: &Settings, account: &str) -> Result<(), String> {
    let opened = server::open(settings).map_err(|error| error.to_string())?;
    for told in &opened.told {
        drop(writeln!(stderr(), "{told}"));
    }
    opened
        .desk
        .start()
        .await
        .map_err(|error| error.to_string())?;
    let timers = tokio::spawn(server::keep_time(opened.desk.clone()));
    let clock = MachineClock::new();
    let now = || clock.now();
    let run = now().as_nanosecond().to_string();
    let mut input = BufReader::new(stdin());
    let mut output = stdout();
    let terminal = Terminal::new(
        opened.desk.clone(),
        account,
        run,
        (&mut input, &mut output),
        &now,
    );
    let talked = terminal.talk().await.map_err(|error| error.to_string());
    timers.abort();
    opened
        .store
        .close()
        .await
        .map_err(|error| error.to_string())?;
    talked
}
