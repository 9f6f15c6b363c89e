//! A real browser, driven through chromedriver.

use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::Duration;

use fantoccini::wd::Capabilities;
use fantoccini::{Client, ClientBuilder};
use serde_json::json;

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
        let mut options = json!({
            "args": [
                "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic",
                "--no-first-run", "--disable-background-networking",
                "--disable-component-update", "--disable-sync",
                "--disable-dev-shm-usage", "--hide-scrollbars",
                format!("--user-data-dir={}", profile.display()),
            ],
            "mobileEmulation": {
                "deviceMetrics": { "width": 390, "height": 844, "pixelRatio": dots }
            },
        });
        if let Ok(chromium) = std::env::var("CHROMIUM") {
            options["binary"] = json!(chromium);
        }
        let mut capabilities = Capabilities::new();
        capabilities.insert("goog:chromeOptions".to_owned(), options);
        ClientBuilder::new(hyper_util::client::legacy::connect::HttpConnector::new())
            .capabilities(capabilities)
            .connect(&format!("http://127.0.0.1:{}", self.port))
            .await
            .unwrap_or_else(|error| panic!("chromium cannot be started: {error}"))
    }
}
