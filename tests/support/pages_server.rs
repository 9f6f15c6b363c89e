//! The real pages on a free port, over a store in memory.

use std::sync::{Arc, Mutex};
use std::time::Duration;

use fanwright::channel::api::{Api, ApiParts};
use fanwright::channel::browser::{Browser, BrowserParts, Now};
use fanwright::demo::{self, DemoClock};
use fanwright::desk::chance::SystemChance;
use fanwright::desk::clock::{Clock, MachineClock};
use fanwright::desk::{Desk, Parts, Rules};
use fanwright::flow::embedded;
use fanwright::flow::library::{Library, Sources};
use fanwright::serve::connections::{self, Bounds};
use fanwright::server;
use fanwright::store::{Memory, Store};
use jiff::Timestamp;
use tokio::net::TcpListener;
use tokio_util::sync::CancellationToken;

use super::page::Page;
use crate::desk::TestClock;

/// A server; it ends with this.
pub(crate) struct PagesServer {
    pub(crate) desk: Desk,
    /// What is kept under the desk, where the server was made with it.
    pub(crate) store: Option<Arc<dyn Store>>,
    pub(crate) base: String,
    stop: CancellationToken,
}

impl Drop for PagesServer {
    fn drop(&mut self) {
        self.stop.cancel();
    }
}

impl PagesServer {
    /// A server that walks these flows: file names and texts.
    pub(crate) async fn with_flows(flows: &[(&str, &str)]) -> PagesServer {
        let mut sources = Sources::default();
        for (file, text) in flows {
            sources.files.insert((*file).to_owned(), (*text).to_owned());
        }
        let library = Library::load(sources).unwrap_or_else(|problems| {
            let told: Vec<String> = problems.iter().map(ToString::to_string).collect();
            panic!("{}", told.join("\n"))
        });
        PagesServer::over(library).await
    }

    /// A server that walks the flows of this library.
    pub(crate) async fn over(library: Library) -> PagesServer {
        let store: Arc<dyn Store> = Arc::new(Memory::new());
        let clock: Arc<dyn Clock> = Arc::new(MachineClock::new());
        let desk = desk(&store, &clock, library);
        PagesServer::of(desk, store, Arc::new(Timestamp::now)).await
    }

    /// The demo as it stands at this time, which does not go on.
    pub(crate) async fn demo(now: Timestamp) -> PagesServer {
        let store: Arc<dyn Store> = Arc::new(Memory::new());
        let before = Arc::new(DemoClock::before(now));
        let clock: Arc<dyn Clock> = before.clone();
        let library = || embedded::library().unwrap();
        let maker = desk(&store, &clock, library());
        demo::furnish(&maker, &before).await.unwrap();
        let clock: Arc<dyn Clock> = Arc::new(TestClock(Mutex::new((now, Duration::ZERO))));
        let desk = desk(&store, &clock, library());
        PagesServer::of(desk, store, Arc::new(move || now)).await
    }

    /// The browser of the person of the demo crew in this role.
    pub(crate) async fn demo_person(&self, who: &str) -> Page {
        let links = demo::links(&self.desk).await.unwrap();
        let link = links.into_iter().find(|link| link.who == who).unwrap();
        let code = link.path.strip_prefix("/join/").unwrap().to_owned();
        Page::joined(&self.base, &code, "").await
    }

    async fn of(desk: Desk, store: Arc<dyn Store>, now: Now) -> PagesServer {
        desk.start().await.unwrap();
        tokio::spawn(server::keep_time(desk.clone()));
        let mut server = PagesServer::at(desk, now).await;
        server.store = Some(store);
        server
    }

    /// A server in front of this desk.
    pub(crate) async fn at(desk: Desk, now: Now) -> PagesServer {
        let stop = CancellationToken::new();
        let api = Api::new(ApiParts {
            desk: desk.clone(),
            now: Arc::clone(&now),
        });
        let browser = Browser::new(BrowserParts {
            desk: desk.clone(),
            now,
            stop: stop.clone(),
        });
        let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
        let base = format!("http://{}", listener.local_addr().unwrap());
        let service = browser.router().merge(api.router());
        let stopped = stop.clone().cancelled_owned();
        tokio::spawn(connections::serve(
            listener,
            service,
            Bounds::default(),
            stopped,
        ));
        PagesServer {
            desk,
            store: None,
            base,
            stop,
        }
    }

    /// A desk over this store.
    pub(crate) fn desk_over(store: Arc<dyn Store>) -> Desk {
        let clock: Arc<dyn Clock> = Arc::new(MachineClock::new());
        desk(&store, &clock, embedded::library().unwrap())
    }

    /// The browser of a new crew's first supervisor.
    pub(crate) async fn supervisor(&self, name: &str) -> Page {
        let invitation = self.desk.invite_new_crew().await.unwrap();
        Page::joined(&self.base, invitation.code.reveal(), name).await
    }

    /// The browser of somebody whom this supervisor invites in one role.
    pub(crate) async fn invited(&self, supervisor: &mut Page, role: &str, name: &str) -> Page {
        supervisor.open("/people").await;
        let fields = [("role", role)];
        supervisor
            .fill_and_press(&fields, "Make a one-time code")
            .await;
        let code = supervisor.text.lines().find(|line| {
            line.len() == 16 && line.bytes().all(|letter| letter.is_ascii_alphanumeric())
        });
        Page::joined(&self.base, code.unwrap(), name).await
    }
}

fn desk(store: &Arc<dyn Store>, clock: &Arc<dyn Clock>, library: Library) -> Desk {
    Desk::new(Parts {
        store: Arc::clone(store),
        clock: Arc::clone(clock),
        chance: Arc::new(SystemChance),
        keys: crate::desk::keys(),
        library,
        goods: server::demo_goods(),
        rules: Rules::default(),
    })
}
