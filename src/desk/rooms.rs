//! Rooms: jobs that are run in a group of the crew, or in a topic of it.
//!
//! The job's own record says that it is open to the crew and who answered what. Where it is run,
//! and which message there shows how it stands, is beside it: losing that loses nothing of the job.

use std::collections::BTreeSet;

use uuid::Uuid;

use super::Desk;
use super::actor::Actor;
use super::card::phase;
use super::error::DeskError;
use super::floor::Work;
use super::groups::key as chat_key;
use super::id::JobId;
use super::screen::{Outcome, Phase, Screen};
use super::tables::{RoomRow, id_at_end, key as row_key, list, put, remove};
use crate::flow::model::Role;
use crate::record::entry::SignOff;
use crate::record::person::PersonId;
use crate::store::{Batch, IndexChange, InputKey};
use crate::walk;
use crate::walk::context::{Viewer, Way};
use crate::walk::input::Input;
use crate::walk::prompt::Action;
use crate::walk::share::{Answers, answers};

/// A job that is run in a group.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Room {
    /// The job.
    pub job: JobId,
    /// The group.
    pub chat: i64,
    /// The topic of the group.
    pub thread: Option<i32>,
    /// The message that says how the job stands.
    pub message: Option<i32>,
    /// The step whose picture was posted last.
    pub pictured: Option<String>,
}

impl Room {
    fn of(job: JobId, row: RoomRow) -> Room {
        Room {
            job,
            chat: row.chat,
            thread: row.thread,
            message: row.message,
            pictured: row.pictured,
        }
    }

    fn row(&self) -> RoomRow {
        RoomRow {
            chat: self.chat,
            thread: self.thread,
            message: self.message,
            pictured: self.pictured.clone(),
        }
    }
}

/// What a room shows to everybody in it. What each of them may do, the desk says when they do it.
#[derive(Clone, Debug, PartialEq)]
pub struct RoomScreen {
    /// The room.
    pub room: Room,
    /// The screen, as somebody would see it who may do everything.
    pub screen: Screen,
    /// Who answers the step at hand.
    pub answers: Option<Answers>,
    /// The job is over, or not open to the crew any more: this is the last that is shown.
    pub is_last: bool,
    /// The step at hand, as [`Room::pictured`] has it.
    pub step: Option<String>,
    /// Its picture, as SVG.
    pub picture: Option<String>,
}

/// What a room offers besides answers. The rest is for the holder alone, in their own chat.
const OFFERED: [Action; 13] = [
    Action::Resume,
    Action::KeepJob,
    Action::LiftStop,
    Action::KeepWorking,
    Action::HandIn,
    Action::Why,
    Action::How,
    Action::Working,
    Action::Back,
    Action::CallSupervisor,
    Action::EndSharing,
    Action::Stop,
    Action::Emergency,
];

/// Who is nobody of the crew: for what is said to all of it.
const NOBODY: PersonId = PersonId(Uuid::nil());

impl Desk {
    /// Opens a job to the crew in one of its groups. Gives where it was run before.
    ///
    /// # Errors
    /// When the group is not the crew's, the crew has no such job, or the actor is neither its
    /// holder nor a supervisor.
    pub async fn open_room(
        &self,
        key: InputKey,
        actor: &Actor,
        job: JobId,
        (chat, thread): (i64, Option<i32>),
    ) -> Result<Option<Room>, DeskError> {
        let group = self.group(chat).await?;
        if group.is_none_or(|group| group.crew != actor.crew) {
            return Err(DeskError::NotAllowed(
                "This group is not your crew's. A supervisor sends /bind here first.".to_owned(),
            ));
        }
        let handled = self.handle(key, actor, job, Input::Share).await?;
        if let Outcome::Refused(sentence) = handled.outcome {
            return Err(DeskError::NotAllowed(sentence));
        }
        let _turn = self.inner.queues.turn(job.stream()).await;
        let before = self.room(job).await?;
        let room = Room {
            job,
            chat,
            thread,
            message: None,
            pictured: None,
        };
        let mut batch = Batch::new(self.now());
        batch.index.extend(before.iter().flat_map(gone));
        batch.index.extend(there(&room)?);
        self.keep(batch).await?;
        Ok(before)
    }

    /// Where a job is run, if it is run in a group.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub async fn room(&self, job: JobId) -> Result<Option<Room>, DeskError> {
        let row = self.row::<RoomRow>(job.0).await?;
        Ok(row.map(|row| Room::of(job, row)))
    }

    /// The rooms of a group.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub async fn rooms_in(&self, chat: i64) -> Result<Vec<Room>, DeskError> {
        let jobs = self.listed(list::GROUP_ROOMS, &chat_key(chat)).await?;
        let mut rooms = Vec::new();
        for job in jobs {
            rooms.extend(self.room(JobId(job)).await?);
        }
        Ok(rooms)
    }

    /// All jobs that are run in groups.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub async fn jobs_in_rooms(&self) -> Result<Vec<JobId>, DeskError> {
        let rows = self.rows::<RoomRow>(&[]).await?;
        let jobs = rows.iter().filter_map(|(key, _)| id_at_end(key));
        Ok(jobs.map(JobId).collect())
    }

    /// What a room shows; none if the job is not run in a group.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub async fn room_screen(&self, job: JobId) -> Result<Option<RoomScreen>, DeskError> {
        let Some(room) = self.room(job).await? else {
            return Ok(None);
        };
        let work = self.work_at_hand(job).await?;
        let group = self.group(room.chat).await?;
        if group.is_none_or(|group| group.crew != work.crew) {
            self.forget_room(job).await?;
            return Ok(None);
        }
        let screen = self.screen_for_all(&work).await?;
        let name = screen.prompt.picture.as_ref();
        let picture = name.and_then(|name| work.edition.picture(name));
        let call = work.state.top();
        Ok(Some(RoomScreen {
            room,
            answers: answers(&work.edition, &work.state).filter(|_| screen.phase == Phase::Open),
            is_last: !work.state.shared || screen.phase == Phase::Accepted,
            step: call.map(|call| format!("{}/{}/{}", call.flow, call.instance, call.step)),
            picture: picture.map(str::to_owned),
            screen,
        }))
    }

    async fn screen_for_all(&self, work: &Work) -> Result<Screen, DeskError> {
        let all: BTreeSet<Role> = Role::ALL.into();
        let shown = as_if_shown(work);
        let seen_by = |who| {
            let viewer = Viewer {
                who,
                roles: &all,
                shown: &shown,
                way: Way::ReadThenDo,
            };
            self.prompt_of(work, viewer)
        };
        let mut prompt = seen_by(work.state.holder);
        prompt.actions.retain(|action| OFFERED.contains(action));
        // Everybody reads the notes, so they speak of the holder, not to them.
        let others = seen_by(NOBODY);
        prompt.notes = others.notes;
        if others.actions.contains(&Action::FoundWell) {
            prompt.actions.insert(0, Action::FoundWell);
        }
        if work.state.offer.is_some() {
            prompt.actions.insert(0, Action::TakeOver);
        }
        Ok(Screen {
            job: work.job,
            evaporator: self.evaporator_label(work.evaporator).await?,
            holder: self.named(work.state.holder).await?,
            phase: phase(&work.state),
            prompt,
            closing: Vec::new(),
            photos: 0,
        })
    }

    /// Notes which message shows how the job stands, as long as it is run there.
    ///
    /// # Errors
    /// When the store cannot keep it; a restart then posts another.
    pub async fn note_room(&self, at: &Room) -> Result<(), DeskError> {
        let _turn = self.inner.queues.turn(at.job.stream()).await;
        let now = self.room(at.job).await?;
        let is_there = now.is_some_and(|room| (room.chat, room.thread) == (at.chat, at.thread));
        if !is_there {
            return Ok(());
        }
        let mut batch = Batch::new(self.now());
        batch.index.push(put(at.job.0, &at.row())?);
        self.keep(batch).await.map(drop)
    }

    /// The topic of a room is gone: the room goes on in the group itself.
    ///
    /// # Errors
    /// When the store cannot keep it.
    pub async fn leave_topic(&self, job: JobId) -> Result<(), DeskError> {
        let _turn = self.inner.queues.turn(job.stream()).await;
        let Some(room) = self.room(job).await? else {
            return Ok(());
        };
        let row = Room {
            thread: None,
            message: None,
            ..room
        };
        let mut batch = Batch::new(self.now());
        batch.index.push(put(job.0, &row.row())?);
        self.keep(batch).await.map(drop)
    }

    /// The job is run in no group any more.
    ///
    /// # Errors
    /// When the store cannot keep it.
    pub async fn forget_room(&self, job: JobId) -> Result<(), DeskError> {
        let _turn = self.inner.queues.turn(job.stream()).await;
        let Some(room) = self.room(job).await? else {
            return Ok(());
        };
        let mut batch = Batch::new(self.now());
        batch.index.extend(gone(&room));
        self.keep(batch).await.map(drop)
    }

    /// The changes by which the rooms of a group follow when it gets another number. Messages have
    /// other numbers there, so the room is posted anew.
    pub(super) async fn rooms_moved(
        &self,
        from: i64,
        to: i64,
    ) -> Result<Vec<IndexChange>, DeskError> {
        let mut changes = Vec::new();
        for room in self.rooms_in(from).await? {
            changes.extend(gone(&room));
            let room = Room {
                chat: to,
                message: None,
                ..room
            };
            changes.extend(there(&room)?);
        }
        Ok(changes)
    }

    /// The changes by which a group loses its rooms.
    pub(super) async fn rooms_gone(&self, chat: i64) -> Result<Vec<IndexChange>, DeskError> {
        let rooms = self.rooms_in(chat).await?;
        Ok(rooms.iter().flat_map(gone).collect())
    }
}

/// Sign-offs for all that the step at hand needs: a room shows its buttons to whoever has them.
fn as_if_shown(work: &Work) -> Vec<SignOff> {
    let here = walk::here(&work.edition, &work.state);
    let needed = here.into_iter().flat_map(|(_, step)| &step.needs_shown);
    needed
        .map(|name| SignOff {
            competence: name.it.clone(),
            label: name.it.to_string(),
            person: work.state.holder,
            by: work.state.holder,
            at: work.state.last_at,
            until: None,
        })
        .collect()
}

fn listed(room: &Room) -> Vec<u8> {
    row_key(&[&chat_key(room.chat), room.job.0.as_bytes()])
}

fn there(room: &Room) -> Result<[IndexChange; 2], DeskError> {
    let listed = IndexChange::put(list::GROUP_ROOMS, listed(room), []);
    Ok([put(room.job.0, &room.row())?, listed])
}

fn gone(room: &Room) -> [IndexChange; 2] {
    let unlisted = IndexChange::remove(list::GROUP_ROOMS, listed(room));
    [remove::<RoomRow>(room.job.0), unlisted]
}
