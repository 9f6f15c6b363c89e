//! Jobs that are run in a group: who opens them, who answers, who is told, and where they go.

use std::collections::BTreeMap;
use std::sync::Arc;
use std::sync::Mutex;
use std::sync::atomic::AtomicU64;
use std::time::Duration;

use fanwright::desk::id::JobId;
use fanwright::desk::jobs::NewJob;
use fanwright::desk::rooms::RoomScreen;
use fanwright::desk::screen::{Handled, Outcome, Screen};
use fanwright::desk::{Actor, DeskError, Rules, Seen};
use fanwright::flow::library::Sources;
use fanwright::flow::model::Role;
use fanwright::flow::name::FlowName;
use fanwright::store::Memory;
use fanwright::walk::input::Input;
use fanwright::walk::prompt::{Action, Ask};
use fanwright::walk::share::Answers;

use super::{Counted, TestClock, World, chat, desk_walking, press, refusal};
use crate::support::dice::Dice;

const GROUP: i64 = -400;

/// A crew of five with a group, and a job of Toni's that is run there.
struct Crew {
    world: World,
    sam: Actor,
    toni: Actor,
    tess: Actor,
    ann: Actor,
    eli: Actor,
    job: JobId,
}

impl Crew {
    /// What the room shows.
    async fn shown(&self) -> RoomScreen {
        let shown = self.world.desk.room_screen(self.job).await;
        shown.unwrap().unwrap()
    }

    async fn at_work() -> Crew {
        let memory = Memory::new();
        let now = "2031-05-04T08:00:00Z".parse().unwrap();
        let clock = Arc::new(TestClock(Mutex::new((now, Duration::ZERO))));
        let chance = Arc::new(Counted::default());
        let mut sources = Sources::default();
        let text = include_str!("room.yaml").to_owned();
        sources.files.insert("share-the-work.yaml".to_owned(), text);
        let store = Arc::new(memory.clone());
        let desk = desk_walking(sources, store, &clock, &chance, Rules::default());
        let world = World {
            desk,
            memory,
            clock,
            chance,
            inputs: AtomicU64::new(0),
        };
        let sam = world.supervisor().await;
        let toni = world.joins(&sam, &chat(2), &[Role::Technician]).await;
        let tess = world.joins(&sam, &chat(3), &[Role::Technician]).await;
        let ann = world.joins(&sam, &chat(4), &[Role::Apprentice]).await;
        let eli = world.joins(&sam, &chat(5), &[Role::Electrician]).await;
        let bound = world.desk.bind_group(world.key(), &sam, GROUP).await;
        bound.unwrap();
        let new = NewJob {
            evaporator: world.evaporator(&toni).await.id,
            flow: FlowName::from("share-the-work"),
            training: false,
        };
        let begun = world.desk.begin(world.key(), &toni, new).await.unwrap();
        let job = begun.screen.job;
        Crew {
            world,
            sam,
            toni,
            tess,
            ann,
            eli,
            job,
        }
    }

    async fn opened() -> Crew {
        let crew = Crew::at_work().await;
        crew.opens(&crew.toni, GROUP, None).await.unwrap();
        crew
    }

    async fn opens(&self, by: &Actor, group: i64, topic: Option<i32>) -> Result<(), DeskError> {
        let key = self.world.key();
        let desk = &self.world.desk;
        let opened = desk.open_room(key, by, self.job, (group, topic)).await;
        opened.map(drop)
    }

    async fn screen(&self, of: &Actor) -> Screen {
        self.world.desk.screen(of, self.job).await.unwrap()
    }

    async fn answers(&self) -> Option<Answers> {
        let shown = self.world.desk.room_screen(self.job).await.unwrap();
        shown.unwrap().answers
    }

    /// Gives what the step wants, seen on the screen as it is now.
    async fn gives(&self, by: &Actor, answer: &str) -> Handled {
        let screen = self.screen(by).await;
        let input = match answer.strip_prefix('=') {
            Some(key) => press(&screen, key),
            None => Input::Text(answer.to_owned()),
        };
        let seen = (Seen::Screen(screen.prompt.revision), input);
        let key = self.world.key();
        let desk = &self.world.desk;
        desk.handle_seen(key, by, self.job, seen).await.unwrap()
    }
}

fn sentence(opened: Result<(), DeskError>) -> String {
    opened.unwrap_err().to_string()
}

#[tokio::test]
async fn a_job_is_opened_by_its_holder_or_a_supervisor_and_only_in_a_group_of_the_crew() {
    let crew = Crew::at_work().await;
    let refused = crew.opens(&crew.toni, -401, None).await;
    assert!(sentence(refused).starts_with("This group is not your crew's."));
    let refused = crew.opens(&crew.tess, GROUP, None).await;
    assert!(sentence(refused).contains("hands"));
    let desk = &crew.world.desk;
    assert_eq!(desk.room(crew.job).await.unwrap(), None);
    crew.opens(&crew.sam, GROUP, Some(12)).await.unwrap();
    let room = desk.room(crew.job).await.unwrap().unwrap();
    assert_eq!(
        (room.chat, room.thread, room.message),
        (GROUP, Some(12), None)
    );
    let in_group = desk.rooms_in(GROUP).await.unwrap();
    assert_eq!(in_group.as_slice(), std::slice::from_ref(&room));
    let mut posted = room;
    posted.message = Some(77);
    desk.note_room(&posted).await.unwrap();
    // In another topic it is posted anew, and what was posted there before is told.
    let key = crew.world.key();
    let before = desk.open_room(key, &crew.toni, crew.job, (GROUP, None));
    assert_eq!(before.await.unwrap(), Some(posted.clone()));
    desk.note_room(&posted).await.unwrap();
    let room = desk.room(crew.job).await.unwrap().unwrap();
    assert_eq!((room.thread, room.message), (None, None), "it went on");
    assert_eq!(desk.jobs_in_rooms().await.unwrap(), [crew.job]);
}

#[tokio::test]
async fn anybody_answers_but_what_is_hands_on_and_each_entry_names_who() {
    let crew = Crew::opened().await;
    assert_eq!(crew.answers().await, Some(Answers::Anybody));
    let handled = crew.gives(&crew.tess, "=go").await;
    assert_eq!(handled.outcome, Outcome::Advanced);
    let handled = crew.gives(&crew.ann, "=turns").await;
    assert_eq!(handled.outcome, Outcome::Advanced);
    crew.gives(&crew.eli, "2").await;
    assert_eq!(crew.answers().await, Some(Answers::Holder));
    let refused = crew.gives(&crew.tess, "208 V").await;
    let holder = &crew.toni.name;
    let told = format!("This step is hands-on. Only {holder}, who is at the evaporator,");
    assert!(refusal(&refused).starts_with(&told), "{refused:?}");
    crew.gives(&crew.toni, "208 V").await;
    crew.gives(&crew.sam, "A hum").await;
    let wet = crew.gives(&crew.ann, "Ice").await;
    assert!(
        refusal(&wet).contains("hands-on"),
        "a warning is for who is there"
    );
    crew.gives(&crew.toni, "Ice").await;
    assert_eq!(
        crew.answers().await,
        Some(Answers::Roles(vec![Role::Electrician]))
    );
    let hold = crew.gives(&crew.toni, "=go").await;
    assert!(refusal(&hold).contains("licensed electrician"));
    crew.gives(&crew.eli, "=go").await;
    let sheet = crew
        .world
        .desk
        .checklist(&crew.sam, crew.job)
        .await
        .unwrap();
    let text = format!("{sheet:?}");
    for person in [&crew.toni, &crew.tess, &crew.ann, &crew.eli, &crew.sam] {
        assert!(text.contains(&person.name), "{} is not named", person.name);
    }
    assert!(text.contains("Opened the job to the crew"));
}

#[tokio::test]
async fn the_first_answer_counts_and_the_second_person_is_told_who_gave_which() {
    let crew = Crew::opened().await;
    crew.gives(&crew.tess, "=go").await;
    let (tess, ann) = (crew.screen(&crew.tess).await, crew.screen(&crew.ann).await);
    let world = &crew.world;
    world
        .does(&crew.tess, crew.job, press(&tess, "turns"))
        .await;
    let second = world.does(&crew.ann, crew.job, press(&ann, "stands")).await;
    let told = format!("{} was faster: “It turns”. Here is", crew.tess.name);
    assert!(refusal(&second).starts_with(&told), "{second:?}");
    // Typed at the same moment: the second is not taken for the answer to the next question.
    let seen = crew.screen(&crew.ann).await.prompt.revision;
    let typed = |text: &str| (Seen::Screen(seen), Input::Text(text.to_owned()));
    let desk = &world.desk;
    let first = desk.handle_seen(world.key(), &crew.ann, crew.job, typed("2"));
    assert_eq!(first.await.unwrap().outcome, Outcome::Advanced);
    let second = desk.handle_seen(world.key(), &crew.toni, crew.job, typed("3"));
    let second = second.await.unwrap();
    let told = format!("{} was faster: “2”.", crew.ann.name);
    assert!(refusal(&second).starts_with(&told), "{second:?}");
    assert!(matches!(second.screen.prompt.ask, Ask::Reading { .. }));
}

#[tokio::test]
async fn what_the_room_shows_is_for_everybody_and_nothing_of_it_is_for_the_holder_alone() {
    let crew = Crew::opened().await;
    let shown = crew.shown().await;
    let actions = &shown.screen.prompt.actions;
    assert!(matches!(&shown.screen.prompt.ask, Ask::Press(_)));
    assert!(actions.contains(&Action::Stop) && actions.contains(&Action::EndSharing));
    assert!(!actions.contains(&Action::HandOver) && !actions.contains(&Action::Pause));
    assert!(!shown.is_last);
    crew.world
        .does(&crew.toni, crew.job, Input::HandOver(None))
        .await;
    let shown = crew.shown().await;
    assert_eq!(shown.screen.prompt.actions[0], Action::TakeOver);
    crew.world.does(&crew.tess, crew.job, Input::TakeOver).await;
    let shown = crew.shown().await;
    assert_eq!(shown.screen.holder.person, crew.tess.person);
    crew.world
        .does(&crew.sam, crew.job, Input::EndSharing)
        .await;
    let shown = crew.shown().await;
    assert!(shown.is_last);
    let closed = crew.gives(&crew.ann, "=go").await;
    assert!(refusal(&closed).contains("hands"), "{closed:?}");
}

#[tokio::test]
async fn a_room_follows_its_group_and_ends_with_it() {
    let crew = Crew::opened().await;
    let desk = &crew.world.desk;
    let mut room = desk.room(crew.job).await.unwrap().unwrap();
    room.message = Some(5);
    desk.note_room(&room).await.unwrap();
    desk.move_group(crew.world.key(), GROUP, -100_400)
        .await
        .unwrap();
    let room = desk.room(crew.job).await.unwrap().unwrap();
    assert_eq!((room.chat, room.message), (-100_400, None));
    assert_eq!(desk.rooms_in(GROUP).await.unwrap(), []);
    let key = crew.world.key();
    desk.unbind_group(key, &crew.sam, -100_400).await.unwrap();
    assert_eq!(desk.room(crew.job).await.unwrap(), None);
    assert_eq!(desk.room_screen(crew.job).await.unwrap(), None);
}

#[tokio::test]
async fn a_room_is_where_it_was_after_a_restart() {
    let mut crew = Crew::opened().await;
    let before = crew.world.desk.room(crew.job).await.unwrap();
    crew.world.restart().await;
    assert_eq!(crew.world.desk.room(crew.job).await.unwrap(), before);
}

/// What everybody would answer at each step.
const WOULD_ANSWER: [(&str, &str); 7] = [
    ("Stand where you can see the fan.", "=go"),
    ("Does the fan turn?", "=stands"),
    ("How many fans are there?", "2"),
    ("What does the meter read?", "208 V"),
    ("What do you hear?", "A hum"),
    ("What do you see behind it?", "Ice"),
    ("A licensed electrician looks at the leads.", "=go"),
];

/// Five people answer as soon as they like, twice, late, and whether they may or not. Gives what
/// is known in the end.
async fn in_some_order(seed: u64) -> BTreeMap<String, String> {
    let crew = Crew::opened().await;
    let people = [&crew.sam, &crew.toni, &crew.tess, &crew.ann, &crew.eli];
    let answers: BTreeMap<&str, &str> = WOULD_ANSWER.into();
    let mut dice = Dice::new(seed);
    let mut on_the_way = Vec::new();
    for _ in 0..2_000 {
        let by = people[dice.roll(people.len())];
        let screen = crew.screen(by).await;
        if !screen.phase.is_open() {
            break;
        }
        let answer = answers[screen.prompt.say.as_str()];
        let input = match answer.strip_prefix('=') {
            Some(key) => press(&screen, key),
            None => Input::Text(answer.to_owned()),
        };
        let seen = (Seen::Screen(screen.prompt.revision), input);
        on_the_way.push((by, crew.world.key(), seen));
        // Some arrive late, some twice, some much later than others.
        while on_the_way.len() > dice.roll(6) {
            let at = dice.roll(on_the_way.len());
            let (by, key, seen) = match dice.roll(3) {
                0 => on_the_way[at].clone(),
                _ => on_the_way.swap_remove(at),
            };
            let desk = &crew.world.desk;
            desk.handle_seen(key, by, crew.job, seen).await.unwrap();
        }
    }
    let sheet = crew
        .world
        .desk
        .checklist(&crew.sam, crew.job)
        .await
        .unwrap();
    let mut known = BTreeMap::new();
    for section in &sheet.sections {
        for line in &section.lines {
            if let Some(asked) = &line.asked {
                let before = known.insert(asked.clone(), line.said.clone());
                assert_eq!(before, None, "answered twice: {line:?}");
            }
        }
    }
    known
}

#[tokio::test]
async fn whoever_answers_first_and_in_whatever_order_the_end_is_the_same() {
    let first = in_some_order(1).await;
    assert!(first.len() >= 6, "{first:#?}");
    for seed in 2..24 {
        assert_eq!(in_some_order(seed).await, first, "seed {seed}");
    }
}
