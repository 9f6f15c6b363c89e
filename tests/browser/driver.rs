//! A real browser, driven through chromedriver.

use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::str::FromStr;
use std::time::Duration;

use fantoccini::wd::{Capabilities, WebDriverCompatibleCommand};
use fantoccini::{Client, ClientBuilder};
use reqwest::{Method, Url};
use serde_json::{Value, json};

/// Asks for what the browser wrote to its console since it was asked before.
#[derive(Debug)]
struct Console;

impl WebDriverCompatibleCommand for Console {
    fn endpoint(&self, base: &Url, session: Option<&str>) -> Result<Url, <Url as FromStr>::Err> {
        base.join(&format!("session/{}/se/log", session.unwrap_or_default()))
    }

    fn method_and_body(&self, _: &Url) -> (Method, Option<String>) {
        (Method::POST, Some(r#"{"type":"browser"}"#.to_owned()))
    }
}

/// The errors and warnings that the browser wrote to its console since it was asked before.
pub(super) async fn complaints(client: &Client) -> Vec<String> {
    let lines = client.issue_cmd(Console).await.unwrap();
    let lines = lines.as_array().cloned().unwrap_or_default();
    let is_one = |line: &&Value| matches!(line["level"].as_str(), Some("SEVERE" | "WARNING"));
    let complaints = lines.iter().filter(is_one);
    complaints.map(|line| line["message"].to_string()).collect()
}

/// A driver process that ends with this.
pub(super) struct Driver {
    process: Child,
    port: u16,
}

impl Drop for Driver {
    fn drop(&mut self) {
        drop(self.process.kill());
        drop(self.process.wait());
    }
}

impl Driver {
    pub(super) async fn start() -> Driver {
        let program = std::env::var("CHROMEDRIVER").unwrap_or_else(|_| "chromedriver".to_owned());
        let free = std::net::TcpListener::bind("127.0.0.1:0").unwrap();
        let port = free.local_addr().unwrap().port();
        drop(free);
        let process = Command::new(&program)
            .arg(format!("--port={port}"))
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .unwrap_or_else(|error| {
                panic!(
                    "{program} cannot be started: {error}. This test needs chromedriver and \
                     chromium: install them, or name them in CHROMEDRIVER and CHROMIUM."
                )
            });
        let driver = Driver { process, port };
        for _ in 0..300 {
            if tokio::net::TcpStream::connect(("127.0.0.1", port))
                .await
                .is_ok()
            {
                return driver;
            }
            tokio::time::sleep(Duration::from_millis(100)).await;
        }
        panic!("{program} does not answer on port {port}");
    }

    /// A browser as large as a phone; pictures of it have so many dots for one of the page.
    pub(super) async fn browser(&self, profile: &Path, dots: f64) -> Client {
        self.phone(profile, (390, dots)).await
    }

    /// A phone with a screen this wide.
    pub(super) async fn phone(&self, profile: &Path, (width, dots): (u32, f64)) -> Client {
        let phone = json!({
            "mobileEmulation": {
                "deviceMetrics": { "width": width, "height": 844, "pixelRatio": dots }
            },
        });
        self.connect(profile, phone).await
    }

    /// A phone with a screen this wide, which keeps what is saved in this folder.
    pub(super) async fn keeping(&self, profile: &Path, width: u32, folder: &Path) -> Client {
        let options = json!({
            "mobileEmulation": {
                "deviceMetrics": { "width": width, "height": 844, "pixelRatio": 1.0 }
            },
            "prefs": { "download.default_directory": folder, "download.prompt_for_download": false },
        });
        self.connect(profile, options).await
    }

    /// A browser that runs no scripts. It is no phone: the driver presses nothing on a phone
    /// without them.
    pub(super) async fn without_scripts(&self, profile: &Path) -> Client {
        let prefs = json!({
            "prefs": { "profile.managed_default_content_settings.javascript": 2 },
        });
        self.connect(profile, prefs).await
    }

    async fn connect(&self, profile: &Path, mut options: Value) -> Client {
        options["args"] = json!([
            "--headless",
            "--no-sandbox",
            "--disable-gpu",
            "--disable-quic",
            "--no-first-run",
            "--disable-background-networking",
            "--disable-component-update",
            "--disable-sync",
            "--disable-dev-shm-usage",
            "--hide-scrollbars",
            format!("--user-data-dir={}", profile.display()),
        ]);
        if let Ok(chromium) = std::env::var("CHROMIUM") {
            options["binary"] = json!(chromium);
        }
        let mut capabilities = Capabilities::new();
        capabilities.insert("goog:chromeOptions".to_owned(), options);
        let logs = json!({ "browser": "ALL" });
        capabilities.insert("goog:loggingPrefs".to_owned(), logs);
        ClientBuilder::new(hyper_util::client::legacy::connect::HttpConnector::new())
            .capabilities(capabilities)
            .connect(&format!("http://127.0.0.1:{}", self.port))
            .await
            .unwrap_or_else(|error| panic!("chromium cannot be started: {error}"))
    }
}
