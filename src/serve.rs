//! The `serve` command: the browser page and the chats over one data folder, until told to stop.

pub mod connections;
mod log;
pub mod options;
mod scrape;

use std::io::{Write, stderr, stdout};
use std::net::SocketAddr;
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::sync::Arc;
use std::time::Duration;

use axum::middleware::from_fn;
use tokio::net::TcpListener;
use tokio_util::sync::CancellationToken;

use crate::channel::api::{Api, ApiParts};
use crate::channel::browser::{Address, Browser, BrowserParts, Now};
use crate::channel::telegram::{self, BotToken, Telegram};
use crate::channel::webhooks::Webhooks;
use crate::demo::{self, DemoClock, DemoLink};
use crate::desk::Desk;
use crate::desk::clock::{Clock, MachineClock};
use crate::operator::Socket;
use crate::server::{self, Opened, Settings};
use crate::store::Store;

pub use connections::Bounds;
pub use options::{Options, ServeArgs};
use scrape::Scrape;

/// How long requests that run may take once the server was told to stop.
const LAST_REQUESTS: Duration = Duration::from_secs(10);

/// Serves until it is told to stop.
pub fn run(args: &ServeArgs) -> ExitCode {
    let served = Options::settle(args).and_then(|options| {
        log::begin()?;
        tokio::runtime::Builder::new_multi_thread()
            .enable_all()
            .build()
            .map_err(|error| error.to_string())?
            .block_on(serve(&options))
    });
    match served {
        Ok(()) => ExitCode::SUCCESS,
        Err(told) => {
            // Without a terminal to tell it to, the exit status says it.
            drop(writeln!(stderr(), "{told}"));
            ExitCode::FAILURE
        }
    }
}

async fn serve(options: &Options) -> Result<(), String> {
    // The address comes first: whoever calls while the store opens waits instead of failing.
    let listener = TcpListener::bind(options.listen).await.map_err(|error| {
        format!(
            "The address {} cannot be used: {error}. Choose another one with --listen.",
            options.listen
        )
    })?;
    let address = listener.local_addr().map_err(|error| error.to_string())?;
    let scrape = match options.metrics_listen {
        Some(address) => {
            let scrape = Scrape::at(address).await?;
            tell(&format!("Metrics at http://{}/metrics", scrape.address));
            Some(scrape)
        }
        None => None,
    };
    let settings = Settings {
        data: options.data.clone(),
        flows: options.flows.clone(),
        open_door: options.open_door,
        demo_goods: options.demo,
        public_url: options.public_url.clone(),
        sessions: options.sessions(),
        webhooks_to_private: options.webhooks_to_private,
    };
    let opened = server::open(&settings).map_err(|error| error.to_string())?;
    for told in &opened.told {
        tell(told);
    }
    if options.demo {
        show_demo(&opened, &settings, address).await?;
    }
    let telegram = telegram_channel(&opened.desk, options);
    let served = match telegram {
        Ok(telegram) => {
            let folder = (&opened.desk, options.data.as_path());
            let asked = tokio::spawn(answer_monitoring(
                scrape,
                folder.0.clone(),
                options.data.clone(),
            ));
            let served = serve_desk(folder, (listener, address), telegram).await;
            asked.abort();
            served
        }
        Err(told) => Err(told),
    };
    let closed = opened
        .store
        .close()
        .await
        .map_err(|error| error.to_string());
    served.and(closed)
}

/// Makes the demo, if it is not there yet, and prints the links of its people.
async fn show_demo(
    opened: &Opened,
    settings: &Settings,
    address: SocketAddr,
) -> Result<(), String> {
    let clock = Arc::new(DemoClock::before(MachineClock::new().now()));
    let desk = opened.desk_by(clock.clone(), settings);
    let in_words = |error: demo::NoDemo| error.to_string();
    demo::furnish(&desk, &clock).await.map_err(in_words)?;
    for link in demo::links(&opened.desk).await.map_err(in_words)? {
        let DemoLink { who, path } = link;
        tell(&format!("Demo {who}: http://{address}{path}"));
    }
    Ok(())
}

async fn serve_desk(
    (desk, data): (&Desk, &Path),
    (listener, address): (TcpListener, SocketAddr),
    telegram: Option<Telegram>,
) -> Result<(), String> {
    let in_words = |error: crate::desk::DeskError| error.for_the_log();
    desk.start().await.map_err(in_words)?;
    let stop = CancellationToken::new();
    let timers = tokio::spawn(server::keep_time(desk.clone()));
    let commands = tokio::spawn(take_commands(desk.clone(), data.to_owned(), stop.clone()));
    tell(&format!("Listening on http://{address}"));
    if let Some(invitation) = desk.first_supervisor_code().await.map_err(in_words)? {
        tell(&format!(
            "The first supervisor joins at http://{address}/join/{} (once, until {:.0}).",
            invitation.code.reveal(),
            invitation.until
        ));
    }
    let clock = MachineClock::new();
    let now: Now = Arc::new(move || clock.now());
    let browser = Browser::new(BrowserParts {
        desk: desk.clone(),
        now: Arc::clone(&now),
        stop: stop.clone(),
    });
    let api = Api::new(ApiParts {
        desk: desk.clone(),
        now: Arc::clone(&now),
    });
    let calls = Webhooks::new(desk.clone(), now)?;
    let calls = tokio::spawn(calls.run(stop.clone()));
    tokio::spawn(told_to_stop(stop.clone()));
    let pushed = telegram.as_ref().and_then(Telegram::webhook_router);
    let chats = tokio::spawn(run_telegram(telegram, stop.clone()));
    let service = browser
        .router()
        .merge(api.router())
        .layer(from_fn(scrape::measured))
        .merge(pushed.unwrap_or_default());
    let until = stop.clone().cancelled_owned();
    tokio::select! {
        () = connections::serve(listener, service, Bounds::default(), until) => {}
        () = too_late(&stop) => {}
    }
    stop.cancel();
    // The chats end what they are at before the store is closed; they bound their own time.
    drop(chats.await);
    drop(tokio::time::timeout(LAST_REQUESTS, calls).await);
    drop(tokio::time::timeout(LAST_REQUESTS, commands).await);
    timers.abort();
    Ok(())
}

/// Answers the operator's monitoring, if it was told where.
async fn answer_monitoring(scrape: Option<Scrape>, desk: Desk, data: PathBuf) {
    if let Some(scrape) = scrape {
        scrape.serve(desk, &data).await;
    }
}

/// Answers commands like `record`, which come over the socket in the data folder.
async fn take_commands(desk: Desk, data: PathBuf, stop: CancellationToken) {
    match Socket::open(&data) {
        Ok(socket) => socket.serve(desk, stop).await,
        Err(told) => tracing::warn!("{told}"),
    }
}

/// The Telegram channel, if the environment names a bot.
fn telegram_channel(desk: &Desk, options: &Options) -> Result<Option<Telegram>, String> {
    let given = |name: &str| std::env::var(name).ok().filter(|value| !value.is_empty());
    let Some(token) = given("TELOXIDE_TOKEN") else {
        return match options.webhook_url {
            Some(_) => Err("A webhook needs a bot: set TELOXIDE_TOKEN to its token.".to_owned()),
            None => Ok(None),
        };
    };
    let settings = telegram::Settings {
        token: BotToken(token),
        api_url: given("TELOXIDE_API_URL"),
        webhook_url: options.webhook_url.clone(),
        send_rate: options.send_rate,
        clock: Arc::new(MachineClock::new()),
    };
    let channel = Telegram::new(desk.clone(), settings).map_err(|error| error.to_string())?;
    match channel.webhook_path().filter(|path| is_taken(path)) {
        Some(path) => Err(format!(
            "“{path}” is an address of this server's own pages. Give --webhook-url another path, \
             like /telegram."
        )),
        None => Ok(Some(channel)),
    }
}

/// Whether something else answers at this path.
fn is_taken(path: &str) -> bool {
    let is_page = |address: &Address| address.path == path;
    path.starts_with("/api/") || Browser::addresses().iter().any(is_page)
}

/// Runs the chats; the pages go on if the bot turns out to be unknown.
async fn run_telegram(telegram: Option<Telegram>, stop: CancellationToken) {
    let Some(telegram) = telegram else {
        return;
    };
    tell("The Telegram channel runs.");
    if let Err(told) = telegram.run(stop).await {
        tracing::error!(%told, "the Telegram channel ended");
    }
}

/// Ends when the last requests have had their time.
async fn too_late(stop: &CancellationToken) {
    stop.cancelled().await;
    tokio::time::sleep(LAST_REQUESTS).await;
    tracing::warn!("some requests did not end in time and were cut off");
}

/// Waits for Ctrl-C or the signal to terminate, then tells everybody.
async fn told_to_stop(stop: CancellationToken) {
    let interrupted = async {
        if tokio::signal::ctrl_c().await.is_err() {
            std::future::pending::<()>().await;
        }
    };
    #[cfg(unix)]
    let terminated = async {
        use tokio::signal::unix::{SignalKind, signal};
        match signal(SignalKind::terminate()) {
            Ok(mut signal) => drop(signal.recv().await),
            Err(_) => std::future::pending().await,
        }
    };
    #[cfg(not(unix))]
    let terminated = std::future::pending::<()>();
    tokio::select! {
        () = interrupted => {}
        () = terminated => {}
    }
    tracing::info!("told to stop; the last requests are finished first");
    stop.cancel();
}

/// What the operator reads on the standard output.
fn tell(told: &str) {
    let mut output = stdout().lock();
    // An operator who closed the output does not want to read it.
    drop(writeln!(output, "{told}").and_then(|()| output.flush()));
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pushed_updates_get_no_address_of_a_page() {
        assert!(is_taken("/join") && is_taken("/api/v1/jobs"));
        assert!(!is_taken("/telegram") && !is_taken("/hook"));
    }
}
