//! Looking for jobs: words and filters, over old data too.

use fanwright::desk::evaporators::NewEvaporator;
use fanwright::desk::finds::LEFT_WITH_AN_OWNER;
use fanwright::desk::id::{EvaporatorId, JobId};
use fanwright::desk::jobs::NewJob;
use fanwright::desk::lists::JOBS_A_PAGE;
use fanwright::desk::screen::{Phase, Screen};
use fanwright::desk::search::Wanted;
use fanwright::desk::{Actor, DeskError};
use fanwright::flow::model::Role;
use fanwright::flow::name::FlowName;
use fanwright::record::person::PersonId;
use fanwright::store::{Batch, IndexChange, Store, Table};
use fanwright::walk::input::Input;
use jiff::SignedDuration;
use uuid::Uuid;

use super::{World, chat, refusal};

impl World {
    async fn hung(&self, actor: &Actor, (site, tag, hangs): (&str, &str, &str)) -> EvaporatorId {
        let [site, tag, hangs] = [site, tag, hangs].map(str::to_owned);
        let new = NewEvaporator { site, tag, hangs };
        let added = self.desk.add_evaporator(self.key(), actor, new).await;
        added.unwrap().id
    }

    async fn begins_on(&self, actor: &Actor, evaporator: EvaporatorId) -> Screen {
        let flow = FlowName::from("look-at-the-fan");
        let training = false;
        let new = NewJob {
            evaporator,
            flow,
            training,
        };
        self.after(SignedDuration::from_hours(24));
        self.desk
            .begin(self.key(), actor, new)
            .await
            .unwrap()
            .screen
    }

    /// Walks it to the end where the fan turns.
    async fn turns(&self, actor: &Actor, screen: &Screen) {
        let screen = self.presses(actor, screen, "go").await.screen;
        self.presses(actor, &screen, "turns").await;
    }

    async fn found(&self, actor: &Actor, wanted: Wanted) -> Vec<JobId> {
        let found = self.desk.find_jobs(actor, &wanted, None).await.unwrap();
        assert_eq!(found.next, None);
        found.jobs.iter().map(|line| line.job).collect()
    }

    async fn with_words(&self, actor: &Actor, words: &str) -> Vec<JobId> {
        let words = words.to_owned();
        let wanted = Wanted {
            words,
            ..Wanted::default()
        };
        self.found(actor, wanted).await
    }
}

/// A crew with three jobs, begun a day after another: at the market, at the market, at the pier.
struct Crew {
    world: World,
    sam: Actor,
    tess: Actor,
    evaporators: [EvaporatorId; 3],
    jobs: [JobId; 3],
}

async fn crew() -> Crew {
    let world = World::new();
    let sam = world.supervisor().await;
    let tess = world.joins(&sam, &chat(2), &[Role::Technician]).await;
    world.desk.rename(&tess, "Tess Tabor").await.unwrap();
    let market = world
        .hung(&sam, ("Corner Market", "EV-3", "meat cooler, left"))
        .await;
    let other = world
        .hung(&sam, ("Corner Market", "EV-30", "dairy cooler"))
        .await;
    let pier = world.hung(&sam, ("Cold Pier", "B12", "freezer")).await;
    let first = world.begins_on(&sam, market).await;
    let second = world.begins_on(&tess, other).await;
    let third = world.begins_on(&tess, pier).await;
    world.turns(&tess, &second).await;
    Crew {
        world,
        sam,
        tess,
        evaporators: [market, other, pier],
        jobs: [first.job, second.job, third.job],
    }
}

#[tokio::test]
async fn words_are_found_by_their_beginnings_and_numbers_as_a_whole() {
    let crew = crew().await;
    let [first, second, third] = crew.jobs;
    let number = first.to_string();
    let cases: [(&str, &[JobId]); 16] = [
        ("", &[third, second, first]),
        ("corner", &[second, first]),
        ("CORN  mark", &[second, first]),
        ("ev-3", &[first]),
        ("ev 30", &[second]),
        ("b12", &[third]),
        ("co", &[third, second, first]),
        ("left", &[first]),
        ("look fan", &[third, second, first]),
        ("turns", &[second]),
        ("tabor", &[third, second]),
        ("tess dairy", &[second]),
        ("dairy freezer", &[]),
        ("nothing", &[]),
        (&number, &[first]),
        (&number[..13], &[first]),
    ];
    for (words, expected) in cases {
        let found = crew.world.with_words(&crew.sam, words).await;
        assert_eq!(found, expected, "“{words}”");
    }
}

fn with(change: impl FnOnce(&mut Wanted)) -> Wanted {
    let mut wanted = Wanted::default();
    change(&mut wanted);
    wanted
}

#[tokio::test]
async fn filters_are_combined() {
    let Crew {
        world,
        sam,
        tess,
        evaporators,
        jobs: [first, second, third],
    } = crew().await;
    let day = |text: &str| Some(text.parse().unwrap());
    let flow = |name: &str| Some(FlowName::from(name));
    let owned = |text: &str| Some(text.to_owned());
    // The first began on the 5th, the others a day after another.
    let cases: [(Wanted, &[JobId]); 9] = [
        (
            with(|it| it.site = owned("corner market")),
            &[second, first],
        ),
        (with(|it| it.evaporator = Some(evaporators[2])), &[third]),
        (with(|it| it.person = Some(tess.person)), &[third, second]),
        (with(|it| it.phase = Some(Phase::Open)), &[third, first]),
        (with(|it| it.ended = owned("The fan turns")), &[second]),
        (with(|it| it.flow = flow("prove-a-speed")), &[]),
        (with(|it| it.from = day("2031-05-06")), &[third, second]),
        (with(|it| it.to = day("2031-05-06")), &[second, first]),
        (
            with(|it| {
                it.words = "corner".to_owned();
                it.person = Some(tess.person);
                it.flow = flow("look-at-the-fan");
                (it.from, it.to) = (day("2031-05-06"), day("2031-05-06"));
            }),
            &[second],
        ),
    ];
    for (wanted, expected) in cases {
        assert_eq!(
            world.found(&sam, wanted.clone()).await,
            expected,
            "{wanted:?}"
        );
    }
    let choices = world.desk.search_choices(&sam).await.unwrap();
    assert_eq!(choices.sites, ["Cold Pier", "Corner Market"]);
    assert_eq!(choices.ends, ["The fan turns"]);
    let names: Vec<&str> = choices.people.iter().map(|it| it.name.as_str()).collect();
    assert_eq!(names, ["Sam Supervisor", "Tess Tabor"]);
    let titles: Vec<&str> = choices.flows.iter().map(|it| it.title.as_str()).collect();
    assert_eq!(titles, ["Look at the fan"]);
}

#[tokio::test]
async fn a_job_moves_between_the_lists_as_it_goes_on() {
    let Crew {
        world,
        sam,
        tess,
        jobs: [first, second, _],
        ..
    } = crew().await;
    let in_phase = async |phase| {
        let phase = Some(phase);
        let wanted = Wanted {
            phase,
            ..Wanted::default()
        };
        world.found(&sam, wanted).await
    };
    assert_eq!(in_phase(Phase::Finished).await, [second]);
    world.does(&tess, second, Input::HandIn).await;
    assert_eq!(in_phase(Phase::Finished).await, []);
    assert_eq!(in_phase(Phase::HandedIn).await, [second]);
    world
        .desk
        .accept(world.key(), &sam, second, "")
        .await
        .unwrap();
    assert_eq!(in_phase(Phase::Accepted).await, [second]);
    world.does(&sam, first, Input::HandOver(None)).await;
    world.does(&tess, first, Input::TakeOver).await;
    let taken = world.with_words(&sam, "tess meat").await;
    assert_eq!(taken, [first], "found under whoever took it over");
    assert_eq!(world.with_words(&sam, "sam").await, [first], "and before");
}

#[tokio::test]
async fn the_owner_of_a_job_that_was_left_is_no_word_to_find_it_by() {
    let Crew {
        world,
        sam,
        jobs: [first, ..],
        ..
    } = crew().await;
    for input in [
        Input::LeaveLockedOut,
        Input::Text("Olaf Owner".to_owned()),
        Input::Text("next Monday".to_owned()),
    ] {
        let handled = world.does(&sam, first, input).await;
        assert_eq!(handled.outcome, fanwright::desk::screen::Outcome::Advanced);
    }
    let ended = Some(LEFT_WITH_AN_OWNER.to_owned());
    let wanted = Wanted {
        ended,
        ..Wanted::default()
    };
    assert_eq!(world.found(&sam, wanted).await, [first]);
    assert_eq!(world.with_words(&sam, "olaf").await, []);
    let keys = world.memory.scan(Table::named("found"), vec![], None, 999);
    for row in keys.await.unwrap().items {
        let text = String::from_utf8_lossy(&row.key).to_lowercase();
        for name in ["olaf", "tess", "tabor", "sam"] {
            assert!(!text.contains(name), "a name is in a key: {text}");
        }
    }
}

#[tokio::test]
async fn a_name_that_was_erased_finds_nothing_more() {
    let crew = crew().await;
    let (world, sam) = (&crew.world, &crew.sam);
    assert_eq!(world.with_words(sam, "tabor").await.len(), 2);
    world.desk.erase_name(sam, crew.tess.person).await.unwrap();
    assert_eq!(world.with_words(sam, "tabor").await, []);
}

#[tokio::test]
async fn what_another_crew_has_is_not_found_and_not_told_apart() {
    let crew = crew().await;
    let world = &crew.world;
    let code = world.desk.invite_new_crew().await.unwrap().code;
    let olga = world.desk.join(world.key(), &code, "Olga", &chat(9)).await;
    let olga = olga.unwrap();
    let number = crew.jobs[0].to_string();
    for words in ["", "corner", "tess", &number] {
        assert_eq!(world.with_words(&olga, words).await, [], "“{words}”");
    }
    let told = async |wanted: Wanted| {
        let found = world.desk.find_jobs(&olga, &wanted, None).await;
        found.unwrap_err().to_string()
    };
    let on = |evaporator| Wanted {
        evaporator: Some(evaporator),
        ..Wanted::default()
    };
    let nobodys = EvaporatorId(Uuid::from_u128(2));
    assert_eq!(told(on(crew.evaporators[0])).await, told(on(nobodys)).await);
    let by = |person| Wanted {
        person: Some(person),
        ..Wanted::default()
    };
    let nobody = PersonId(Uuid::from_u128(2));
    assert_eq!(told(by(crew.tess.person)).await, told(by(nobody)).await);
}

#[tokio::test]
async fn pages_lose_nothing_while_jobs_are_begun() {
    let world = World::new();
    let sam = world.supervisor().await;
    let evaporator = world
        .hung(&sam, ("Corner Market", "EV-3", "meat cooler"))
        .await;
    let mut begun = Vec::new();
    for _ in 0..2 * JOBS_A_PAGE + 1 {
        begun.push(world.begins_on(&sam, evaporator).await.job);
    }
    begun.reverse();
    let wanted = Wanted {
        words: "market".to_owned(),
        ..Wanted::default()
    };
    let mut seen = Vec::new();
    let mut after = None;
    loop {
        let page = world.desk.find_jobs(&sam, &wanted, after).await.unwrap();
        seen.extend(page.jobs.iter().map(|line| line.job));
        world.begins_on(&sam, evaporator).await;
        let Some(next) = page.next else { break };
        after = Some(next.to_string().parse().unwrap());
    }
    assert_eq!(seen, begun);
}

#[tokio::test]
async fn a_word_that_begins_too_many_is_asked_for_one_more_letter() {
    let world = World::new();
    let sam = world.supervisor().await;
    let letters = || (b'a'..=b'z').map(char::from);
    for one in letters().take(20) {
        for other in letters() {
            let site = format!("shop x{one}{other}");
            world.hung(&sam, (&site, "", "")).await;
        }
    }
    let wanted = Wanted {
        words: "x".to_owned(),
        ..Wanted::default()
    };
    let refused = world.desk.find_jobs(&sam, &wanted, None).await;
    assert_eq!(
        refused.unwrap_err().to_string(),
        "More than 512 words begin with “x”. Type one more letter of it."
    );
    assert_eq!(world.with_words(&sam, "xa").await, []);
}

#[tokio::test]
async fn what_an_older_program_kept_is_listed_at_the_next_start() {
    let mut crew = crew().await;
    let tables = ["found", "crew_flows", "crew_ends", "crew_sites"];
    let mut batch = Batch::new("2031-06-01T08:00:00Z".parse().unwrap());
    for table in tables.into_iter().chain(["crew_words"]) {
        let table = Table::named(table);
        let memory = &crew.world.memory;
        let rows = memory.scan(table.clone(), vec![], None, 999).await.unwrap();
        let keys = rows.items.into_iter().map(|row| row.key);
        let gone = keys.map(|key| IndexChange::remove(table.clone(), key));
        batch.index.extend(gone);
    }
    crew.world.memory.append(batch).await.unwrap();
    let corner = "corner turns";
    let choices = crew.world.desk.search_choices(&crew.sam).await.unwrap();
    assert!(choices.sites.is_empty() && choices.ends.is_empty());
    crew.world.restart().await;
    let found = crew.world.with_words(&crew.sam, corner).await;
    assert_eq!(found, [crew.jobs[1]]);
    let choices = crew.world.desk.search_choices(&crew.sam).await.unwrap();
    assert_eq!(choices.sites.len(), 2);
    assert_eq!(choices.ends, ["The fan turns"]);
}

#[tokio::test]
async fn whoever_left_the_crew_finds_nothing() {
    let crew = crew().await;
    let (world, sam, tess) = (&crew.world, &crew.sam, &crew.tess);
    let none = Default::default();
    world
        .desk
        .set_roles(world.key(), sam, tess.person, none)
        .await
        .unwrap();
    let found = world.desk.find_jobs(tess, &Wanted::default(), None).await;
    assert!(matches!(found, Err(DeskError::NotSignedIn)));
    assert_eq!(world.with_words(sam, "tabor").await.len(), 2, "still found");
    let handled = world.does(sam, crew.jobs[2], Input::Pause).await;
    assert!(!refusal(&handled).is_empty());
}
