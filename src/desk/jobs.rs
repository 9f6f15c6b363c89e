//! Jobs: beginning them, deciding and keeping what happens to them, looking at them.

use std::sync::Arc;

use super::actor::Actor;
use super::card::phase;
use super::carried::Carried;
use super::chance::new_id;
use super::concern::Happened;
use super::decided::{By, Seen, decide, sign_of_life};
use super::error::DeskError;
use super::floor::{LastAct, Work};
use super::id::{EvaporatorId, JobId};
use super::job_photos::photos_in;
use super::keep::{Hand, Kept, TRIES};
use super::notice::SECOND;
use super::screen::{Handled, Outcome, Screen};
use super::tables::{AtHandRow, MadeRow, PersonRow, put, written};
use super::ways::Brings;
use super::{Change, Desk, standing};
use crate::flow::edition::Edition;
use crate::flow::name::FlowName;
use crate::metrics::{Stopwatch, metrics};
use crate::record::around::EvaporatorWhat;
use crate::record::entry::{Channel, Entry, Pins};
use crate::record::person::PersonId;
use crate::record::stream::{Seq, StreamId};
use crate::store::{Batch, InputKey, StreamAppend};
use crate::walk::context::Context;
use crate::walk::input::Input;
use crate::walk::{self, Decided, State};

/// What a new job is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NewJob {
    /// On which evaporator.
    pub evaporator: EvaporatorId,
    /// Along which flow.
    pub flow: FlowName,
    /// A training walk: marked on every screen, never handed in.
    pub training: bool,
}

/// One decided input: the job before it and after it.
struct Step<'a> {
    by: By<'a>,
    before: &'a Work,
    after: &'a Work,
    entries: &'a [Entry],
}

impl Desk {
    /// Begins a job in these hands; the same input twice begins it once.
    pub(super) async fn begin_in_hands(
        &self,
        key: InputKey,
        actor: &Actor,
        new: NewJob,
        holder: PersonId,
    ) -> Result<Handled, DeskError> {
        self.present(actor).await?;
        self.evaporator_of(actor.crew, new.evaporator).await?;
        let edition = self.current_edition(actor.crew, &new.flow).await?;
        self.begin_along(key, actor, (new, holder), edition).await
    }

    /// Begins a job along this edition, whatever the crew's other new jobs walk.
    pub(super) async fn begin_along(
        &self,
        key: InputKey,
        actor: &Actor,
        (new, holder): (NewJob, PersonId),
        edition: Arc<Edition>,
    ) -> Result<Handled, DeskError> {
        let person = self.present(actor).await?;
        let brings = self.brings(actor, &person).await?;
        self.evaporator_of(actor.crew, new.evaporator).await?;
        self.publish(&edition).await?;
        let _turn = self.inner.queues.turn(new.evaporator.stream()).await;
        for _ in 0..TRIES {
            if let Some(made) = self.row::<MadeRow>(key.0.as_bytes()).await? {
                let screen = self.screen(actor, JobId(made.id)).await?;
                return Ok(Handled {
                    outcome: Outcome::AlreadyHandled,
                    screen,
                });
            }
            let by = By {
                actor: Some((actor, &person)),
                brings: &brings,
                seen: Seen::Anything,
            };
            let (work, entries) = self.new_work(by, (&new, holder), &edition).await?;
            let batch = self.beginning(&key, actor, &work, &entries).await?;
            match self.keep(batch).await {
                Ok(Kept::Fresh) => {
                    self.note_time_of(&work);
                    self.tell(&work);
                    let screen = self.make_screen(actor, (&person, &brings), &work).await?;
                    let place = self.place_of(work.job);
                    *place.lock().await = Some(work);
                    return Ok(Handled {
                        outcome: Outcome::Advanced,
                        screen,
                    });
                }
                // The other delivery of this input was faster: its job is found next time.
                Ok(Kept::Before) | Err(DeskError::Busy) => {}
                Err(error) => return Err(error),
            }
        }
        Err(DeskError::Busy)
    }

    async fn new_work(
        &self,
        by: By<'_>,
        (new, holder): (&NewJob, PersonId),
        edition: &Arc<Edition>,
    ) -> Result<(Work, Vec<Entry>), DeskError> {
        let Some((actor, person)) = by.actor else {
            return Err(DeskError::NotSignedIn);
        };
        let (kit, speed_book) = self.revisions(actor.crew).await?;
        let goods = self.goods_at(&kit, &speed_book).await?;
        let now = self.now();
        let pins = Pins {
            flow: edition.root().clone(),
            edition: edition.hash().to_owned(),
            crew: actor.crew.to_string(),
            evaporator: new.evaporator.to_string(),
            kit,
            speed_book,
            training: new.training,
        };
        let context = Context {
            who: Some(actor.person),
            roles: &person.roles,
            shown: &by.brings.shown,
            way: by.brings.way,
            channel: actor.channel,
            now,
            goods: goods.goods(),
        };
        let before = match new.training {
            true => Vec::new(),
            false => self.known_before(new.evaporator, edition).await?,
        };
        let entries = walk::begin_knowing(edition, pins, holder, (&context, before))?;
        let nothing = || DeskError::Fault("The engine began a job with nothing.".to_owned());
        let state = State::fold(&entries).ok_or_else(nothing)?;
        let work = Work {
            job: JobId(new_id(self.inner.parts.chance.as_ref(), now)?),
            crew: actor.crew,
            evaporator: new.evaporator,
            edition: Arc::clone(edition),
            goods,
            state,
            last: LastAct::of(&entries),
            photos: photos_in(&entries),
            record: None,
        };
        Ok((work, entries))
    }

    async fn beginning(
        &self,
        key: &InputKey,
        actor: &Actor,
        work: &Work,
        entries: &[Entry],
    ) -> Result<Batch, DeskError> {
        let now = work.state.began_at;
        let mut batch = Batch::handling(key.clone(), now);
        batch
            .appends
            .push(append(work.job.stream(), Seq::NONE, entries)?);
        let on = work.evaporator;
        let begun = EvaporatorWhat::JobBegun { job: work.job.0 };
        let expected = self.last(on.stream()).await?;
        batch
            .appends
            .push(Hand::of(actor, now).writes(on.stream(), expected, vec![begun])?);
        let label = self.evaporator_label(on).await?;
        batch.index = self.rows_of((None, work), entries, &label).await?;
        batch
            .index
            .push(put(key.0.as_bytes(), &MadeRow { id: work.job.0 })?);
        self.comes_to_hand(&mut batch, actor, work).await?;
        self.note_reach(&mut batch, actor).await?;
        Ok(batch)
    }

    /// Time itself acts on a job. A panic that one job meets holds up no other.
    pub(super) async fn handle_time(
        &self,
        key: Option<InputKey>,
        job: JobId,
        input: Input,
    ) -> Result<Outcome, DeskError> {
        let desk = self.clone();
        let handling = async move { desk.handle_time_whole(key, job, input).await };
        Carried::new(handling).await.unwrap_or_else(|panic| {
            Err(DeskError::Fault(format!(
                "Time did not act on job {job}: {panic}"
            )))
        })
    }

    async fn handle_time_whole(
        &self,
        key: Option<InputKey>,
        job: JobId,
        input: Input,
    ) -> Result<Outcome, DeskError> {
        let place = self.place_of(job);
        let mut place = place.lock().await;
        let work = self.folded(job, &mut place).await?;
        let by = By {
            actor: None,
            brings: &Brings::default(),
            seen: Seen::Anything,
        };
        let outcome = self.act(key.as_ref(), by, work, &input).await;
        match &outcome {
            Ok(outcome) => standing::handled(Channel::Server, outcome),
            Err(_) => *place = None,
        }
        outcome
    }

    /// Decides, keeps, folds; again if another server was first.
    pub(super) async fn act(
        &self,
        key: Option<&InputKey>,
        by: By<'_>,
        work: &mut Work,
        input: &Input,
    ) -> Result<Outcome, DeskError> {
        for _ in 0..TRIES {
            // The times of entries never go back, whatever the clock does.
            let now = self.time_of(work.job).max(work.state.last_at);
            let began = Stopwatch::started();
            let mut decided = decide(by, work, input, now);
            metrics().step_decided(began);
            let refused = sign_of_life(by, work, &mut decided, now);
            let _turn = match &decided {
                Ok(decided) => self.crew_turn(work, &decided.entries).await,
                Err(_) => None,
            };
            let mut batch = Batch::new(now);
            batch.key = key.cloned();
            let (decided, refusal) = match decided {
                Ok(decided) => (Some(decided), refused),
                Err(refusal) => (None, Some(refusal)),
            };
            let after = match decided {
                Some(decided) => Some(self.followed(&mut batch, by, work, decided).await?),
                None => None,
            };
            if let Some((actor, _)) = by.actor {
                self.note_reach(&mut batch, actor).await?;
            }
            if batch == Batch::new(now) {
                return Ok(Outcome::Advanced);
            }
            match self.keep(batch).await {
                Ok(Kept::Before) => return Ok(Outcome::AlreadyHandled),
                Ok(Kept::Fresh) => {}
                Err(DeskError::Busy) => {
                    let entries = self.entries(work.job, work.seq().next()).await?;
                    work.apply(&entries);
                    continue;
                }
                Err(error) => return Err(error),
            }
            if let Some(after) = after {
                let changed = after.state.revision != work.state.revision;
                *work = after;
                if changed {
                    self.note_time_of(work);
                    self.tell(work);
                }
            }
            return match refusal {
                None => Ok(Outcome::Advanced),
                Some(refusal) => {
                    standing::refused(&refusal);
                    self.refused(by, work, refusal).await.map(Outcome::Refused)
                }
            };
        }
        Err(DeskError::Busy)
    }

    /// The job after what was decided, with its seal if it has one, and with everything that
    /// follows put into the batch.
    async fn followed(
        &self,
        batch: &mut Batch,
        by: By<'_>,
        before: &Work,
        decided: Decided,
    ) -> Result<Work, DeskError> {
        let Decided { mut entries, after } = decided;
        let mut state = after;
        if let Some(seal) = self.seal(before, &entries).await? {
            walk::apply(&mut state, &seal);
            entries.push(seal);
        }
        let mut after = before.after(&entries, state);
        let step = Step {
            by,
            before,
            after: &after,
            entries: &entries,
        };
        after.record = self.effects(batch, step).await?;
        Ok(after)
    }

    /// Everything that follows from the entries and is kept with them; gives the whole record if
    /// it had to be read for it.
    async fn effects(
        &self,
        batch: &mut Batch,
        step: Step<'_>,
    ) -> Result<Option<Arc<[Entry]>>, DeskError> {
        let Step {
            by,
            before,
            after,
            entries,
        } = step;
        if entries.is_empty() {
            return Ok(None);
        }
        batch
            .appends
            .push(append(before.job.stream(), before.seq(), entries)?);
        let label = self.evaporator_label(after.evaporator).await?;
        let rows = self.rows_of((Some(before), after), entries, &label);
        batch.index.extend(rows.await?);
        if let Some((actor, _)) = by.actor
            && actor.person == after.state.holder
        {
            let at_hand = self.row::<AtHandRow>(actor.person.0).await?;
            if at_hand.is_none_or(|row| row.job != after.job.0) {
                batch
                    .index
                    .push(put(actor.person.0, &AtHandRow { job: after.job.0 })?);
            }
        }
        let for_others = self
            .note_for_others(batch, (before, after), entries)
            .await?;
        let holder = self.row::<PersonRow>(after.state.holder.0).await?;
        let happened = Happened {
            edition: &after.edition,
            before: &before.state,
            after: &after.state,
            entries,
            holder_name: SECOND,
            who: by.who(),
            name: by.name(),
            line: &label.line(),
            stands_out: for_others.stands_out,
            lacking: self.lacking_at(after).await?,
            holder_roles: &holder.map(|row| row.roles).unwrap_or_default(),
        };
        let notices = self.notices(after, by.who(), happened.news()).await?;
        for notice in notices {
            self.put_out(batch, notice).await?;
        }
        self.put_out_calls(batch, (before, after), entries).await?;
        Ok(for_others.record)
    }

    /// The screen of a job for this person, as it stands now.
    ///
    /// # Errors
    /// When the crew has no such job.
    pub async fn screen(&self, actor: &Actor, job: JobId) -> Result<Screen, DeskError> {
        let person = self.present(actor).await?;
        let place = self.place_of(job);
        let mut place = place.lock().await;
        let work = self.folded_for(actor, job, &mut place).await?;
        let brings = self.brings(actor, &person).await?;
        self.make_screen(actor, (&person, &brings), work).await
    }

    pub(super) fn tell(&self, work: &Work) {
        let change = Change {
            crew: work.crew,
            job: work.job,
            revision: work.state.revision,
            phase: phase(&work.state),
        };
        // Nobody may be listening; that is no fault.
        drop(self.inner.changes.send(change));
    }
}

fn append(stream: StreamId, expected: Seq, entries: &[Entry]) -> Result<StreamAppend, DeskError> {
    let entries = entries.iter().map(written).collect::<Result<_, _>>()?;
    Ok(StreamAppend {
        stream,
        expected,
        entries,
    })
}
