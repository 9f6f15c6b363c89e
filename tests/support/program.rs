//! The program itself, `fanwright serve`, over a folder.

use std::ffi::OsStr;
use std::io::{BufRead, BufReader, Read};
use std::path::Path;
use std::process::{Child, ChildStdout, Command, Stdio};
use std::thread::JoinHandle;

use super::bot_api::{BotApi, TOKEN};

const FLOW: &str = include_str!("../telegram/bench.yaml");
const PICTURE: &str = r##"<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 64 40">
<rect width="64" height="40" fill="#dfe5e1"/></svg>"##;

/// A running program; it is killed with this, the hard way.
pub(crate) struct Program {
    child: Option<Child>,
    log: Option<JoinHandle<String>>,
    /// What it tells, as far as nobody heard it.
    told: Option<BufReader<ChildStdout>>,
    /// Where its pages are.
    pub(crate) base: String,
    /// The code of the first supervisor, if it told one.
    pub(crate) code: Option<String>,
    /// Where its metrics are, if it told.
    pub(crate) metrics: Option<String>,
}

impl Drop for Program {
    fn drop(&mut self) {
        if let Some(mut child) = self.child.take() {
            // It may have ended by itself.
            drop(child.kill());
            drop(child.wait());
        }
    }
}

impl Program {
    /// Writes a flow of a few steps, with its picture, into this folder.
    pub(crate) fn flows(folder: &Path) {
        std::fs::create_dir_all(folder.join("pictures")).unwrap();
        std::fs::write(folder.join("look-at-the-fan.yaml"), FLOW).unwrap();
        std::fs::write(folder.join("pictures/fan.svg"), PICTURE).unwrap();
    }

    /// Starts it over this folder, with a bot at this Bot API server; returns when it is ready.
    pub(crate) fn serve(api: &BotApi, data: &Path, options: &[&OsStr]) -> Program {
        Program::starts(api, data, options).ready()
    }

    /// Starts it and does not wait for it.
    pub(crate) fn starts(api: &BotApi, data: &Path, options: &[&OsStr]) -> Program {
        Program::starts_in(api, data, (options, &[]))
    }

    /// The same with more in its environment. Where that speaks of the log, it is kept.
    pub(crate) fn starts_in(
        api: &BotApi,
        data: &Path,
        (options, environment): (&[&OsStr], &[(&str, &str)]),
    ) -> Program {
        let keeps_log = environment.iter().any(|(name, _)| name.contains("LOG"));
        let stderr = match keeps_log {
            true => Stdio::piped(),
            false => Stdio::inherit(),
        };
        let child = Command::new(env!("CARGO_BIN_EXE_fanwright"))
            .args(["serve", "--listen", "127.0.0.1:0", "--data"])
            .arg(data)
            .args(options)
            .env("TELOXIDE_TOKEN", TOKEN)
            .env("TELOXIDE_API_URL", &api.url)
            .envs(environment.iter().copied())
            .stdout(Stdio::piped())
            .stderr(stderr)
            .spawn();
        let mut child = child.unwrap();
        Program {
            told: child.stdout.take().map(BufReader::new),
            log: child.stderr.take().map(|mut log| {
                std::thread::spawn(move || {
                    let mut text = String::new();
                    log.read_to_string(&mut text).unwrap();
                    text
                })
            }),
            child: Some(child),
            base: String::new(),
            code: None,
            metrics: None,
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
            if let Some(metrics) = line.strip_prefix("Metrics at ") {
                self.metrics = Some(metrics.to_owned());
            }
            if line.contains(awaited) {
                return self;
            }
        }
        panic!("the program ended before it was ready");
    }

    /// Tells it to stop, as a service manager does.
    pub(crate) fn tell_to_stop(&self) {
        let process = self.child.as_ref().unwrap().id().to_string();
        let told = Command::new("kill").args(["-TERM", &process]).status();
        assert!(told.unwrap().success());
    }

    /// Waits until it ended by itself, in order; gives its log, if that was kept.
    pub(crate) async fn ended(mut self) -> String {
        let mut child = self.child.take().unwrap();
        let log = self.log.take();
        // The Bot API server that it may still talk to runs on this thread.
        let waiting = tokio::task::spawn_blocking(move || {
            let status = child.wait().unwrap();
            (status, log.map(|log| log.join().unwrap()))
        });
        let (status, log) = waiting.await.unwrap();
        assert!(status.success(), "{status}");
        log.unwrap_or_default()
    }

    /// Kills it without a moment to tidy up.
    pub(crate) fn kill(self) {}
}
