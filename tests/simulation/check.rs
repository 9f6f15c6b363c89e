//! What must hold: after every start, and at the end.

use std::collections::{BTreeMap, BTreeSet};
use std::time::Duration;

use fanwright::desk::id::JobId;
use fanwright::desk::screen::{Outcome, Phase};
use fanwright::flow::edition::Edition;
use fanwright::flow::model::{Danger, Located, Role, SourceKind};
use fanwright::flow::name::SourceName;
use fanwright::record::chain::{Head, Stored, entry_hash};
use fanwright::record::entry::{Entry, What};
use fanwright::record::person::PersonId;
use fanwright::record::stream::{Seq, StreamId, StreamKind};
use fanwright::store::{InputKey, Journal, NoticeId, Store};
use fanwright::walk::input::Input;
use fanwright::walk::prompt::Ask;
use fanwright::walk::{self, State};
use jiff::{SignedDuration, Timestamp};

use crate::walk::Dice;

use super::base::CREW;
use super::server::Server;
use super::world::{Left, World};

/// Longer than a handled input is remembered would be a wrong clock, not a wrong store.
const REMEMBERED_FOR_SURE: SignedDuration = SignedDuration::from_hours(6 * 24);

/// So often somebody tries to come on with a job before it is called stuck.
const TRIES: usize = 40;

/// Everything that was ever acknowledged is there.
pub(super) async fn everything_promised_is_there(world: &World, journal: &Journal, now: Timestamp) {
    let (heads, keys, blobs, began) = {
        let known = world.known();
        let keys: Vec<InputKey> = known.keys.keys().cloned().collect();
        (known.heads.clone(), keys, known.blobs.clone(), known.began)
    };
    let mut lost = Vec::new();
    for (stream, head) in heads {
        let there = journal.read(stream, head.seq, 1).await.unwrap_or_default();
        if head.seq != Seq::NONE && there.first().is_none_or(|entry| entry.hash != head.hash) {
            lost.push(format!("{stream} up to {}", head.seq));
        }
    }
    if now.duration_since(began).abs() < REMEMBERED_FOR_SURE {
        for key in keys {
            if !journal.handled(key.clone(), now).await.unwrap_or(false) {
                lost.push(format!("the input {key}"));
            }
        }
    }
    for hash in blobs {
        if !matches!(journal.get_blob(hash).await, Ok(Some(_))) {
            lost.push(format!("the photo {hash}"));
        }
    }
    mail_is_there(world, journal, &mut lost).await;
    for what in lost {
        world.known().tally.lost += 1;
        world.wrong(format!("acknowledged and lost: {what}"));
    }
}

/// Every screen that anybody saw is there, and every input of which they were told that it counts.
pub(super) async fn everything_seen_is_there(
    world: &World,
    (journal, now): (&Journal, Timestamp),
    (screens, inputs): (BTreeMap<JobId, u64>, Vec<InputKey>),
) {
    let began = world.known().began;
    let mut lost = Vec::new();
    for (job, revision) in screens {
        let head = journal.head(job.stream()).await.unwrap_or(Head::NONE);
        if head.seq.0 < revision {
            lost.push(format!("screen {revision} of {job}, seen by somebody"));
        }
    }
    if now.duration_since(began).abs() < REMEMBERED_FOR_SURE {
        for key in inputs {
            if !journal.handled(key.clone(), now).await.unwrap_or(false) {
                lost.push(format!("the input {key}, told to count"));
            }
        }
    }
    for what in lost {
        world.known().tally.lost += 1;
        world.wrong(format!("acknowledged and lost: {what}"));
    }
}

/// The outbox holds what it must, and nothing that is through.
async fn mail_is_there(world: &World, journal: &Journal, lost: &mut Vec<String>) {
    let mut waiting: BTreeSet<NoticeId> = BTreeSet::new();
    let mut after = None;
    loop {
        let page = journal.notices_pending(Timestamp::MAX, after, 256).await;
        let Ok(page) = page else {
            return lost.push("the outbox".to_owned());
        };
        waiting.extend(page.items.iter().map(|notice| notice.id));
        after = page.next;
        if after.is_none() {
            break;
        }
    }
    let mut known = world.known();
    let mut again = Vec::new();
    for (id, mail) in &mut known.mail {
        match (mail.left, waiting.contains(id)) {
            (Left::Waits, false) => lost.push(format!("the message {id}")),
            (Left::Gone, true) => again.push(*id),
            (_, true) => {
                // It will go out once more, and nobody can help that.
                mail.excuses += u32::from(mail.left == Left::Either && mail.arrived > 0);
                mail.left = Left::Waits;
            }
            (_, false) => mail.left = Left::Gone,
        }
    }
    let again = again
        .into_iter()
        .map(|id| format!("the message {id} waits again"));
    known.wrong.extend(again);
}

/// What must hold once everybody was served.
pub(super) async fn at_the_end(server: &Server) {
    let world = &server.world;
    {
        let mut known = world.known();
        let mut wrong = Vec::new();
        for update in known.updates.iter().filter(|update| !update.is_answered) {
            wrong.push(format!("{update:?} was never answered"));
        }
        // What the chat's own channel sends is counted by its platform.
        let carried = known.mail.iter().filter(|_| server.place.has_mail());
        for (id, mail) in carried {
            if mail.left == Left::Gone && mail.arrived == 0 && !mail.is_needless {
                wrong.push(format!("the message {id} never arrived"));
            }
            if mail.arrived > 1 + mail.excuses {
                wrong.push(format!("the message {id} arrived too often: {mail:?}"));
            }
        }
        known.wrong.extend(wrong);
    }
    for kind in StreamKind::ALL {
        for stream in streams(server, kind).await {
            let entries = entries(server, stream).await;
            if let Err(why) = chained(stream, &entries) {
                world.wrong(why);
            }
            if kind == StreamKind::Job {
                job_is_as_it_should_be(server, JobId(stream.id), &entries).await;
            }
        }
    }
    server.place.at_the_end(server).await;
    let jobs = world.known().jobs.clone();
    for job in jobs {
        goes_on(server, job).await;
    }
}

async fn streams(server: &Server, kind: StreamKind) -> Vec<StreamId> {
    let store = &server.store.journal;
    let page = store.streams(kind, None, 10_000).await.unwrap();
    page.items.into_iter().map(|(stream, _)| stream).collect()
}

async fn entries(server: &Server, stream: StreamId) -> Vec<Stored> {
    let store = &server.store.journal;
    store.read(stream, Seq::FIRST, 100_000).await.unwrap()
}

/// Each entry is what its hash says, and follows the one before.
pub(super) fn chained(stream: StreamId, entries: &[Stored]) -> Result<(), String> {
    let mut head = Head::NONE;
    for entry in entries {
        let hash = entry_hash(stream, entry.seq, entry.previous, &entry.bytes);
        let follows = entry.seq == head.seq.next() && entry.previous == head.hash;
        if hash != entry.hash || !follows {
            return Err(format!("{stream} is broken at {}", entry.seq));
        }
        head = entry.head();
    }
    Ok(())
}

/// Nobody came past a touching step without proof and own lock, and nothing was told twice.
async fn job_is_as_it_should_be(server: &Server, job: JobId, stored: &[Stored]) {
    let world = &server.world;
    let entries: Vec<Entry> = stored
        .iter()
        .map(|entry| serde_json::from_slice(&entry.bytes).unwrap())
        .collect();
    let Some(mut state) = State::fold(&entries[..1]) else {
        return world.wrong(format!("job {job} does not begin"));
    };
    let edition = server.library.edition(&state.pins.flow).unwrap();
    if entries.windows(2).any(|two| two[1].at < two[0].at) {
        world.wrong(format!("job {job} goes back in time"));
    }
    let acts = entries[1..].chunk_by(|one, next| one.at == next.at && one.who == next.who);
    for act in acts {
        let before = state.clone();
        for entry in act {
            walk::apply(&mut state, entry);
        }
        let is = |wanted: fn(&What) -> bool| act.iter().any(|entry| wanted(&entry.what));
        let answered = is(|what| matches!(what, What::Answered { .. }));
        let voided = is(|what| matches!(what, What::ProofVoided { .. }));
        let Some(who) = act[0].who.filter(|_| answered && !voided) else {
            continue;
        };
        let Some(sources) = touched(&edition, &before) else {
            continue;
        };
        world.known().tally.hands_in += 1;
        if let Some(open) = unprotected(&edition, &before, (sources, who)) {
            world.wrong(format!("job {job}: hands went in, and {open}"));
        }
    }
}

/// What the step at hand touches, if hands go in.
fn touched<'e>(edition: &'e Edition, state: &State) -> Option<&'e [Located<SourceName>]> {
    let call = state.top()?;
    match &edition.step(&call.flow, &call.step)?.danger {
        Danger::Touches(sources) => Some(sources),
        _ => None,
    }
}

/// What a person who answers the step at hand is not protected from.
fn unprotected(
    edition: &Edition,
    state: &State,
    (sources, who): (&[Located<SourceName>], PersonId),
) -> Option<String> {
    sources.iter().find_map(|local| {
        let name = state.root_source(&local.it);
        let source = &state.sources[&name];
        let condition = edition.root_flow()?.energy[&name].exists_when.as_ref();
        if condition.is_some_and(|exists| exists.holds(&state.root_facts()) == Ok(false)) {
            return None;
        }
        let needs_lock = source.declared.kind == SourceKind::Electrical;
        match (&source.proof, needs_lock && !source.locks.contains(&who)) {
            (None, _) => Some(format!("{name} is not proved")),
            (_, true) => Some(format!("{name} has no lock of theirs")),
            _ => None,
        }
    })
}

/// Somebody can go on with the job, if it is not over.
async fn goes_on(server: &Server, job: JobId) {
    let mut dice = Dice::new(7);
    let mut told = String::new();
    for attempt in 0..TRIES {
        let Some((mut person, mut actor, mut screen)) = server.people.in_front_of(job, None).await
        else {
            return server.world.wrong(format!("job {job} has no screen"));
        };
        if !matches!(screen.phase, Phase::Open | Phase::Paused | Phase::Stopped) {
            return;
        }
        let revision = screen.prompt.revision;
        match &screen.prompt.ask {
            Ask::Wait { until } => {
                let left = server.clock.left_until(*until);
                tokio::time::sleep(left + Duration::from_secs(1)).await;
                drop(server.desk.end_waits().await);
                let seen = server.people.in_front_of(job, Some(person)).await;
                if seen.is_some_and(|(_, _, seen)| seen.prompt.revision > revision) {
                    return;
                }
                continue;
            }
            Ask::WaitFor { roles } => {
                let Some(other) = who_may(roles) else { return };
                if let Some(seen) = server.people.in_front_of(job, Some(other)).await {
                    (person, actor, screen) = seen;
                }
            }
            _ => {}
        }
        let input = match screen.phase {
            Phase::Paused => Input::Resume,
            _ => server.people.input(&screen, &mut dice),
        };
        let key = InputKey(format!("end:{job}:{attempt}"));
        match server.desk.handle(key, &actor, job, input).await {
            Ok(handled) if handled.outcome == Outcome::Advanced => return,
            Ok(handled) => told = format!("{:?} to person {person}", handled.outcome),
            Err(error) => told = error.for_the_log(),
        }
    }
    server
        .world
        .wrong(format!("job {job} does not go on: {told}"));
}

fn who_may(roles: &[Role]) -> Option<usize> {
    CREW.iter()
        .position(|(_, of)| of.iter().any(|role| roles.contains(role)))
}
