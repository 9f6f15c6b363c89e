//! The program itself, `fanwright serve`, over a folder.

use std::ffi::OsStr;
use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::{Child, ChildStdout, Command, Stdio};

use super::bot_api::{BotApi, TOKEN};

/// A running program; it is killed with this, the hard way.
pub(crate) struct Program {
    child: Child,
    /// What it tells, as far as nobody heard it.
    told: Option<BufReader<ChildStdout>>,
    /// Where its pages are.
    pub(crate) base: String,
    /// The code of the first supervisor, if it told one.
    pub(crate) code: Option<String>,
}

impl Drop for Program {
    fn drop(&mut self) {
        // It may have ended by itself.
        drop(self.child.kill());
        drop(self.child.wait());
    }
}

impl Program {
    /// Starts it over this folder, with a bot at this Bot API server; returns when it is ready.
    pub(crate) fn serve(api: &BotApi, data: &Path, options: &[&OsStr]) -> Program {
        Program::starts(api, data, options).ready()
    }

    /// Starts it and does not wait for it.
    pub(crate) fn starts(api: &BotApi, data: &Path, options: &[&OsStr]) -> Program {
        let child = Command::new(env!("CARGO_BIN_EXE_fanwright"))
            .args(["serve", "--listen", "127.0.0.1:0", "--data"])
            .arg(data)
            .args(options)
            .env("TELOXIDE_TOKEN", TOKEN)
            .env("TELOXIDE_API_URL", &api.url)
            .stdout(Stdio::piped())
            .spawn();
        let mut child = child.unwrap();
        Program {
            told: child.stdout.take().map(BufReader::new),
            child,
            base: String::new(),
            code: None,
        }
    }

    /// Returns when everything runs.
    pub(crate) fn ready(self) -> Program {
        self.tells("Telegram channel runs")
    }

    /// Returns when it listens, before it goes on.
    pub(crate) fn listening(self) -> Program {
        self.tells("Listening on ")
    }

    fn tells(mut self, awaited: &str) -> Program {
        let told = self.told.take().expect("it was heard to the end");
        let mut lines = told.lines().map_while(Result::ok);
        for line in lines.by_ref() {
            if let Some(base) = line.strip_prefix("Listening on ") {
                self.base = base.to_owned();
            }
            if let Some((_, rest)) = line.split_once("/join/") {
                self.code = rest.split(' ').next().map(str::to_owned);
            }
            if line.contains(awaited) {
                return self;
            }
        }
        panic!("the program ended before it was ready");
    }

    /// Kills it without a moment to tidy up.
    pub(crate) fn kill(self) {}
}
