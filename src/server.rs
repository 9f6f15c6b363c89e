//! Putting the server together: settings in, a desk over an opened store out.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use crate::check::{self, Grade};
use crate::desk::chance::SystemChance;
use crate::desk::clock::{Clock, MachineClock};
use crate::desk::goods::StartingGoods;
use crate::desk::seal_keys::SealKeys;
use crate::desk::sessions::SessionLimits;
use crate::desk::{Desk, Parts, Rules};
use crate::flow::embedded;
use crate::flow::library::Library;
use crate::flow::model::Role;
use crate::flow_files;
use crate::store::{Admitted, DATA_FORMAT, Journal, OpenReport, Store, StoreError};

/// Where the data is and what the operator chose.
#[derive(Clone, Debug)]
pub struct Settings {
    /// The data folder.
    pub data: PathBuf,
    /// A folder of flows instead of the shipped ones.
    pub flows: Option<PathBuf>,
    /// Whether any newcomer may join as an apprentice.
    pub open_door: bool,
    /// Whether new crews begin with the invented demo kit and speed book.
    pub demo_goods: bool,
    /// The address under which people reach the page.
    pub public_url: Option<String>,
    /// How long browsers stay signed in.
    pub sessions: SessionLimits,
    /// Whether other programs may be called at private addresses and without encryption.
    pub webhooks_to_private: bool,
}

/// Why a server could not be put together: sentences for the operator.
#[derive(Debug, thiserror::Error)]
#[error("{0}")]
pub struct CannotStart(pub String);

/// An opened data folder with its desk.
pub struct Opened {
    /// The desk.
    pub desk: Desk,
    /// The store under it; to be closed when all is done.
    pub store: Arc<Journal>,
    /// What the operator should know about the opening, a sentence each.
    pub told: Vec<String>,
    keys: Arc<SealKeys>,
    library: Library,
}

impl Opened {
    /// Another desk over the same store, which tells the time by another clock.
    pub fn desk_by(&self, clock: Arc<dyn Clock>, settings: &Settings) -> Desk {
        let store = Arc::clone(&self.store) as Arc<dyn Store>;
        let keys = Arc::clone(&self.keys);
        desk((store, keys), clock, self.library.clone(), settings)
    }
}

/// Opens the data folder, loads the flows and sets up the desk.
///
/// # Errors
/// When the folder cannot be opened or the flows have something wrong.
pub fn open(settings: &Settings) -> Result<Opened, CannotStart> {
    let library = library(settings.flows.as_deref())?;
    let (store, report) = Journal::open(&settings.data).map_err(cannot_open)?;
    let keys = SealKeys::in_folder(&settings.data, &SystemChance)
        .map_err(|error| CannotStart(error.to_string()))?;
    let keys = Arc::new(keys);
    let mut told = told(&report);
    told.extend(keys.warning());
    let store = Arc::new(store);
    let served = Arc::clone(&store) as Arc<dyn Store>;
    let clock = Arc::new(MachineClock::new());
    Ok(Opened {
        desk: desk(
            (served, Arc::clone(&keys)),
            clock,
            library.clone(),
            settings,
        ),
        store,
        told,
        keys,
        library,
    })
}

/// What is wrong with the data folder, and what to do about it.
fn cannot_open(error: StoreError) -> CannotStart {
    let advice = match &error {
        error if error.is_no_room() => " Make room on that disk, then start again.",
        StoreError::Io { doing: "read", .. } => {
            " The disk may be failing: `fanwright backup --readable` takes what can be read."
        }
        StoreError::Io { .. } => " Name a folder that this program may write to with --data.",
        _ => "",
    };
    CannotStart(format!("{error}{advice}"))
}

fn desk(
    (store, keys): (Arc<dyn Store>, Arc<SealKeys>),
    clock: Arc<dyn Clock>,
    library: Library,
    settings: &Settings,
) -> Desk {
    let goods = if settings.demo_goods {
        demo_goods()
    } else {
        StartingGoods::default()
    };
    let open_door = settings.open_door.then(|| [Role::Apprentice].into());
    Desk::new(Parts {
        store,
        clock,
        chance: Arc::new(SystemChance),
        keys,
        library,
        goods,
        rules: Rules {
            open_door,
            public_url: settings.public_url.clone(),
            sessions: settings.sessions,
            webhooks_to_private: settings.webhooks_to_private,
        },
    })
}

fn told(report: &OpenReport) -> Vec<String> {
    let torn = report.torn.as_ref().map(|torn| {
        format!(
            "An unfinished write of {} bytes was cut off the journal and kept in {}. Nothing \
             acknowledged is missing.",
            torn.bytes,
            torn.kept_in.display()
        )
    });
    let raised = match report.format {
        Admitted::Present => None,
        Admitted::Raised { from } => Some(format!(
            "The data folder was of format {from} or before and is of format {DATA_FORMAT} from \
             now on. An older program must not open it any more."
        )),
    };
    torn.into_iter().chain(raised).collect()
}

fn library(flows: Option<&Path>) -> Result<Library, CannotStart> {
    let sources = match flows {
        Some(folder) => flow_files::read(folder).map_err(CannotStart)?,
        None => embedded::sources(),
    };
    let cannot = |told: Vec<String>| {
        CannotStart(format!(
            "The flows cannot be used:\n{}\n`fanwright check` tells more.",
            told.join("\n")
        ))
    };
    let library = Library::load(sources)
        .map_err(|problems| cannot(problems.iter().map(ToString::to_string).collect()))?;
    let findings = check::of_library(&library);
    let errors = findings.iter().filter(|it| it.grade == Grade::Error);
    let errors: Vec<String> = errors.map(ToString::to_string).collect();
    if errors.is_empty() {
        Ok(library)
    } else {
        Err(cannot(errors))
    }
}

/// How often waits are looked at: often enough that nobody notices, and that a clock that jumped
/// is seen at once.
const WAITS_EVERY: std::time::Duration = std::time::Duration::from_secs(1);

/// Ends waits and reminds people when their time has come, for as long as it is polled.
pub async fn keep_time(desk: Desk) {
    let mut ticks = tokio::time::interval(WAITS_EVERY);
    ticks.set_missed_tick_behavior(tokio::time::MissedTickBehavior::Delay);
    loop {
        ticks.tick().await;
        if let Err(error) = desk.end_waits().await {
            tracing::error!(error = error.for_the_log(), "waits could not be ended");
        }
        if let Err(error) = desk.remind().await {
            tracing::error!(error = error.for_the_log(), "nobody could be reminded");
        }
    }
}

/// The invented kit and speed book of the demo crew.
pub fn demo_goods() -> StartingGoods {
    StartingGoods {
        kit: Some(include_str!("../flows/demo/kit.yaml").to_owned()),
        speed_book: Some(include_str!("../flows/demo/speed-book.yaml").to_owned()),
    }
}
