//! Jobs of a crew: who sees them, who answers, what an input leaves behind.

use std::sync::Arc;

use fanwright::channel::lines;
use fanwright::desk::evaporators::NewEvaporator;
use fanwright::desk::id::{EvaporatorId, JobId};
use fanwright::desk::jobs::NewJob;
use fanwright::desk::lists::{JOBS_A_PAGE, Pile};
use fanwright::desk::screen::{Closing, JobLine, Outcome, Phase};
use fanwright::desk::{Actor, DeskError, Rules};
use fanwright::flow::model::Role;
use fanwright::flow::name::FlowName;
use fanwright::record::chain::verify_chain;
use fanwright::record::stream::{Seq, StreamKind};
use fanwright::store::faulty::Fault;
use fanwright::store::{Cursor, Faulty, InputKey, Page, Store};
use fanwright::walk::input::Input;
use fanwright::walk::prompt::{Action, Ask};
use jiff::SignedDuration;
use uuid::Uuid;

use super::{World, chat, press, refusal};

#[tokio::test]
async fn a_job_begins_once_and_is_at_hand() {
    let world = World::new();
    let sam = world.supervisor().await;
    let new = NewJob {
        evaporator: world.evaporator(&sam).await.id,
        flow: FlowName::from("look-at-the-fan"),
        training: true,
    };
    let key = InputKey("form 5".to_owned());
    let first = world
        .desk
        .begin(key.clone(), &sam, new.clone())
        .await
        .unwrap();
    let second = world.desk.begin(key, &sam, new.clone()).await.unwrap();
    assert_eq!(second.outcome, Outcome::AlreadyHandled);
    assert_eq!(first.screen, second.screen);
    assert!(first.screen.prompt.training);
    assert_eq!(
        first.screen.evaporator.line(),
        "Corner Market · EV-3 · meat cooler, left"
    );
    assert_eq!(
        world.desk.job_at_hand(&sam).await.unwrap(),
        Some(first.screen.job)
    );
    assert_eq!(world.desk.my_jobs(&sam).await.unwrap().len(), 1);
    let page = world
        .desk
        .evaporator(&sam, new.evaporator, None)
        .await
        .unwrap();
    assert_eq!(page.jobs.len(), 1);
    let nowhere = NewJob {
        flow: FlowName::from("nowhere"),
        ..new
    };
    let refused = world
        .desk
        .begin(world.key(), &sam, nowhere)
        .await
        .unwrap_err();
    assert_eq!(
        refused.to_string(),
        "There is no such flow in your crew. Open it from your list."
    );
}

#[tokio::test]
async fn the_same_input_twice_has_one_effect() {
    let world = World::new();
    let sam = world.supervisor().await;
    let screen = world.begin(&sam).await;
    let key = InputKey("update 12".to_owned());
    let input = press(&screen, "go");
    let first = world
        .desk
        .handle(key.clone(), &sam, screen.job, input.clone())
        .await
        .unwrap();
    let second = world
        .desk
        .handle(key, &sam, screen.job, input)
        .await
        .unwrap();
    assert_eq!(first.outcome, Outcome::Advanced);
    assert_eq!(second.outcome, Outcome::AlreadyHandled);
    assert_eq!(first.screen, second.screen);
}

#[tokio::test]
async fn a_refused_input_is_remembered_too() {
    let world = World::new();
    let sam = world.supervisor().await;
    let screen = world.begin(&sam).await;
    let key = InputKey("update 13".to_owned());
    let text = Input::Text("hello".to_owned());
    let first = world
        .desk
        .handle(key.clone(), &sam, screen.job, text.clone())
        .await
        .unwrap();
    assert!(!refusal(&first).is_empty());
    assert_eq!(first.screen, screen, "nothing is lost");
    let second = world
        .desk
        .handle(key, &sam, screen.job, text)
        .await
        .unwrap();
    assert_eq!(second.outcome, Outcome::AlreadyHandled);
}

#[tokio::test]
async fn the_first_answer_wins_and_the_second_person_is_told() {
    let world = World::new();
    let sam = world.supervisor().await;
    let tess = world.joins(&sam, &chat(2), &[Role::Technician]).await;
    let eli = world.joins(&sam, &chat(3), &[Role::Electrician]).await;
    let ewa = world.joins(&sam, &chat(4), &[Role::Electrician]).await;
    let screen = world.at_the_hold(&tess).await;
    assert_eq!(
        screen.prompt.ask,
        Ask::WaitFor {
            roles: vec![Role::Electrician]
        }
    );
    let (a, b) = tokio::join!(
        world
            .desk
            .handle(world.key(), &eli, screen.job, press(&screen, "go")),
        world
            .desk
            .handle(world.key(), &ewa, screen.job, press(&screen, "go")),
    );
    let (a, b) = (a.unwrap(), b.unwrap());
    assert_eq!(a.outcome, Outcome::Advanced);
    assert!(refusal(&b).contains(&eli.name), "{}", refusal(&b));
    assert!(refusal(&b).contains("was faster"));
    assert_eq!(b.screen.prompt.revision, a.screen.prompt.revision);
    assert_eq!(b.screen.phase, Phase::Finished);
}

#[tokio::test]
async fn another_crew_gets_the_answer_of_what_does_not_exist() {
    let world = World::new();
    let sam = world.supervisor().await;
    let code = world.desk.invite_new_crew().await.unwrap().code;
    let olga = world
        .desk
        .join(world.key(), &code, "Olga", &chat(7))
        .await
        .unwrap();
    assert_ne!(sam.crew, olga.crew);
    let screen = world.begin(&sam).await;
    let nowhere = JobId(Uuid::from_u128(1));
    let desk = &world.desk;
    let theirs = desk.screen(&olga, screen.job).await;
    assert_eq!(told(theirs), told(desk.screen(&olga, nowhere).await));
    let theirs = desk
        .handle(world.key(), &olga, screen.job, Input::Stop)
        .await;
    let none = desk.handle(world.key(), &olga, nowhere, Input::Stop).await;
    assert_eq!(told(theirs), told(none));
    let theirs = desk.evaporator(&olga, screen.evaporator.id, None).await;
    let none = desk
        .evaporator(&olga, EvaporatorId(Uuid::from_u128(2)), None)
        .await;
    assert_eq!(told(theirs), told(none));
    let theirs = desk.checklist(&olga, screen.job).await;
    assert_eq!(told(theirs), told(desk.checklist(&olga, nowhere).await));
    let to_her = Input::HandOver(Some(olga.person));
    let theirs = desk.handle(world.key(), &sam, screen.job, to_her).await;
    assert_eq!(
        told(theirs),
        "There is no such person in your crew. Open it from your list."
    );
    assert!(world.desk.evaporators(&olga, "").await.unwrap().is_empty());
    let open = async |actor| open_jobs(&world, actor, None).await.items;
    assert!(open(&olga).await.is_empty());
    assert_eq!(open(&sam).await.len(), 1);
}

#[tokio::test]
async fn the_refusal_of_another_persons_job_names_the_holder() {
    let world = World::new();
    let sam = world.supervisor().await;
    let tess = world.joins(&sam, &chat(2), &[Role::Technician]).await;
    let screen = world.begin(&tess).await;
    let handled = world.does(&sam, screen.job, Input::Pause).await;
    assert!(
        refusal(&handled).contains(&tess.name),
        "{}",
        refusal(&handled)
    );
}

#[tokio::test]
async fn a_finished_job_is_handed_in_and_reviewed_by_somebody_else() {
    let world = World::new();
    let sam = world.supervisor().await;
    let screen = world.begin(&sam).await;
    let screen = world.presses(&sam, &screen, "go").await.screen;
    let screen = world.presses(&sam, &screen, "turns").await.screen;
    assert_eq!(screen.phase, Phase::Finished);
    assert!(screen.prompt.actions.contains(&Action::HandIn));
    let handed = world.does(&sam, screen.job, Input::HandIn).await.screen;
    assert_eq!(handed.phase, Phase::HandedIn);
    assert!(handed.closing.is_empty(), "nobody reviews their own job");
    let waiting = world.desk.jobs_to_review(&sam).await.unwrap();
    assert!(waiting[0].nobody_to_review);
    let own = world
        .desk
        .accept(world.key(), &sam, screen.job, "")
        .await
        .unwrap();
    assert!(refusal(&own).contains("own job"));

    let sue = world.joins(&sam, &chat(5), &[Role::Supervisor]).await;
    assert!(!world.desk.jobs_to_review(&sue).await.unwrap()[0].nobody_to_review);
    let seen = world.desk.screen(&sue, screen.job).await.unwrap();
    assert_eq!(seen.closing, [Closing::Accept, Closing::SendBack]);
    let back = world
        .desk
        .send_back(world.key(), &sue, screen.job, " ")
        .await
        .unwrap();
    assert!(refusal(&back).contains("few words"));
    world
        .desk
        .send_back(world.key(), &sue, screen.job, "Which fan was it?")
        .await
        .unwrap();
    let again = world.desk.screen(&sam, screen.job).await.unwrap();
    assert_eq!(again.phase, Phase::SentBack);
    let lists = [Phase::SentBack, Phase::HandedIn].map(|phase| (phase, sam.clone()));
    let mut counts = Vec::new();
    for (phase, actor) in lists {
        let page = world
            .desk
            .jobs_on(&actor, Pile::In(phase), (None, 10))
            .await
            .unwrap();
        counts.push(page.items.len());
    }
    assert_eq!(
        counts,
        [1, 0],
        "a job stands in the list of its phase alone"
    );
    world.does(&sam, screen.job, Input::HandIn).await;
    let accepted = world
        .desk
        .accept(world.key(), &sue, screen.job, "Good")
        .await
        .unwrap();
    assert_eq!(accepted.screen.phase, Phase::Accepted);
    assert!(world.desk.my_jobs(&sam).await.unwrap().is_empty());
    assert!(world.desk.jobs_to_review(&sue).await.unwrap().is_empty());
    let over = world
        .desk
        .jobs_on(&sam, Pile::Over, (None, JOBS_A_PAGE))
        .await
        .unwrap();
    assert_eq!(over.items.len(), 1);
    assert_eq!(over.items[0].outcome.as_deref(), Some("The fan turns"));
    assert_eq!(world.desk.job_at_hand(&sam).await.unwrap(), None);
}

#[tokio::test]
async fn the_record_is_one_unbroken_chain() {
    let world = World::new();
    let sam = world.supervisor().await;
    let tess = world.joins(&sam, &chat(2), &[Role::Technician]).await;
    let screen = world.at_the_hold(&tess).await;
    let stream = screen.job.stream();
    let entries = world.memory.read(stream, Seq::FIRST, 10_000).await.unwrap();
    let head = verify_chain(stream, &entries).unwrap();
    assert_eq!(head.seq, Seq(screen.prompt.revision));
}

#[tokio::test]
async fn a_photo_is_for_the_crew_of_its_job_only() {
    let world = World::new();
    let sam = world.supervisor().await;
    let tess = world.joins(&sam, &chat(2), &[Role::Technician]).await;
    let screen = world.at_the_hold(&tess).await;
    let photo = world.desk.take_photo(super::png()).await.unwrap();
    let stored = photo.stored.parse().unwrap();
    let jpeg = world.desk.photo(&sam, screen.job, stored).await.unwrap();
    assert_eq!(
        image::guess_format(&jpeg).unwrap(),
        image::ImageFormat::Jpeg
    );
    let other = world.begin(&sam).await;
    let refused = world.desk.photo(&sam, other.job, stored).await.unwrap_err();
    assert!(matches!(refused, DeskError::NotFound("photo")));
}

#[tokio::test]
async fn an_evaporator_is_added_once_and_found_by_its_words() {
    let world = World::new();
    let sam = world.supervisor().await;
    let new = NewEvaporator {
        site: "Corner Market".to_owned(),
        tag: "EV-9".to_owned(),
        hangs: "freezer".to_owned(),
    };
    let key = InputKey("form 8".to_owned());
    let first = world
        .desk
        .add_evaporator(key.clone(), &sam, new.clone())
        .await
        .unwrap();
    assert_eq!(
        world.desk.add_evaporator(key, &sam, new).await.unwrap(),
        first
    );
    world.evaporator(&sam).await;
    assert_eq!(world.desk.evaporators(&sam, "").await.unwrap().len(), 2);
    assert_eq!(
        world.desk.evaporators(&sam, "market ev-9").await.unwrap(),
        [first]
    );
}

fn told<T: std::fmt::Debug>(result: Result<T, DeskError>) -> String {
    result.unwrap_err().to_string()
}

/// Every call to the store fails once, in every way; the person repeats what they did and the
/// record is the same as without the failure.
#[tokio::test]
async fn a_failing_store_loses_nothing_and_does_nothing_twice() {
    let undisturbed = walk_with_repeats(&World::new()).await;
    for fault in [Fault::Before, Fault::After] {
        for call in 1.. {
            let faulty = std::sync::OnceLock::new();
            let world = World::over(
                |memory| {
                    let store = Arc::new(Faulty::new(Arc::new(memory.clone()), call, fault));
                    faulty.get_or_init(|| store).clone()
                },
                Rules::default(),
            );
            let revision = walk_with_repeats(&world).await;
            assert_eq!(revision, undisturbed, "call {call}, {fault:?}");
            if !faulty.get().unwrap().met() {
                break;
            }
        }
    }
}

/// Begins and answers, repeating what failed with the same key, as a channel does.
async fn walk_with_repeats(world: &World) -> u64 {
    let key = |name: &str| InputKey(name.to_owned());
    let code = loop {
        if let Ok(Some(invitation)) = world.desk.first_supervisor_code().await {
            break invitation.code;
        }
    };
    let sam = loop {
        let joined = world.desk.join(key("join"), &code, "Sam", &chat(1)).await;
        if let Ok(sam) = joined {
            break sam;
        }
    };
    let new = NewEvaporator {
        site: "Shop".to_owned(),
        tag: String::new(),
        hangs: String::new(),
    };
    let unit = loop {
        if let Ok(unit) = world
            .desk
            .add_evaporator(key("add"), &sam, new.clone())
            .await
        {
            break unit;
        }
    };
    let flow = FlowName::from("look-at-the-fan");
    let new = NewJob {
        evaporator: unit.id,
        flow,
        training: false,
    };
    let screen = loop {
        if let Ok(begun) = world.desk.begin(key("begin"), &sam, new.clone()).await {
            break begun.screen;
        }
    };
    let input = press(&screen, "go");
    let screen = loop {
        let handled = world
            .desk
            .handle(key("go"), &sam, screen.job, input.clone())
            .await;
        if let Ok(handled) = handled {
            break handled.screen;
        }
    };
    let input = press(&screen, "turns");
    let screen = loop {
        let handled = world
            .desk
            .handle(key("turns"), &sam, screen.job, input.clone())
            .await;
        if let Ok(handled) = handled {
            break handled.screen;
        }
    };
    for kind in [StreamKind::Job, StreamKind::Evaporator, StreamKind::Crew] {
        let streams = world.memory.streams(kind, None, 10).await.unwrap();
        assert_eq!(streams.items.len(), 1, "{kind}");
    }
    assert_eq!(
        world.memory.names().await.unwrap().len(),
        1,
        "no name without a person"
    );
    screen.prompt.revision
}

async fn open_jobs(world: &World, actor: &Actor, after: Option<Cursor>) -> Page<JobLine> {
    let page = (after, JOBS_A_PAGE);
    world.desk.jobs_on(actor, Pile::Open, page).await.unwrap()
}

#[tokio::test]
async fn open_jobs_come_a_page_at_a_time_the_last_worked_on_first() {
    let world = World::new();
    let sam = world.supervisor().await;
    let mut begun = Vec::new();
    for _ in 0..=JOBS_A_PAGE {
        world.after(SignedDuration::from_secs(1));
        begun.push(world.begin(&sam).await);
    }
    world.after(SignedDuration::from_secs(1));
    world.presses(&sam, &begun[0], "go").await;
    let first = open_jobs(&world, &sam, None).await;
    assert_eq!(first.items.len(), JOBS_A_PAGE);
    assert_eq!(first.items[0].job, begun[0].job, "worked on just now");
    let rest = open_jobs(&world, &sam, first.next).await;
    let rest: Vec<JobId> = rest.items.iter().map(|line| line.job).collect();
    assert_eq!(rest, [begun[1].job], "none is lost, none comes twice");
}

#[tokio::test]
async fn a_job_at_a_hold_is_listed_for_whoever_may_release_it() {
    let world = World::new();
    let sam = world.supervisor().await;
    let tess = world.joins(&sam, &chat(2), &[Role::Technician]).await;
    let elli = world.joins(&sam, &chat(3), &[Role::Electrician]).await;
    let screen = world.at_the_hold(&tess).await;
    world.begin(&tess).await;
    let desk = &world.desk;
    let reasons = |actor: Actor| async move {
        let list = desk.jobs_to_choose(&actor).await.unwrap().jobs;
        let said = list.iter().map(|(why, line)| lines::job(*why, line));
        said.collect::<Vec<String>>()
    };
    let line = "Corner Market · EV-3 · meat cooler, left · open";
    let waits = format!("Waits for your role: {line}");
    let of_crew = format!("Crew: {line}");
    assert_eq!(reasons(elli.clone()).await, [&*waits, &*of_crew]);
    assert_eq!(reasons(sam).await, [&*of_crew, &*of_crew]);
    assert_eq!(reasons(tess).await, [line, line]);
    let now = world.desk.screen(&elli, screen.job).await.unwrap();
    world.presses(&elli, &now, "go").await;
    let after = reasons(elli).await;
    assert!(
        after.iter().all(|said| !said.contains("Waits")),
        "{after:?}"
    );
}
