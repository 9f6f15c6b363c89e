//! The order of sending in a time that only passes when it is told to.

mod hour;
mod world;

use std::collections::{BTreeMap, BTreeSet};

use proptest::prelude::*;

use super::*;
use world::{Answer, Flight, Message, World, quick};

fn public() -> Limits {
    Limits::towards(true, None)
}

fn one(world: &mut World, chat: i64, rank: Rank) -> u64 {
    world.offer((chat, rank), (Like::Nothing, false), 1)
}

fn order(world: &World) -> Vec<u64> {
    world.taken.iter().map(|message| message.number).collect()
}

#[test]
fn an_emergency_goes_first_everywhere_and_in_its_chat() {
    let mut world = World::new(public());
    for chat in 1..=3 {
        one(&mut world, chat, Rank::Answer);
    }
    one(&mut world, 3, Rank::Answer);
    let hurt = one(&mut world, 3, Rank::Emergency);
    let too = one(&mut world, 3, Rank::Emergency);
    world.pass_all(&mut quick);
    assert_eq!(order(&world), [hurt, 1, 2, too, 3, 4]);
}

#[test]
fn who_waits_for_an_answer_goes_before_news_and_those_before_reminders() {
    let mut world = World::new(public());
    let quiet = one(&mut world, 1, Rank::Quiet);
    let news = one(&mut world, 2, Rank::News);
    let answer = one(&mut world, 3, Rank::Answer);
    world.pass_all(&mut quick);
    assert_eq!(order(&world), [answer, news, quiet]);
}

#[test]
fn what_waits_before_an_answer_in_its_chat_is_as_urgent_as_it() {
    let mut world = World::new(public());
    let others = [5, 6].map(|chat| one(&mut world, chat, Rank::News));
    let before = one(&mut world, 1, Rank::Quiet);
    let answer = one(&mut world, 1, Rank::Answer);
    world.pass_all(&mut quick);
    assert_eq!(order(&world), [before, others[0], others[1], answer]);
}

#[test]
fn a_chat_with_much_to_say_holds_up_no_other() {
    // Without limits of the platform nothing else would spread it.
    let mut world = World::new(Limits::towards(false, Some(10.0)));
    let much = world.offer((1, Rank::Answer), (Like::Nothing, false), 50);
    let other = one(&mut world, 2, Rank::Answer);
    world.pass_all(&mut quick);
    let at = order(&world).iter().position(|number| *number == other);
    assert!(at < Some(3), "{at:?}");
    assert_eq!(order(&world).last(), Some(&much));
}

#[test]
fn reminders_come_through_while_answers_never_end() {
    let mut world = World::new(public());
    let reminder = one(&mut world, 999, Rank::Quiet);
    let news = one(&mut world, 998, Rank::News);
    for chat in 1..=300 {
        one(&mut world, chat, Rank::Answer);
    }
    world.pass(Duration::from_secs(1), &mut quick);
    assert!(order(&world).contains(&news));
    assert!(order(&world).contains(&reminder));
}

#[test]
fn a_refused_chat_is_held_exactly_as_long_as_asked_and_no_other() {
    let mut world = World::new(public());
    let held = one(&mut world, -7, Rank::Answer);
    let mut refuse = |_: &Message| Flight {
        answer: Answer::Refused(Duration::from_secs(17)),
        ..quick(&Message {
            number: 0,
            chat: 0,
            rank: Rank::News,
            offered: Moment::ZERO,
            messages: 1,
        })
    };
    world.pass(Duration::from_millis(100), &mut refuse);
    let other = one(&mut world, 8, Rank::Answer);
    let until = Duration::from_millis(80) + Duration::from_secs(17);
    world.pass(until - Duration::from_nanos(1), &mut quick);
    assert_eq!(order(&world), [other]);
    let Next::Send(sending) = world.queue.next(until) else {
        panic!("not sent when the time was over");
    };
    assert_eq!(sending.what().number, held);
}

#[test]
fn when_several_private_chats_are_refused_at_once_everything_waits() {
    let mut queue: Queue<u8, i64> = Queue::new(Limits::default());
    let (now, wait) = (Moment::ZERO, Duration::from_secs(5));
    let what = |what| Offer {
        like: Like::Nothing,
        is_owed: true,
        messages: 1,
        what,
    };
    for chat in [-1, -2, -3, -4, 1, 2, 3] {
        queue.offer(now, (chat, Rank::Answer), vec![what(chat)]);
    }
    let mut sendings = Vec::new();
    while let Next::Send(sending) = queue.next(now) {
        sendings.push(sending);
    }
    let last = sendings.pop().unwrap();
    for sending in sendings {
        assert!(queue.refused(now, sending, wait).is_none());
    }
    queue.offer(now, (9, Rank::Answer), vec![what(9)]);
    assert!(
        matches!(queue.next(now), Next::Send(_)),
        "groups and two people are none of its"
    );
    assert!(queue.refused(now, last, wait).is_none());
    queue.offer(now, (10, Rank::Emergency), vec![what(10)]);
    assert!(matches!(queue.next(now), Next::At(at) if at == wait));
}

#[test]
fn edits_of_the_same_message_become_the_newest_in_the_place_of_the_oldest() {
    let mut world = World::new(public());
    let edit = (Like::Always(1), true);
    one(&mut world, -1, Rank::Quiet);
    world.pass(Duration::from_millis(10), &mut quick);
    world.offer((-1, Rank::Quiet), edit.clone(), 1);
    let between = one(&mut world, -1, Rank::Quiet);
    let newest = world.offer((-1, Rank::Quiet), edit, 5);
    world.pass_all(&mut quick);
    assert_eq!(order(&world), [1, newest, between]);
    world.is_kept().unwrap();
}

#[test]
fn an_edit_that_failed_gives_way_to_a_newer_one() {
    let mut world = World::new(public());
    let mut unclear = |message: &Message| Flight {
        answer: Answer::Unclear(Duration::from_secs(9)),
        ..quick(message)
    };
    let first = world.offer((-1, Rank::Quiet), (Like::Always(1), true), 1);
    world.pass(Duration::from_millis(10), &mut unclear);
    let newest = world.offer((-1, Rank::Quiet), (Like::Always(1), true), 1);
    world.pass_all(&mut quick);
    assert_eq!(order(&world), [newest]);
    assert_eq!(world.replaced[0].number, first);
}

#[test]
fn what_is_owed_is_never_left_out_and_what_is_left_out_is_told() {
    let mut world = World::new(public());
    world.offer((1, Rank::News), (Like::Nothing, true), 70);
    world.offer((1, Rank::Answer), (Like::Nothing, false), 3);
    let left: Vec<u64> = world
        .left_out
        .iter()
        .map(|message| message.number)
        .collect();
    assert_eq!(left, [71, 72, 73]);
    world.pass_all(&mut quick);
    world.is_kept().unwrap();
}

#[test]
fn an_album_counts_as_its_photos_and_an_emergency_does_not_wait_for_it() {
    let mut world = World::new(public());
    let album = world.offer_albums((-1, Rank::Answer), (Like::Nothing, true), (3, 10));
    world.pass(Duration::from_millis(1), &mut quick);
    let hurt = one(&mut world, 5, Rank::Emergency);
    world.pass(Duration::from_secs(59), &mut quick);
    assert_eq!(
        order(&world),
        [hurt, album - 2, album - 1],
        "twenty of a minute"
    );
    world.pass_all(&mut quick);
    assert_eq!(order(&world).last(), Some(&album));
    world.is_kept().unwrap();
}

#[test]
fn an_emergency_overtakes_what_is_slow_to_go_up_and_nothing_else_does() {
    let mut world = World::new(public());
    let slow = one(&mut world, 1, Rank::Answer);
    let mut takes_long = |message: &Message| Flight {
        there: match message.rank {
            Rank::Answer if message.number == slow => Duration::from_secs(50),
            _ => Duration::from_millis(40),
        },
        ..quick(message)
    };
    world.pass(Duration::from_millis(10), &mut takes_long);
    let behind = one(&mut world, 1, Rank::Answer);
    let hurt = [Rank::Emergency; 2].map(|rank| one(&mut world, 1, rank));
    world.pass(Duration::from_secs(5), &mut takes_long);
    assert_eq!(order(&world), hurt);
    world.pass_all(&mut takes_long);
    assert_eq!(order(&world)[2..], [slow, behind]);
    world.is_kept().unwrap();
}

#[test]
fn a_chat_that_rests_is_forgotten() {
    let mut world = World::new(public());
    for chat in -100..100 {
        one(&mut world, chat, Rank::Answer);
    }
    world.pass_all(&mut quick);
    world.pass(world.now + Duration::from_secs(70), &mut quick);
    assert!(matches!(world.queue.next(world.now), Next::Nothing));
    assert_eq!(world.queue.lanes.len(), 0);
}

/// Something that happens to the queue.
#[derive(Clone, Debug)]
struct Act {
    after: Duration,
    chat: i64,
    rank: Rank,
    like: Like<u8>,
    is_owed: bool,
    count: usize,
    /// As how many messages the platform counts each.
    messages: usize,
}

fn acts() -> impl Strategy<Value = Vec<Act>> {
    let rank = prop_oneof![
        1 => Just(Rank::Emergency),
        6 => Just(Rank::Answer),
        4 => Just(Rank::News),
        4 => Just(Rank::Quiet),
    ];
    let like = prop_oneof![
        6 => Just(Like::Nothing),
        2 => (0u8..2).prop_map(Like::WhenMuchWaits),
        2 => (2u8..4).prop_map(Like::Always),
    ];
    let chat = prop_oneof![Just(-2i64), Just(-1), 1i64..40];
    let count = prop_oneof![9 => 1usize..4, 1 => 1usize..80];
    let messages = prop_oneof![9 => Just(1usize), 1 => 2usize..=10];
    let act = (
        0u64..900,
        chat,
        rank,
        like,
        any::<bool>(),
        (count, messages),
    );
    let act = act.prop_map(
        |(after, chat, rank, like, is_owed, (count, messages))| Act {
            after: Duration::from_millis(after),
            chat,
            // An edit is never an emergency.
            rank: match like {
                Like::Nothing => rank,
                _ => rank.max(Rank::Answer),
            },
            like,
            is_owed,
            count,
            messages,
        },
    );
    prop::collection::vec(act, 1..60)
}

fn flights() -> impl Strategy<Value = Vec<Flight>> {
    let answer = prop_oneof![
        12 => Just(Answer::Taken),
        1 => (1u64..20_000).prop_map(|ms| Answer::Unclear(Duration::from_millis(ms))),
        1 => (1u64..40).prop_map(|s| Answer::Refused(Duration::from_secs(s))),
    ];
    let flight = (0u64..700, 0u64..700, answer);
    let flight = flight.prop_map(|(there, back, answer)| Flight {
        there: Duration::from_millis(there),
        back: Duration::from_millis(back),
        answer,
    });
    prop::collection::vec(flight, 1..50)
}

/// In one chat nothing overtakes, but emergencies and what took the place of an older one.
fn order_is_kept(world: &World, took_a_place: &BTreeSet<u64>) -> Result<(), String> {
    let mut last: BTreeMap<(i64, bool), u64> = BTreeMap::new();
    for message in &world.taken {
        if took_a_place.contains(&message.number) {
            continue;
        }
        let is_first = message.rank == Rank::Emergency;
        let before = last.insert((message.chat, is_first), message.number);
        if before.is_some_and(|before| before > message.number) {
            return Err(format!("{before:?} came before {message:?}"));
        }
    }
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    #[test]
    fn whatever_is_offered_no_limit_breaks_and_all_of_it_leaves(
        acts in acts(),
        flights in flights(),
        is_public in any::<bool>(),
    ) {
        let mut world = World::new(Limits::towards(is_public, None));
        let mut turn = 0;
        let mut flight = |_: &Message| {
            turn += 1;
            // After a while the line is good again, so that it ends.
            let flight = flights[turn % flights.len()];
            if turn < 2_000 { flight } else { Flight { answer: Answer::Taken, ..flight } }
        };
        let (mut states, mut owed) = (BTreeMap::new(), BTreeSet::new());
        let mut took_a_place = BTreeSet::new();
        for act in &acts {
            world.pass(world.now + act.after, &mut flight);
            let first = world.count_offered() + 1;
            let to = (act.chat, act.rank);
            let how = (act.like.clone(), act.is_owed);
            let last = world.offer_albums(to, how, (act.count, act.messages));
            if act.is_owed && act.like == Like::Nothing {
                owed.extend(first..=last);
            }
            if let Like::Always(key) = act.like {
                states.insert((act.chat, key), last);
                took_a_place.extend(first..=last);
            }
            prop_assert!(world.queue.len() <= acts.iter().map(|act| act.count).sum::<usize>());
        }
        world.pass_all(&mut flight);
        world.is_kept().map_err(TestCaseError::fail)?;
        order_is_kept(&world, &took_a_place).map_err(TestCaseError::fail)?;
        let taken: BTreeSet<u64> = order(&world).into_iter().collect();
        prop_assert!(owed.is_subset(&taken), "owed things were not all taken");
        let left: BTreeSet<u64> = world.left_out.iter().map(|one| one.number).collect();
        for newest in states.values() {
            prop_assert!(taken.contains(newest) || left.contains(newest), "a state is old");
        }
    }
}
