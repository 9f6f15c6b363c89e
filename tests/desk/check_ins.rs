//! Somebody alone in a freezer: asked gently, then loudly, then looked for.

use fanwright::desk::Actor;
use fanwright::desk::id::JobId;
use fanwright::desk::jobs::NewJob;
use fanwright::desk::notice::About;
use fanwright::desk::screen::Screen;
use fanwright::flow::library::Sources;
use fanwright::flow::model::Role;
use fanwright::flow::name::FlowName;
use fanwright::store::{Delivery, DeliveryMark};
use fanwright::walk::input::Input;
use fanwright::walk::prompt::{Action, Ask};
use jiff::SignedDuration;

use super::{World, chat, desk_walking, refusal};

const MINUTE: SignedDuration = SignedDuration::from_mins(1);

fn sources() -> Sources {
    let mut sources = Sources::default();
    let text = include_str!("cold.yaml").to_owned();
    sources.files.insert("work-in-the-cold.yaml".into(), text);
    sources
}

/// A supervisor, and a technician at the question about the box.
async fn world() -> (World, Actor, Actor, Screen) {
    let mut world = World::new();
    world.walks_in_the_cold();
    let sam = world.supervisor().await;
    let tess = world.joins(&sam, &chat(2), &[Role::Technician]).await;
    let screen = world.in_the_cold(&tess).await;
    (world, sam, tess, screen)
}

/// The same, inside a freezer with a question every 15 minutes.
async fn inside() -> (World, Actor, Actor, JobId) {
    let (world, sam, tess, screen) = world().await;
    let screen = world.presses(&tess, &screen, "freezer").await.screen;
    let agreed = world.presses(&tess, &screen, "every_15").await.screen;
    assert_eq!(agreed.prompt.say, "Look at the fan.");
    (world, sam, tess, screen.job)
}

impl World {
    fn walks_in_the_cold(&mut self) {
        let store = std::sync::Arc::new(self.memory.clone());
        let (clock, chance) = (&self.clock, &self.chance);
        self.desk = desk_walking(sources(), store, clock, chance, Default::default());
    }

    async fn in_the_cold(&self, holder: &Actor) -> Screen {
        let new = NewJob {
            evaporator: self.evaporator(holder).await.id,
            flow: FlowName::from("work-in-the-cold"),
            training: false,
        };
        let begun = self.desk.begin(self.key(), holder, new).await.unwrap();
        begun.screen
    }

    /// Ends the process and begins another over the same store, with the same flows.
    async fn restarts_in_the_cold(&mut self) {
        self.restart().await;
        self.walks_in_the_cold();
        self.desk.start().await.unwrap();
    }

    /// Lets so many minutes go by, one at a time, and gives what people are told: the minute, the
    /// chat and what it is about.
    async fn minutes(&self, count: i64) -> Vec<(i64, i64, About)> {
        let mut told = Vec::new();
        for minute in 1..=count {
            self.after(MINUTE);
            self.desk.end_waits().await.unwrap();
            told.extend(
                self.told()
                    .await
                    .into_iter()
                    .map(|(to, about)| (minute, to, about)),
            );
        }
        told
    }

    /// What waits to be told, marked as told: all but what a start says by itself.
    async fn told(&self) -> Vec<(i64, About)> {
        let mut told = Vec::new();
        for outgoing in self.desk.pending(None, 100).await.unwrap().items {
            let mark = DeliveryMark {
                notice: outgoing.id,
                outcome: Delivery::Delivered,
            };
            self.desk.mark(vec![mark]).await.unwrap();
            if outgoing.notice.about != About::BackAgain {
                told.push((outgoing.chat, outgoing.notice.about));
            }
        }
        told
    }

    async fn checklist(&self, actor: &Actor, job: JobId) -> Vec<String> {
        let list = self.desk.checklist(actor, job).await.unwrap();
        let lines = list.sections.into_iter().flat_map(|section| section.lines);
        lines.map(|line| line.said).collect()
    }
}

#[tokio::test]
async fn how_often_is_agreed_before_the_work_goes_on() {
    let (world, _, tess, screen) = world().await;
    let asked = world.presses(&tess, &screen, "freezer").await.screen;
    let Ask::Press(buttons) = &asked.prompt.ask else {
        panic!("{asked:?}")
    };
    let keys: Vec<&str> = buttons.iter().map(|button| button.key.as_str()).collect();
    assert_eq!(
        keys,
        ["every_10", "every_15", "every_20", "every_30", "not_alone"]
    );
    let refused = world
        .does(&tess, screen.job, Input::Text("15".to_owned()))
        .await;
    assert!(refusal(&refused).contains("how often"), "{refused:?}");
    let agreed = world.presses(&tess, &asked, "not_alone").await.screen;
    assert_eq!(agreed.prompt.say, "Look at the fan.");
    assert!(world.minutes(60).await.is_empty(), "nobody is asked");
    // Whoever finds themselves alone after all asks for it.
    world.does(&tess, screen.job, Input::WantCheckIns).await;
    let asked = world.desk.screen(&tess, screen.job).await.unwrap();
    world.presses(&tess, &asked, "every_30").await;
    assert_eq!(world.minutes(30).await, [(30, 2, About::CheckIn)]);
}

#[tokio::test]
async fn in_a_cooler_nobody_is_asked() {
    let (world, _, tess, screen) = world().await;
    let next = world.presses(&tess, &screen, "cooler").await.screen;
    assert_eq!(next.prompt.say, "Look at the fan.");
    assert!(world.minutes(60).await.is_empty());
}

#[tokio::test]
async fn gently_then_loudly_then_the_supervisors_and_never_silent_after() {
    let (world, sam, tess, job) = inside().await;
    assert_eq!(
        world.minutes(32).await,
        [
            (15, 2, About::CheckIn),
            (18, 2, About::CheckInLoud),
            (21, 1, About::CheckInAlarm),
            (21, 2, About::CheckInLoud),
            (26, 1, About::CheckInAlarm),
            (26, 2, About::CheckInLoud),
            (31, 1, About::CheckInAlarm),
            (31, 2, About::CheckInLoud),
        ]
    );
    // Half a day later it still goes on.
    assert!(world.minutes(12 * 60).await.len() > 90);
    let theirs = world.desk.screen(&sam, job).await.unwrap();
    assert!(
        theirs.prompt.actions.contains(&Action::FoundWell),
        "{theirs:?}"
    );
    world.does(&sam, job, Input::FoundWell).await;
    assert_eq!(world.told().await, [(2, About::CheckInOver)]);
    let lines = world.checklist(&sam, job).await;
    for line in [
        "Check-ins agreed: every 15 min",
        "Asked whether they are all right",
        "Asked loudly, for want of an answer",
        "No sign of life: others were told",
        "Reached the person, who is all right",
    ] {
        assert!(lines.iter().any(|said| said == line), "{line}: {lines:#?}");
    }
    let mine = world.desk.screen(&tess, job).await.unwrap();
    assert!(mine.prompt.actions.contains(&Action::AmOut));
    assert!(
        !mine.prompt.actions.contains(&Action::AmWell),
        "no question is open"
    );
}

#[tokio::test]
async fn the_supervisors_are_told_where_since_when_and_at_what() {
    let (world, _, tess, job) = inside().await;
    world.after(MINUTE * 4);
    let screen = world.desk.screen(&tess, job).await.unwrap();
    world.presses(&tess, &screen, "go").await;
    for _ in 0..21 {
        world.after(MINUTE);
        world.desk.end_waits().await.unwrap();
    }
    let told = world.desk.pending(None, 100).await.unwrap().items;
    let alarm = told
        .iter()
        .find(|one| one.notice.about == About::CheckInAlarm);
    let says = &alarm.unwrap().notice.sentence;
    for part in [
        tess.name.as_str(),
        "Corner Market · EV-3 · meat cooler, left",
        "for 21 min, since 08:04 UTC",
        "Last at: Work in the cold: Supply",
        "nobody goes in alone",
    ] {
        assert!(says.contains(part), "{part}: {says}");
    }
}

#[tokio::test]
async fn any_answer_is_a_sign_of_life_also_one_that_has_no_effect() {
    let (world, _, tess, job) = inside().await;
    let screen = world.desk.screen(&tess, job).await.unwrap();
    assert!(world.minutes(10).await.is_empty());
    world.presses(&tess, &screen, "go").await;
    assert!(world.minutes(14).await.is_empty(), "the answer counted");
    assert_eq!(world.minutes(1).await, [(1, 2, About::CheckIn)]);
    // Typed nonsense and a button of an old screen have no effect, and yet say enough.
    let wrong = world
        .does(&tess, job, Input::Text("plenty".to_owned()))
        .await;
    assert!(!refusal(&wrong).is_empty());
    assert!(world.minutes(14).await.is_empty());
    assert_eq!(world.minutes(1).await, [(1, 2, About::CheckIn)]);
    let stale = world.presses(&tess, &screen, "go").await;
    assert!(refusal(&stale).contains("earlier screen"), "{stale:?}");
    assert!(world.minutes(14).await.is_empty());
    assert_eq!(world.minutes(4).await.len(), 2);
    world.does(&tess, job, Input::AmWell).await;
    assert!(world.minutes(14).await.is_empty());
    world.does(&tess, job, Input::AmOut).await;
    assert!(
        world
            .minutes(120)
            .await
            .iter()
            .all(|(_, _, about)| *about == About::WaitOver)
    );
}

#[tokio::test]
async fn what_others_do_is_no_sign_of_life_and_only_they_can_say_they_found_somebody() {
    let (world, sam, tess, job) = inside().await;
    world.minutes(14).await;
    let early = world.does(&sam, job, Input::FoundWell).await;
    assert!(refusal(&early).contains("Nobody is missed"), "{early:?}");
    world.does(&sam, job, Input::CallSupervisor).await;
    let told = world.minutes(7).await;
    assert!(told.contains(&(1, 2, About::CheckIn)), "{told:?}");
    assert!(told.contains(&(7, 1, About::CheckInAlarm)), "{told:?}");
    let own = world.does(&tess, job, Input::FoundWell).await;
    assert!(
        refusal(&own).contains("Nobody is missed"),
        "not by themselves"
    );
    let over = world.told().await;
    assert_eq!(
        over,
        [(1, About::CheckInOver)],
        "but that was a sign of life"
    );
}

#[tokio::test]
async fn whoever_takes_over_is_asked_anew_and_the_other_no_more() {
    let (world, sam, tess, job) = inside().await;
    let tom = world.joins(&sam, &chat(3), &[Role::Technician]).await;
    world
        .does(&tess, job, Input::HandOver(Some(tom.person)))
        .await;
    let taken = world.does(&tom, job, Input::TakeOver).await.screen;
    assert!(taken.prompt.asks_how_often(), "{taken:?}");
    world.told().await;
    assert!(world.minutes(40).await.is_empty(), "nothing is agreed yet");
    let screen = world.desk.screen(&tom, job).await.unwrap();
    world.presses(&tom, &screen, "every_10").await;
    assert_eq!(world.minutes(10).await, [(10, 3, About::CheckIn)]);
}

#[tokio::test]
async fn pausing_and_stopping_keep_the_questions_coming() {
    let (world, _, tess, job) = inside().await;
    world.does(&tess, job, Input::Pause).await;
    assert_eq!(world.minutes(15).await, [(15, 2, About::CheckIn)]);
    let paused = world.desk.screen(&tess, job).await.unwrap();
    assert!(
        paused.prompt.actions.contains(&Action::AmWell),
        "{paused:?}"
    );
    world.does(&tess, job, Input::Stop).await;
    world.told().await;
    assert_eq!(world.minutes(15).await, [(15, 2, About::CheckIn)]);
}

#[tokio::test]
async fn after_a_restart_and_after_a_jump_people_are_asked_at_once() {
    let (mut world, sam, _, job) = inside().await;
    world.after(MINUTE * 14);
    world.restarts_in_the_cold().await;
    assert_eq!(world.told().await, [(2, About::CheckIn)]);
    let told = world.minutes(6).await;
    assert!(told.contains(&(3, 2, About::CheckInLoud)), "{told:?}");
    assert!(told.contains(&(6, 1, About::CheckInAlarm)), "{told:?}");
    world.does(&sam, job, Input::FoundWell).await;
    world.told().await;
    // The server was off for an hour: the question says how late it is.
    world.after(MINUTE * 75);
    world.restarts_in_the_cold().await;
    let late = world.desk.pending(None, 10).await.unwrap().items;
    let asked = late.iter().find(|one| one.notice.about == About::CheckIn);
    let says = &asked.unwrap().notice.sentence;
    assert!(says.contains("This question comes 60 min late."), "{says}");
    assert!(
        world
            .checklist(&sam, job)
            .await
            .iter()
            .any(|said| said.contains("60 min late"))
    );
}

#[tokio::test]
async fn a_job_that_cannot_be_read_keeps_nobody_from_being_asked() {
    let (mut world, sam, _, broken) = inside().await;
    world.after(MINUTE);
    let tom = world.joins(&sam, &chat(3), &[Role::Technician]).await;
    let screen = world.in_the_cold(&tom).await;
    let screen = world.presses(&tom, &screen, "freezer").await.screen;
    world.presses(&tom, &screen, "every_15").await;
    world.damage(broken).await;
    assert_eq!(world.minutes(15).await, [(15, 3, About::CheckIn)]);
    world.restarts_in_the_cold().await;
    let told = world.minutes(6).await;
    assert!(told.contains(&(3, 3, About::CheckInLoud)), "{told:?}");
    assert!(told.contains(&(6, 1, About::CheckInAlarm)), "{told:?}");
}

#[tokio::test]
async fn a_clock_that_is_set_back_delays_no_question() {
    let (world, _, tess, job) = inside().await;
    world.minutes(1).await;
    world.jump(SignedDuration::from_hours(-5));
    world.desk.end_waits().await.unwrap();
    assert_eq!(world.told().await, [(2, About::CheckIn)], "asked at once");
    let told = world.minutes(6).await;
    assert_eq!(told[0], (3, 2, About::CheckInLoud));
    assert_eq!(told[1], (6, 1, About::CheckInAlarm));
    world.does(&tess, job, Input::AmWell).await;
    world.desk.end_waits().await.unwrap();
    world.told().await;
    assert_eq!(world.minutes(15).await, [(15, 2, About::CheckIn)]);
}

#[tokio::test]
async fn quiet_hours_hold_nothing_back_and_a_crew_of_one_is_told_that_nobody_would_come() {
    let mut world = World::new();
    world.walks_in_the_cold();
    let sam = world.supervisor().await;
    let night = SignedDuration::from_hours(15);
    world.after(night);
    let screen = world.in_the_cold(&sam).await;
    let asked = world.presses(&sam, &screen, "freezer").await.screen;
    let mut notes = asked.prompt.notes.iter();
    assert!(
        notes.any(|note| note.text.contains("nobody would be told here")),
        "{asked:?}"
    );
    world.presses(&sam, &asked, "every_10").await;
    let told = world.minutes(16).await;
    assert_eq!(told[0], (10, 1, About::CheckIn));
    assert_eq!(told.last().unwrap().2, About::CheckInLoud);
}

#[tokio::test]
async fn without_another_supervisor_the_whole_crew_is_told() {
    let mut world = World::new();
    world.walks_in_the_cold();
    let sam = world.supervisor().await;
    world.joins(&sam, &chat(2), &[Role::Technician]).await;
    world.joins(&sam, &chat(3), &[Role::Apprentice]).await;
    let screen = world.in_the_cold(&sam).await;
    let asked = world.presses(&sam, &screen, "freezer").await.screen;
    world.presses(&sam, &asked, "every_10").await;
    let told = world.minutes(16).await;
    let mut alarmed: Vec<i64> = told
        .iter()
        .filter(|(_, _, about)| *about == About::CheckInAlarm)
        .map(|(_, to, _)| *to)
        .collect();
    alarmed.sort_unstable();
    assert_eq!(alarmed, [2, 3]);
}
