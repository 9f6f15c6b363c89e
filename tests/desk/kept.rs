//! What a desk keeps of rows that it read never shows: desks that have been at work for long, two
//! of them over one store, answer as one that knows nothing yet.

use std::sync::Arc;

use fanwright::desk::competence::Lasts;
use fanwright::desk::hours::typed::Zone;
use fanwright::desk::id::JobId;
use fanwright::desk::whereabouts::Near;
use fanwright::desk::{Actor, Desk, Rules};
use fanwright::flow::library::Sources;
use fanwright::flow::model::Role;
use fanwright::flow::name::CompetenceName;
use fanwright::walk::context::Way;
use fanwright::walk::input::Input;
use proptest::prelude::*;

use super::competence::FLOW;
use super::{World, chat, desk_walking};

/// What somebody does at one of the desks.
#[derive(Clone, Debug)]
enum Act {
    Roles(usize, usize),
    Way(usize, bool),
    Rename(usize, u8),
    /// Somebody speaks from a chat or a page, and pauses or goes on with a job.
    Speaks(usize, bool),
    TakesUp(usize, usize),
    Begins(usize),
    SignsOff(usize, bool),
    /// Somebody says where the evaporator of their job is.
    Locates(usize, u8),
    CrewZone(bool),
    /// A job is run in the crew's group, or no more.
    Room(usize, bool),
}

const PEOPLE: usize = 3;

const GROUP: i64 = -400;

const ROLES: [&[Role]; 4] = [
    &[Role::Technician],
    &[Role::Apprentice],
    &[Role::Technician, Role::Electrician],
    &[],
];

fn acts() -> impl Strategy<Value = Vec<(bool, Act)>> {
    let who = 0..PEOPLE;
    let act = prop_oneof![
        (who.clone(), 0..ROLES.len()).prop_map(|(who, roles)| Act::Roles(who, roles)),
        (who.clone(), any::<bool>()).prop_map(|(who, way)| Act::Way(who, way)),
        (who.clone(), 0u8..3).prop_map(|(who, name)| Act::Rename(who, name)),
        (who.clone(), any::<bool>()).prop_map(|(who, chat)| Act::Speaks(who, chat)),
        (who.clone(), who.clone()).prop_map(|(who, job)| Act::TakesUp(who, job)),
        who.clone().prop_map(Act::Begins),
        (who.clone(), any::<bool>()).prop_map(|(who, signs)| Act::SignsOff(who, signs)),
        (who.clone(), 0u8..3).prop_map(|(who, degrees)| Act::Locates(who, degrees)),
        any::<bool>().prop_map(Act::CrewZone),
        (who, any::<bool>()).prop_map(|(who, opens)| Act::Room(who, opens)),
    ];
    proptest::collection::vec((any::<bool>(), act), 1..24)
}

/// What a desk answers that depends on rows which it keeps, in words; a refusal is an answer too.
async fn answers(desk: &Desk, people: &[Actor]) -> Vec<String> {
    let mut answers = Vec::new();
    for actor in people {
        answers.push(format!("{:?}", desk.way(actor).await));
        answers.push(format!("{:?}", desk.is_alone(actor).await));
        answers.push(format!("{:?}", desk.hours(actor).await));
        let at_hand = desk.job_at_hand(actor).await;
        answers.push(format!("{at_hand:?}"));
        if let Ok(Some(job)) = at_hand {
            answers.push(format!("{:?}", desk.room(job).await));
            if let Ok(screen) = desk.screen(actor, job).await {
                let page = desk.evaporator(actor, screen.evaporator.id, None).await;
                answers.push(format!("{page:?}"));
            }
            for viewer in people {
                answers.push(format!("{:?}", desk.screen(viewer, job).await));
            }
        }
        let address = chat(actor.chat.unwrap_or_default());
        answers.push(format!("{:?}", desk.who_is(&address).await));
    }
    answers
}

async fn does(world: &World, desk: &Desk, people: &[Actor], act: &Act) {
    let supervisor = &people[PEOPLE];
    // What is refused is refused: the point is that all desks agree afterwards.
    match act {
        Act::Roles(who, roles) => {
            let roles = ROLES[*roles].iter().copied().collect();
            let whom = people[*who].person;
            drop(desk.set_roles(world.key(), supervisor, whom, roles).await);
        }
        Act::Way(who, together) => {
            let way = match together {
                true => Way::DoThenConfirm,
                false => Way::ReadThenDo,
            };
            drop(desk.set_way(&people[*who], way).await);
        }
        Act::Rename(who, name) => drop(desk.rename(&people[*who], &format!("Tech {name}")).await),
        Act::Speaks(who, from_chat) => {
            let mut actor = people[*who].clone();
            actor.chat = actor.chat.filter(|_| *from_chat);
            if let Ok(Some(job)) = desk.job_at_hand(&actor).await {
                for input in [Input::Pause, Input::Resume, Input::CallSupervisor] {
                    drop(desk.handle(world.key(), &actor, job, input).await);
                }
            }
        }
        Act::TakesUp(who, whose) => {
            if let Ok(Some(job)) = desk.job_at_hand(&people[*whose]).await {
                drop(desk.take_up(&people[*who], job).await);
            }
        }
        Act::Begins(who) => {
            if desk.way(&people[*who]).await.is_ok() {
                world.at_the_test(&people[*who]).await;
            }
        }
        Act::SignsOff(who, signs) => {
            let shown = CompetenceName::from("live_tests");
            let of = (people[*who].person, &shown);
            match signs {
                true => drop(
                    desk.sign_off(world.key(), supervisor, of, Lasts::OneYear)
                        .await,
                ),
                false => drop(desk.withdraw_sign_off(world.key(), supervisor, of).await),
            }
        }
        Act::CrewZone(far) => {
            let zone = if *far {
                "Asia/Kathmandu"
            } else {
                "Europe/Berlin"
            };
            let zone = Zone::typed(zone).unwrap();
            drop(desk.set_crew_zone(world.key(), supervisor, zone).await);
        }
        Act::Locates(who, _) | Act::Room(who, _) => {
            let actor = &people[*who];
            if let Ok(Some(job)) = desk.job_at_hand(actor).await {
                does_around(world, desk, (actor, job), act).await;
            }
        }
    }
}

/// What somebody does around the job that they have at hand.
async fn does_around(world: &World, desk: &Desk, (actor, job): (&Actor, JobId), act: &Act) {
    match act {
        Act::Locates(_, degrees) => {
            let near = Near::of(f64::from(*degrees), 7.0).unwrap();
            if let Ok(screen) = desk.screen(actor, job).await {
                let there = (screen.evaporator.id, near);
                drop(desk.locate(world.key(), actor, there).await);
            }
        }
        Act::Room(_, true) => {
            let room = (GROUP, None);
            drop(desk.open_room(world.key(), actor, job, room).await);
        }
        Act::Room(_, false) => drop(desk.forget_room(job).await),
        _ => {}
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    #[test]
    fn desks_that_keep_rows_answer_as_one_that_knows_nothing(acts in acts()) {
        let runtime = tokio::runtime::Builder::new_current_thread().build().unwrap();
        runtime.block_on(async {
            let mut world = World::new();
            let over = |world: &World| {
                let mut sources = Sources::default();
                sources.files.insert("test-it.yaml".into(), FLOW.into());
                let store = Arc::new(world.memory.clone());
                let (clock, chance) = (&world.clock, &world.chance);
                desk_walking(sources, store, clock, chance, Rules::default())
            };
            world.desk = over(&world);
            let other = over(&world);
            let sam = world.supervisor().await;
            let mut people = Vec::new();
            for number in 0..PEOPLE {
                people.push(world.joins(&sam, &chat(2 + number as i64), ROLES[0]).await);
            }
            world.desk.bind_group(world.key(), &sam, GROUP).await.unwrap();
            people.push(sam);
            for (at_other, act) in acts {
                let desk = if at_other { &other } else { &world.desk };
                does(&world, desk, &people, &act).await;
                let fresh = answers(&over(&world), &people).await;
                assert_eq!(answers(&world.desk, &people).await, fresh, "after {act:?}");
                assert_eq!(answers(&other, &people).await, fresh, "the other, after {act:?}");
            }
        });
    }
}
