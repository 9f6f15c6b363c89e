//! Walks that are only tried: kept in memory for their person, and forgotten.

use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError};

use jiff::{SignedDuration, Timestamp};
use uuid::Uuid;

use super::Desk;
use super::actor::Actor;
use super::chance::new_id;
use super::error::DeskError;
use super::goods::GoodsAtHand;
use crate::flow::library::Library;
use crate::flow::model::{Role, Setting};
use crate::flow::name::{FlowName, PictureName};
use crate::flow::stand_in::walkable;
use crate::record::person::PersonId;
use crate::walk::input::Input;
use crate::walk::prompt::Prompt;
use crate::walk::refusal::Refusal;
use crate::walk::rehearsal::Rehearsal;
use crate::walk::state::SourceState;

/// So many are kept; the one that was left alone longest makes room for the next.
const REHEARSALS_MAX: usize = 64;

/// One that was left alone for so long is forgotten.
const LEFT_ALONE: SignedDuration = SignedDuration::from_hours(4);

/// All walks that are being tried.
#[derive(Default)]
pub(super) struct Rehearsals {
    held: Mutex<HashMap<Uuid, Held>>,
}

#[derive(Clone)]
struct Held {
    person: PersonId,
    used: Timestamp,
    goods: Arc<GoodsAtHand>,
    walk: Rehearsal,
}

/// A walk that is being tried, as one of its people sees it.
#[derive(Clone, Debug)]
pub struct RehearsalScreen {
    /// Which.
    pub id: Uuid,
    /// What this person sees.
    pub prompt: Prompt,
    /// In whose hands the walk is.
    pub holder: Option<Role>,
    /// The time in the walk.
    pub now: Timestamp,
    /// Whether a wait runs.
    pub waits: bool,
    /// The energy sources: what each is called, and how it stands.
    pub sources: Vec<(String, &'static str)>,
    /// Why the last input had no effect.
    pub refused: Option<String>,
}

/// What somebody does with a walk that is being tried.
#[derive(Clone, Debug)]
pub enum Try {
    /// What the person in this role does.
    Act(Role, Input),
    /// Lets time pass until the wait is over; then this role looks at it.
    LetTimePass(Role),
    /// Only looks, as this role.
    Look(Role),
}

impl Desk {
    /// Begins to try a flow of the draft in the hands of `role`. A part is tried alone, after
    /// questions for what its runner would give.
    ///
    /// # Errors
    /// When the actor is no supervisor, or the draft cannot be loaded.
    pub async fn rehearse(
        &self,
        actor: &Actor,
        flow: &FlowName,
        role: Role,
    ) -> Result<RehearsalScreen, DeskError> {
        self.must_be_supervisor(actor, "try a flow").await?;
        let draft = self.draft(actor).await?;
        let library = Library::load(draft.sources).map_err(not_loaded)?;
        let Some((root, sources)) = walkable(&library, flow) else {
            return Err(DeskError::NotFound("flow"));
        };
        let library = Library::load(sources).map_err(not_loaded)?;
        let edition = library.edition(&root).ok_or(DeskError::NotFound("flow"))?;
        let goods = self.goods(actor).await?;
        let now = self.now();
        let walk = Rehearsal::begin(Arc::new(edition), role, now, goods.goods())?;
        let id = new_id(self.inner.parts.chance.as_ref(), now)?;
        let held = Held {
            person: actor.person,
            used: now,
            goods,
            walk,
        };
        let screen = screen(id, &held.walk, role, None);
        self.inner.rehearsals.keep(id, held);
        Ok(screen)
    }

    /// Goes on with a walk that is being tried, or looks at it.
    ///
    /// # Errors
    /// When the actor is no supervisor, or the walk is not theirs or was forgotten.
    pub async fn try_on(
        &self,
        actor: &Actor,
        id: Uuid,
        what: Try,
    ) -> Result<RehearsalScreen, DeskError> {
        self.must_be_supervisor(actor, "try a flow").await?;
        let mut held = self.inner.rehearsals.find(id, actor.person)?;
        held.used = self.now();
        let (role, done) = match what {
            Try::Look(role) => (role, Ok(())),
            Try::LetTimePass(role) => (role, held.walk.let_time_pass(held.goods.goods())),
            Try::Act(role, input) => (role, held.walk.act(role, &input, held.goods.goods())),
        };
        let refused = done.err().map(|refusal: Refusal| refusal.to_string());
        let screen = screen(id, &held.walk, role, refused);
        self.inner.rehearsals.keep(id, held);
        Ok(screen)
    }

    /// The SVG text of a picture of a walk that is being tried.
    ///
    /// # Errors
    /// As [`Desk::try_on`], and when there is no such picture.
    pub async fn picture_tried(
        &self,
        actor: &Actor,
        id: Uuid,
        name: &PictureName,
    ) -> Result<String, DeskError> {
        self.must_be_supervisor(actor, "try a flow").await?;
        let held = self.inner.rehearsals.find(id, actor.person)?;
        let picture = held.walk.edition().picture(name).map(str::to_owned);
        picture.ok_or(DeskError::NotFound("picture"))
    }
}

fn screen(id: Uuid, walk: &Rehearsal, role: Role, refused: Option<String>) -> RehearsalScreen {
    let sources = walk.sources();
    RehearsalScreen {
        id,
        prompt: walk.prompt(role),
        holder: walk.holder(),
        now: walk.now(),
        waits: walk.waits_until().is_some(),
        sources: sources
            .map(|source| (source.declared.label.clone(), stands(source)))
            .collect(),
        refused,
    }
}

/// How a source stands in the walk.
fn stands(source: &SourceState) -> &'static str {
    if source.proof.is_some() {
        return "recorded proved";
    }
    match source.setting {
        None => "as found",
        Some((Setting::Opened, _)) => "opened",
        Some((Setting::Locked, _)) => "locked",
        Some((Setting::Unlocked, _)) => "lock off",
        Some((Setting::Closed, _)) => "switched on",
        Some((Setting::Waited, _)) => "waited",
        Some((Setting::Stopped, _)) => "stopped",
        Some((Setting::Blocked, _)) => "blocked",
        Some((Setting::Freed, _)) => "freed",
    }
}

fn not_loaded(problems: Vec<crate::flow::problem::Problem>) -> DeskError {
    let first = problems.first().map(ToString::to_string);
    let first = first.unwrap_or_default();
    DeskError::NotUnderstood(format!("The draft cannot be walked yet. {first}"))
}

impl Rehearsals {
    fn find(&self, id: Uuid, person: PersonId) -> Result<Held, DeskError> {
        // Nothing that touches the map can panic half-way.
        let held = self.held.lock().unwrap_or_else(PoisonError::into_inner);
        let found = held.get(&id).filter(|held| held.person == person);
        found.cloned().ok_or_else(forgotten)
    }

    fn keep(&self, id: Uuid, new: Held) {
        let mut held = self.held.lock().unwrap_or_else(PoisonError::into_inner);
        let now = new.used;
        held.retain(|_, other| now.duration_since(other.used) < LEFT_ALONE);
        held.insert(id, new);
        while held.len() > REHEARSALS_MAX {
            let oldest = held.iter().min_by_key(|(_, other)| other.used);
            let Some(oldest) = oldest.map(|(id, _)| *id) else {
                return;
            };
            held.remove(&oldest);
        }
    }
}

fn forgotten() -> DeskError {
    DeskError::NotAllowed("This trial is over. Begin it again from the flow's page.".to_owned())
}
