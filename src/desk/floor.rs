//! The jobs that are being worked on, folded and at hand: a cache that can always be made again.

use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError};

use jiff::{SignedDuration, Timestamp};
use tokio::sync::Mutex as Queue;

use super::Desk;
use super::actor::Actor;
use super::error::DeskError;
use super::goods::GoodsAtHand;
use super::id::{CrewId, EvaporatorId, JobId};
use super::job_photos::photos_in;
use super::tables::read;
use crate::flow::edition::Edition;
use crate::record::chain::Stored;
use crate::record::entry::{Answer, Entry, What};
use crate::record::person::PersonId;
use crate::record::stream::Seq;
use crate::walk::{self, State};

/// So many jobs are kept folded; those looked at longest ago are let go.
const JOBS_AT_HAND_MAX: usize = 4_096;

/// A job that nobody looked at for so long is let go: it rests, and folding it again when it is
/// taken up costs less than its memory.
const REST: SignedDuration = SignedDuration::from_mins(10);

/// How often those that rest are looked for.
const SWEPT_EVERY: SignedDuration = SignedDuration::from_mins(1);

/// How many entries are read at once.
const ENTRIES_AT_ONCE: usize = 512;

/// One job, folded.
#[derive(Clone)]
pub(super) struct Work {
    pub(super) job: JobId,
    pub(super) crew: CrewId,
    pub(super) evaporator: EvaporatorId,
    pub(super) edition: Arc<Edition>,
    pub(super) goods: Arc<GoodsAtHand>,
    pub(super) state: State,
    pub(super) last: LastAct,
    /// How many photos came to it.
    pub(super) photos: usize,
    /// The whole record, where what was done last had to read it: what is done next to a job that
    /// is over needs it again.
    pub(super) record: Option<Arc<[Entry]>>,
}

/// What was last done to a job, time itself left aside.
#[derive(Clone, Default)]
pub(super) struct LastAct {
    /// Who did it.
    pub(super) who: Option<PersonId>,
    /// What they answered, if it was an answer.
    pub(super) answered: Option<String>,
}

impl LastAct {
    fn note(&mut self, entry: &Entry) {
        self.who = entry.who.or(self.who);
        match &entry.what {
            What::Answered { answer, .. } | What::ProofPart { answer, .. } => {
                self.answered = Some(answer.words()).filter(|_| *answer != Answer::Done);
            }
            What::ReadAgain { reading, .. } => self.answered = Some(reading.words()),
            // These follow from an answer, or happen by themselves.
            What::Went { .. }
            | What::Entered { .. }
            | What::CameBack { .. }
            | What::WorkedOut { .. }
            | What::WaitBegan { .. }
            | What::WaitOver { .. }
            | What::SourceSet { .. }
            | What::Proved { .. }
            | What::ProofFailed { .. }
            | What::ProofVoided { .. }
            | What::Unconfirmed { .. }
            | What::WayStands { .. }
            | What::Finished { .. } => {}
            _ => self.answered = None,
        }
    }

    pub(super) fn of(entries: &[Entry]) -> LastAct {
        let mut last = LastAct::default();
        for entry in entries {
            last.note(entry);
        }
        last
    }
}

impl Work {
    /// The place of the last entry.
    pub(super) fn seq(&self) -> Seq {
        Seq(self.state.revision)
    }

    /// The job after these entries, with the state that they lead to.
    pub(super) fn after(&self, entries: &[Entry], state: State) -> Work {
        let mut last = self.last.clone();
        entries.iter().for_each(|entry| last.note(entry));
        Work {
            job: self.job,
            crew: self.crew,
            evaporator: self.evaporator,
            edition: Arc::clone(&self.edition),
            goods: Arc::clone(&self.goods),
            state,
            last,
            photos: self.photos + photos_in(entries),
            record: None,
        }
    }

    /// Folds entries in.
    pub(super) fn apply(&mut self, entries: &[Entry]) {
        self.record = None;
        for entry in entries {
            walk::apply(&mut self.state, entry);
            self.last.note(entry);
        }
        self.photos += photos_in(entries);
    }
}

/// One place at a time: whoever waits here is served in the order in which they came.
pub(super) type Place = Arc<Queue<Option<Work>>>;

/// All places.
#[derive(Default)]
pub(super) struct Floor {
    places: Mutex<Places>,
}

#[derive(Default)]
struct Places {
    by_job: HashMap<JobId, Looked>,
    looks: u64,
    swept: Timestamp,
}

#[derive(Default)]
struct Looked {
    place: Place,
    /// The number of the last look.
    look: u64,
    at: Timestamp,
}

impl Looked {
    fn is_held(&self) -> bool {
        Arc::strong_count(&self.place) > 1
    }
}

impl Floor {
    /// How many jobs are at hand.
    pub(super) fn count(&self) -> usize {
        let places = self.places.lock().unwrap_or_else(PoisonError::into_inner);
        places.by_job.len()
    }

    /// The place of a job. Inputs to one job are handled one after the other by holding it.
    pub(super) fn place(&self, job: JobId, now: Timestamp) -> Place {
        // A place is whole whatever panicked while it was looked up.
        let mut places = self.places.lock().unwrap_or_else(PoisonError::into_inner);
        // A clock may be set back; then the next sweep is not put off until it is where it was.
        if now.duration_since(places.swept).abs() >= SWEPT_EVERY {
            places.sweep(now);
        }
        if places.by_job.len() >= JOBS_AT_HAND_MAX && !places.by_job.contains_key(&job) {
            places.let_go();
        }
        places.looks += 1;
        let look = places.looks;
        let looked = places.by_job.entry(job).or_default();
        (looked.look, looked.at) = (look, now);
        Arc::clone(&looked.place)
    }
}

impl Places {
    /// Lets go of those that rest, except places that somebody holds.
    fn sweep(&mut self, now: Timestamp) {
        self.swept = now;
        self.by_job
            .retain(|_, looked| now.duration_since(looked.at).abs() < REST || looked.is_held());
    }

    /// Lets go of the half that was looked at longest ago, except places that somebody holds.
    fn let_go(&mut self) {
        let mut looks: Vec<u64> = self.by_job.values().map(|looked| looked.look).collect();
        looks.sort_unstable();
        let middle = looks.get(looks.len() / 2).copied().unwrap_or_default();
        self.by_job
            .retain(|_, looked| looked.look >= middle || looked.is_held());
    }
}

impl Desk {
    /// The place of a job; whoever holds it handles the job alone.
    pub(super) fn place_of(&self, job: JobId) -> Place {
        self.inner.floor.place(job, self.now())
    }

    /// Folds the job into its place, or brings what is folded there up to the end of its stream.
    pub(super) async fn folded<'p>(
        &self,
        job: JobId,
        place: &'p mut Option<Work>,
    ) -> Result<&'p mut Work, DeskError> {
        let last = self.last(job.stream()).await?;
        // A reader of one entry too few would find out when it writes; one too many cannot be.
        let up_to_date = place.as_ref().is_some_and(|work| work.seq() == last);
        if !up_to_date {
            match place {
                Some(work) if work.seq() < last => {
                    let entries = self.entries(job, work.seq().next()).await?;
                    work.apply(&entries);
                }
                _ => *place = Some(self.fold(job).await?),
            }
        }
        place.as_mut().ok_or(DeskError::NotFound("job"))
    }

    /// The same for somebody of the crew whose job it is; for anybody else it is not there.
    pub(super) async fn folded_for<'p>(
        &self,
        actor: &Actor,
        job: JobId,
        place: &'p mut Option<Work>,
    ) -> Result<&'p mut Work, DeskError> {
        let work = self.folded(job, place).await?;
        match work.crew == actor.crew {
            true => Ok(work),
            false => Err(DeskError::NotFound("job")),
        }
    }

    /// A job as it stands, to keep after its place is free again.
    pub(super) async fn work_at_hand(&self, job: JobId) -> Result<Work, DeskError> {
        let place = self.place_of(job);
        let mut place = place.lock().await;
        Ok(self.folded(job, &mut place).await?.clone())
    }

    /// The same for what is only told beside something else: none if the job can never be read.
    pub(super) async fn work_if_whole(&self, job: JobId) -> Result<Option<Work>, DeskError> {
        match self.work_at_hand(job).await {
            Err(error) if error.is_lasting() => {
                self.set_aside(job.0, &error);
                Ok(None)
            }
            work => work.map(Some),
        }
    }

    /// The same for somebody of the crew whose job it is.
    pub(super) async fn work_for(&self, actor: &Actor, job: JobId) -> Result<Work, DeskError> {
        let place = self.place_of(job);
        let mut place = place.lock().await;
        Ok(self.folded_for(actor, job, &mut place).await?.clone())
    }

    async fn fold(&self, job: JobId) -> Result<Work, DeskError> {
        let entries = self.entries(job, Seq::FIRST).await?;
        let state = State::fold(&entries).ok_or(DeskError::NotFound("job"))?;
        self.work_of(job, state, &entries).await
    }

    /// A job with these entries, which lead to this state, and everything that it is pinned to.
    pub(super) async fn work_of(
        &self,
        job: JobId,
        state: State,
        entries: &[Entry],
    ) -> Result<Work, DeskError> {
        let pins = &state.pins;
        let fault = |_| DeskError::Fault(format!("The pins of job {job} name no crew or unit."));
        Ok(Work {
            job,
            crew: pins.crew.parse().map_err(fault)?,
            evaporator: pins.evaporator.parse().map_err(fault)?,
            edition: self.edition(&pins.flow, &pins.edition).await?,
            goods: self.goods_at(&pins.kit, &pins.speed_book).await?,
            state,
            last: LastAct::of(entries),
            photos: photos_in(entries),
            record: None,
        })
    }

    /// The entries of a job from a place on.
    pub(super) async fn entries(&self, job: JobId, from: Seq) -> Result<Vec<Entry>, DeskError> {
        let stored = self.stored(job, from).await?;
        stored.iter().map(|entry| read(&entry.bytes)).collect()
    }

    /// The entries of a job from a place on, as they are kept.
    pub(super) async fn stored(&self, job: JobId, from: Seq) -> Result<Vec<Stored>, DeskError> {
        let mut entries = Vec::new();
        let mut from = from;
        loop {
            let stored = self
                .store()
                .read(job.stream(), from, ENTRIES_AT_ONCE)
                .await?;
            let count = stored.len();
            let Some(last) = stored.last() else {
                return Ok(entries);
            };
            from = last.seq.next();
            entries.extend(stored);
            if count < ENTRIES_AT_ONCE {
                return Ok(entries);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use uuid::Uuid;

    use super::*;

    fn job(number: usize) -> JobId {
        JobId(Uuid::from_u128(number as u128))
    }

    #[test]
    fn places_are_let_go_except_those_in_use() {
        let floor = Floor::default();
        let now = Timestamp::UNIX_EPOCH;
        let held = floor.place(job(0), now);
        for number in 1..=JOBS_AT_HAND_MAX {
            floor.place(job(number), now);
        }
        let places = floor.places.lock().unwrap();
        assert!(places.by_job.len() <= JOBS_AT_HAND_MAX / 2 + 2);
        assert!(Arc::ptr_eq(&places.by_job[&job(0)].place, &held));
        assert!(places.by_job.contains_key(&job(JOBS_AT_HAND_MAX)));
    }

    #[test]
    fn what_rests_is_let_go_whichever_way_the_clock_is_set() {
        for way in [1, -1] {
            let floor = Floor::default();
            let at =
                |minutes: i64| Timestamp::UNIX_EPOCH + SignedDuration::from_mins(way * minutes);
            let held = floor.place(job(0), at(0));
            floor.place(job(1), at(0));
            floor.place(job(2), at(9));
            floor.place(job(3), at(11));
            let places = floor.places.lock().unwrap();
            let mut kept: Vec<JobId> = places.by_job.keys().copied().collect();
            kept.sort();
            assert_eq!(kept, [0, 2, 3].map(job));
            drop(held);
        }
    }
}
