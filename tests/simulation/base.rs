//! A folder with a crew in it, made once; every run begins with a copy.

use std::sync::{Arc, LazyLock};

use fanwright::desk::evaporators::NewEvaporator;
use fanwright::desk::goods::StartingGoods;
use fanwright::desk::id::{EvaporatorId, JobId};
use fanwright::desk::jobs::NewJob;
use fanwright::desk::{Actor, ChannelAddress, Desk, Parts, Rules};
use fanwright::flow::embedded;
use fanwright::flow::library::{Library, Sources};
use fanwright::flow::model::Role;
use fanwright::record::entry::PhotoRef;
use fanwright::store::{InputKey, Journal, LooseIndex, Made, Store};
use jiff::{SignedDuration, Timestamp};

use super::chat::GROUP;
use super::disk::Disks;
use super::life::{Life, Watched, folder};
use super::machine::{Drawn, SimClock};
use super::plan::PEOPLE;
use super::world::World;

/// The people of the crew: name and roles.
pub(super) const CREW: [(&str, &[Role]); PEOPLE] = [
    ("Toni", &[Role::Technician]),
    ("Noor", &[Role::Technician, Role::Electrician]),
    ("Ada", &[Role::Apprentice]),
    ("Eli", &[Role::Electrician]),
    ("Sam", &[Role::Supervisor]),
];

/// The boot of the machine in which the folder was made.
const FIRST_BOOT: &str = "boot-0";

/// A folder to begin with.
pub(super) struct Base {
    pub(super) disks: Disks,
    pub(super) library: Library,
    pub(super) evaporators: Vec<EvaporatorId>,
    pub(super) photo: PhotoRef,
    /// The jobs that are begun already.
    pub(super) jobs: Vec<JobId>,
    /// The cookie of each person's browser, if they have one.
    pub(super) cookies: Vec<String>,
    pub(super) day: Timestamp,
}

/// What else is there in the beginning.
#[derive(Clone, Copy, Default)]
struct Furnished {
    /// Everybody but the last has a job in hand.
    jobs: bool,
    /// The crew has a group.
    group: bool,
    /// Everybody is signed in in a browser.
    browsers: bool,
}

/// A crew that walks small flows.
pub(super) static SMALL: LazyLock<Base> =
    LazyLock::new(|| Base::make(library(SMALL_FLOWS), Furnished::default()));

/// A crew in front of browsers.
pub(super) static PAGES: LazyLock<Base> = LazyLock::new(|| {
    let furnished = Furnished {
        browsers: true,
        ..Furnished::default()
    };
    let files = [SMALL_FLOWS, CREW_FLOWS].concat();
    Base::make(library(&files), furnished)
});

const SMALL_FLOWS: &[(&str, &str)] = &[
    ("small.yaml", include_str!("../walk/small.yaml")),
    ("small-proof.yaml", include_str!("../walk/small_proof.yaml")),
    ("shared.yaml", include_str!("../walk/sharing.yaml")),
    ("lock-and-leave.yaml", include_str!("../desk/locked.yaml")),
];

const CREW_FLOWS: &[(&str, &str)] = &[
    ("crew.yaml", include_str!("chat/crew.yaml")),
    ("crew-proof.yaml", include_str!("chat/crew_proof.yaml")),
];

fn library(files: &[(&str, &str)]) -> Library {
    let mut sources = Sources::default();
    for (file, text) in files {
        sources.files.insert((*file).to_owned(), (*text).to_owned());
    }
    Library::load(sources).unwrap()
}

/// A crew that walks the shipped flow.
pub(super) static SHIPPED: LazyLock<Base> =
    LazyLock::new(|| Base::make(embedded::library().unwrap(), Furnished::default()));

/// A crew of whom everybody with a chat has a job in hand that goes on and on.
pub(super) static CHATS: LazyLock<Base> = LazyLock::new(|| {
    let furnished = Furnished {
        jobs: true,
        ..Furnished::default()
    };
    let rounds = [("rounds.yaml", include_str!("chat/rounds.yaml"))];
    Base::make(library(&rounds), furnished)
});

/// A crew with a group, and a job for everybody that could be opened in it.
pub(super) static CREW_IN_GROUP: LazyLock<Base> = LazyLock::new(|| {
    let furnished = Furnished {
        jobs: true,
        group: true,
        browsers: false,
    };
    Base::make(library(CREW_FLOWS), furnished)
});

/// Where a person speaks from; the last of them at the terminal.
pub(super) fn address(person: usize) -> ChannelAddress {
    let number = 100 + i64::try_from(person).unwrap();
    match person + 1 == PEOPLE {
        true => ChannelAddress::Terminal {
            account: "sam".to_owned(),
        },
        false => ChannelAddress::Telegram {
            chat: number,
            user: number,
        },
    }
}

/// The key of what somebody does before a run begins.
fn key(what: &str) -> InputKey {
    InputKey(format!("before:{what}"))
}

impl Base {
    fn make(library: Library, furnished: Furnished) -> Base {
        let runtime = runtime();
        let base = runtime.block_on(Base::furnish(library, furnished));
        drop(runtime);
        base.disks.end_process();
        base
    }

    async fn furnish(library: Library, furnished: Furnished) -> Base {
        let day: Timestamp = "2031-05-05T08:00:00Z".parse().unwrap();
        let disks = Disks::new();
        let world = Arc::new(World::default());
        let life = Arc::new(Life::new(&world, &disks, 1));
        let made = Made {
            disk: Arc::new(disks.mount()),
            index: LooseIndex::default(),
            file_bytes: 64 * 1024,
        };
        let opened = Journal::open_by_hand(folder(), Some(FIRST_BOOT), &made).unwrap();
        let (journal, hands, _) = opened;
        let writing = tokio::spawn(Arc::clone(&life).write(hands));
        let store = Arc::new(Watched {
            life,
            broken: None,
            journal,
        });
        let clock = Arc::new(SimClock::showing(day));
        let desk = desk(&library, store.clone(), clock, 1);
        desk.start().await.unwrap();
        let sam = Base::join(&desk, None, PEOPLE - 1).await;
        let mut crew = Vec::new();
        for person in 0..PEOPLE - 1 {
            crew.push(Base::join(&desk, Some(&sam), person).await);
        }
        let evaporators = Base::evaporators(&desk, &sam).await;
        let mut jobs = Vec::new();
        for actor in crew.iter().filter(|_| furnished.jobs) {
            let new = NewJob {
                evaporator: evaporators[0],
                flow: library.roots().next().unwrap().name.clone(),
                training: false,
            };
            let key = key(&format!("job of {}", actor.name));
            jobs.push(desk.begin(key, actor, new).await.unwrap().screen.job);
        }
        if furnished.group {
            desk.bind_group(key("group"), &sam, GROUP).await.unwrap();
        }
        let mut cookies = Vec::new();
        for actor in crew.iter().chain([&sam]).filter(|_| furnished.browsers) {
            cookies.push(Base::signed_in(&desk, actor).await);
        }
        let photo = desk.take_photo(png()).await.unwrap();
        store.close().await.unwrap();
        writing.abort();
        Base {
            disks,
            library,
            evaporators,
            photo,
            jobs,
            cookies,
            // Longer than anybody is shown again where they were.
            day: day + SignedDuration::from_hours(2),
        }
    }

    async fn evaporators(desk: &Desk, by: &Actor) -> Vec<EvaporatorId> {
        let mut evaporators = Vec::new();
        for tag in ["EV-1", "EV-2"] {
            let new = NewEvaporator {
                site: "Corner Market".to_owned(),
                tag: tag.to_owned(),
                hangs: "meat cooler".to_owned(),
            };
            let added = desk.add_evaporator(key(tag), by, new).await;
            evaporators.push(added.unwrap().id);
        }
        evaporators
    }

    /// Signs somebody in in a browser; the cookie that it keeps.
    async fn signed_in(desk: &Desk, actor: &Actor) -> String {
        let code = desk.sign_in_code(actor).await.unwrap().code;
        let session = desk.new_session().unwrap();
        let address = ChannelAddress::Browser { session };
        let key = key(&format!("browser of {}", actor.name));
        desk.join(key, &code, "", &address).await.unwrap();
        format!("fanwright={}", session.reveal())
    }

    async fn join(desk: &Desk, by: Option<&Actor>, person: usize) -> Actor {
        let (name, roles) = CREW[person];
        let invitation = match by {
            Some(by) => desk.invite(by, roles.iter().copied().collect()).await,
            None => Ok(desk.first_supervisor_code().await.unwrap().unwrap()),
        };
        let code = invitation.unwrap().code;
        desk.join(key(name), &code, name, &address(person))
            .await
            .unwrap()
    }
}

/// A desk over this store.
pub(super) fn desk(
    library: &Library,
    store: Arc<dyn Store>,
    clock: Arc<SimClock>,
    seed: u64,
) -> Desk {
    Desk::new(Parts {
        store,
        clock,
        chance: Arc::new(Drawn::from(seed)),
        keys: crate::desk::keys(),
        library: library.clone(),
        goods: StartingGoods::default(),
        rules: Rules::default(),
    })
}

/// A runtime whose time passes only when everybody waits.
pub(super) fn runtime() -> tokio::runtime::Runtime {
    tokio::runtime::Builder::new_current_thread()
        .enable_time()
        .start_paused(true)
        .build()
        .unwrap()
}

fn png() -> Vec<u8> {
    let mut bytes = std::io::Cursor::new(Vec::new());
    let picture = image::DynamicImage::new_rgb8(8, 8);
    picture
        .write_to(&mut bytes, image::ImageFormat::Png)
        .unwrap();
    bytes.into_inner()
}
