//! Handover and group lockout in chats: each story with the people of a crew, and with what they
//! do delivered twice, late and in any order.

use fanwright::desk::Rules;
use fanwright::flow::model::Role;
use fanwright::report::checklist::{Checklist, ProtectionLine};
use fanwright::store::Memory;
use serde_json::Value;

use super::{World, labels, make_dead, parts_with};
use crate::support::bot_api::BotApi;
use crate::support::chat::Chat;
use crate::walk::Dice;

const JOB: &str = "\
flow: work-under-lock
title: Work under lock
language: en
outcomes: { done: Done }
energy:
  fan: { kind: electrical, label: Fan circuit, proved_by: make-dead }
start: work
steps:
  work: { touches: [fan], confirm: The blade is off, say: Take the blade off., then: more }
  more: { touches: [fan], confirm: The blade is on, say: Put the blade on., then: unlock }
  unlock:
    hands_off: true
    sets: { fan: unlocked }
    confirm: My lock is off
    say: Off.
    then: switch_in
  switch_in:
    hands_off: true
    sets: { fan: closed }
    confirm: It is on
    say: Switch it on.
    then: end
  end: { finish: done, say: All is done. }
";

const AT: &str = "Corner Market · EV-3 · meat cooler left";

/// A job in Toni's hands, and a crew around it.
struct Crew {
    world: World,
    sam: Chat,
    toni: Chat,
    tess: Chat,
    ann: Chat,
    eve: Chat,
}

impl Crew {
    async fn new() -> Crew {
        let memory = Memory::new();
        let flows = vec![
            ("work-under-lock.yaml", JOB.to_owned()),
            ("make-dead.yaml", make_dead()),
        ];
        let parts = parts_with(&memory, Rules::default(), flows);
        let world = World::of(BotApi::start().await, memory, parts).await;
        let sam = world.supervisor().await;
        let mut toni = world.joined(2002, "Toni", Role::Technician).await;
        let tess = world.joined(2003, "Tess", Role::Technician).await;
        let ann = world.joined(2004, "Ann", Role::Apprentice).await;
        let eve = world.joined(2005, "Eve", Role::Electrician).await;
        toni.say("/new").await;
        toni.reply("Corner Market, EV-3, meat cooler left").await;
        Crew {
            world,
            sam,
            toni,
            tess,
            ann,
            eve,
        }
    }

    /// The checklist, as the supervisor reads it.
    async fn list(&self) -> Checklist {
        let address = fanwright::desk::ChannelAddress::Telegram {
            chat: self.sam.user,
            user: self.sam.user,
        };
        let sam = self.world.desk.who_is(&address).await.unwrap().unwrap();
        let all = Default::default();
        let jobs = self.world.desk.all_jobs(&sam, &all, (None, 10)).await;
        let job = jobs.unwrap().items[0].job;
        self.world.desk.checklist(&sam, job).await.unwrap()
    }

    /// Whose locks hang, by name and in order.
    async fn locks(&self) -> Vec<String> {
        let list = self.list().await;
        let mut locks: Vec<String> = list.sources.into_iter().flat_map(|it| it.locks).collect();
        locks.sort();
        locks
    }

    async fn chain(&self) -> ProtectionLine {
        self.list().await.protection.remove(0)
    }
}

/// Opens the job in this chat as somebody of the crew.
async fn looks(chat: &mut Chat) {
    let list = chat.say("/jobs").await;
    let button = labels(&list[0]);
    let at = button.iter().find(|label| label.contains(AT));
    let at = (*at.unwrap_or_else(|| panic!("{list:?}"))).to_owned();
    chat.press(&at).await;
}

/// Opens, locks and proves, as the flow leads.
async fn makes_dead(chat: &mut Chat) {
    chat.press("It is open").await;
    chat.press("My lock hangs").await;
    proves(chat).await;
}

async fn proves(chat: &mut Chat) {
    chat.say("meter 4").await;
    chat.press("CAT III 600 V").await;
    chat.press("Whole and clean").await;
    chat.say("the light circuit").await;
    for reading in ["121 V", "0.2 V", "121 V"] {
        chat.say(reading).await;
    }
}

/// The small answers to the presses so far, the last first.
fn toast(world: &World) -> String {
    let answers = world.api.answers();
    answers
        .last()
        .and_then(|(_, told)| told.clone())
        .unwrap_or_default()
}

#[tokio::test]
async fn a_shift_changes_under_lock_and_no_moment_is_without_one() {
    let mut crew = Crew::new().await;
    makes_dead(&mut crew.toni).await;
    crew.toni.press("The blade is off").await;
    crew.toni.press("Hand the job over").await;
    crew.toni.press("Tess, a technician").await;
    assert!(
        crew.toni.last().text.contains("Stay until it is taken"),
        "{:?}",
        crew.toni.last()
    );
    // Both confirm: nothing goes on before the other takes it from their own chat.
    looks(&mut crew.tess).await;
    let taken = crew.tess.press("Take the job").await;
    assert!(
        taken[0].text.contains("another person took over"),
        "the proof is void: {taken:?}"
    );
    assert!(
        taken[0].text.contains("Open it."),
        "and led through again: {taken:?}"
    );
    looks(&mut crew.toni).await;
    assert!(
        !labels(&crew.toni.last()).contains(&"Take my lock off"),
        "not before hers hangs"
    );
    assert_eq!(crew.locks().await, ["Toni"]);
    crew.tess.press("It is open").await;
    crew.tess.press("My lock hangs").await;
    assert_eq!(crew.locks().await, ["Tess", "Toni"]);
    looks(&mut crew.toni).await;
    crew.toni.press("Take my lock off").await;
    proves(&mut crew.tess).await;
    crew.tess.press("The blade is on").await;
    crew.tess.press("My lock is off").await;
    crew.tess.press("It is on").await;
    assert!(
        crew.tess.last().text.contains("All is done."),
        "{:?}",
        crew.tess.last()
    );
    let chain = crew.chain().await;
    let owners: Vec<&str> = chain.locks.iter().map(|lock| lock.owner.as_str()).collect();
    assert_eq!(owners, ["Toni", "Tess"]);
    assert!(chain.gaps.is_empty(), "{chain:?}");
    assert!(
        chain.locks[1].on <= chain.locks[0].off.unwrap(),
        "the next went on first"
    );
    crew.world.end().await;
}

#[tokio::test]
async fn in_a_group_everybody_has_a_lock_and_the_primary_persons_comes_off_last() {
    let mut crew = Crew::new().await;
    looks(&mut crew.ann).await;
    assert!(
        !labels(&crew.ann.last()).contains(&"My lock is on too"),
        "nothing is locked yet"
    );
    makes_dead(&mut crew.toni).await;
    for chat in [&mut crew.ann, &mut crew.eve] {
        looks(chat).await;
        chat.press("My lock is on too").await;
    }
    assert_eq!(crew.locks().await, ["Ann", "Eve", "Toni"]);
    crew.toni.say("/job").await;
    crew.toni.press("The blade is off").await;
    crew.toni.press("The blade is on").await;
    let primary = crew.toni.say("/job").await;
    assert!(
        primary[0].text.contains("You are the primary person"),
        "{primary:?}"
    );
    let refused = crew.toni.press("My lock is off").await;
    assert!(
        refused[0].text.contains("2 other locks still hang"),
        "{refused:?}"
    );
    assert!(toast(&crew.world).contains("comes off last"));
    assert_eq!(crew.locks().await, ["Ann", "Eve", "Toni"]);
    looks(&mut crew.ann).await;
    crew.ann.press("Take my lock off").await;
    crew.toni.say("/job").await;
    let refused = crew.toni.press("My lock is off").await;
    assert!(
        refused[0].text.contains("1 other lock still hangs"),
        "{refused:?}"
    );
    looks(&mut crew.eve).await;
    crew.eve.press("Take my lock off").await;
    crew.toni.say("/job").await;
    crew.toni.press("My lock is off").await;
    assert!(crew.locks().await.is_empty());
    crew.toni.press("It is on").await;
    assert!(crew.toni.last().text.contains("All is done."));
    assert!(crew.chain().await.gaps.is_empty());
    crew.world.end().await;
}

#[tokio::test]
async fn the_lock_of_somebody_away_comes_off_by_a_supervisor_after_three_conditions() {
    let mut crew = Crew::new().await;
    makes_dead(&mut crew.toni).await;
    looks(&mut crew.ann).await;
    crew.ann.press("My lock is on too").await;
    looks(&mut crew.eve).await;
    let refused = crew.eve.say("/locks").await;
    assert!(refused[0].text.contains("Only a supervisor"), "{refused:?}");
    looks(&mut crew.sam).await;
    crew.sam.say("/locks").await;
    let mut asked = crew.sam.press("Ann’s lock on: Fan circuit").await;
    for (step, confirm) in [
        ("1 of 3", "I checked: Ann is not on the site"),
        ("2 of 3", "I did all I could to reach Ann"),
        (
            "3 of 3",
            "Ann will know before working here again. Record it, then take the lock off",
        ),
    ] {
        assert!(asked[0].text.contains(step), "{asked:?}");
        assert!(asked[0].text.contains("29 CFR 1910.147(e)(3)"), "{asked:?}");
        assert_eq!(crew.locks().await, ["Ann", "Toni"], "not before the last");
        asked = crew.sam.press(confirm).await;
    }
    assert_eq!(crew.locks().await, ["Toni"]);
    let chain = crew.chain().await;
    assert_eq!(chain.locks[1].taken_off_by.as_deref(), Some("Sam"));
    assert!(chain.gaps.is_empty(), "{chain:?}");
    // The same button again finds no lock.
    let again = crew.sam.press("I did all I could to reach Ann").await;
    assert!(
        again[0].text.contains("does not hang there any more"),
        "{again:?}"
    );
    // The proof is void: hands go in only after another test.
    let primary = crew.toni.say("/job").await;
    assert!(
        !labels(&primary[0]).contains(&"The blade is off"),
        "{primary:?}"
    );
    crew.world.end().await;
}

/// Somebody hangs a lock again after a supervisor looked at it: the supervisor's buttons are of
/// the lock before.
#[tokio::test]
async fn a_lock_that_was_hung_again_does_not_come_off_by_an_old_button() {
    let mut crew = Crew::new().await;
    makes_dead(&mut crew.toni).await;
    looks(&mut crew.ann).await;
    crew.ann.press("My lock is on too").await;
    looks(&mut crew.sam).await;
    crew.sam.say("/locks").await;
    crew.sam.press("Ann’s lock on: Fan circuit").await;
    let not_here = crew.sam.find("I checked: Ann is not on the site").unwrap();
    crew.sam.press("I checked: Ann is not on the site").await;
    crew.sam.press("I did all I could to reach Ann").await;
    looks(&mut crew.ann).await;
    crew.ann.press("Take my lock off").await;
    crew.ann.press("My lock is on too").await;
    let last = "Ann will know before working here again. Record it, then take the lock off";
    let refused = crew.sam.press(last).await;
    assert!(refused[0].text.contains("was faster"), "{refused:?}");
    assert_eq!(crew.locks().await, ["Ann", "Toni"], "Ann is inside");
    let earlier = crew
        .sam
        .pressing_on(not_here.0.id, &not_here.0.buttons[0].0);
    let refused = crew.sam.delivers(&earlier).await;
    assert!(!refused[0].text.contains("2 of 3"), "{refused:?}");
    crew.world.end().await;
}

/// Delivers these in an order of the dice, some twice and some much later, and waits until the
/// bot is through with all.
async fn in_any_order(world: &World, dice: &mut Dice, updates: &[Value], chats: &[&Chat]) {
    let mut order: Vec<&Value> = updates.iter().collect();
    for at in (1..order.len()).rev() {
        order.swap(at, dice.roll(at + 1));
    }
    for update in &order {
        world.api.deliver(update);
        if dice.roll(2) == 0 {
            world.api.deliver_again(order[dice.roll(order.len())]);
        }
    }
    for chat in chats {
        chat.settled().await;
    }
    for update in order {
        if dice.roll(2) == 0 {
            world.api.deliver_again(update);
        }
    }
    for chat in chats {
        chat.settled().await;
    }
}

#[tokio::test]
async fn whatever_the_order_of_their_presses_all_locks_hang_and_all_come_off() {
    for seed in 0..6 {
        let mut dice = Dice::new(seed);
        let mut crew = Crew::new().await;
        makes_dead(&mut crew.toni).await;
        let mut presses = Vec::new();
        for chat in [&mut crew.sam, &mut crew.tess, &mut crew.ann, &mut crew.eve] {
            looks(chat).await;
            presses.push(chat.pressing("My lock is on too"));
        }
        presses.push(crew.toni.pressing("The blade is off"));
        let all = [&crew.sam, &crew.tess, &crew.ann, &crew.eve, &crew.toni];
        in_any_order(&crew.world, &mut dice, &presses, &all).await;
        assert_eq!(
            crew.locks().await,
            ["Ann", "Eve", "Sam", "Tess", "Toni"],
            "seed {seed}"
        );
        crew.toni.say("/job").await;
        if crew.toni.last().text.contains("Take the blade off.") {
            // The others were faster, so that press was of an earlier screen.
            crew.toni.press("The blade is off").await;
        }
        crew.toni.press("The blade is on").await;
        let mut presses = vec![crew.toni.pressing("My lock is off")];
        for chat in [&mut crew.sam, &mut crew.tess, &mut crew.ann, &mut crew.eve] {
            looks(chat).await;
            presses.push(chat.pressing("Take my lock off"));
        }
        let all = [&crew.sam, &crew.tess, &crew.ann, &crew.eve, &crew.toni];
        in_any_order(&crew.world, &mut dice, &presses, &all).await;
        let left = crew.locks().await;
        assert!(left.is_empty() || left == ["Toni"], "seed {seed}: {left:?}");
        if !left.is_empty() {
            crew.toni.say("/job").await;
            crew.toni.press("My lock is off").await;
        }
        crew.toni.say("/job").await;
        crew.toni.press("It is on").await;
        assert!(
            crew.toni.last().text.contains("All is done."),
            "seed {seed}"
        );
        let chain = crew.chain().await;
        assert_eq!(
            chain.locks.len(),
            5,
            "seed {seed}: each once, however often delivered"
        );
        let primary = chain
            .locks
            .iter()
            .find(|lock| lock.owner == "Toni")
            .unwrap();
        assert!(
            chain.locks.iter().all(|lock| lock.off <= primary.off),
            "seed {seed}"
        );
        assert!(chain.gaps.is_empty(), "seed {seed}");
        crew.world.end().await;
    }
}
