//! What stands out with what other jobs left behind, and the numbers of the crew.

use fanwright::desk::jobs::NewJob;
use fanwright::desk::screen::{Phase, Screen};
use fanwright::desk::{Actor, DeskError};
use fanwright::flow::model::Role;
use fanwright::flow::name::FlowName;
use fanwright::record::stands_out::{Finding, Rule, SAMPLES_MIN};
use fanwright::store::{Batch, IndexChange, Store, Table};
use fanwright::walk::input::Input;
use jiff::SignedDuration;
use jiff::civil::Date;

use super::{World, chat};

/// Supervisor, technician, electrician.
async fn crew(world: &World) -> [Actor; 3] {
    let sam = world.supervisor().await;
    let tess = world.joins(&sam, &chat(2), &[Role::Technician]).await;
    let ed = world.joins(&sam, &chat(3), &[Role::Electrician]).await;
    [sam, tess, ed]
}

/// Two blurred spots; their places tell one picture from the next.
fn picture(width: u32, at: (f32, f32)) -> Vec<u8> {
    let light = |x: u32, y: u32| {
        let (x, y) = (
            x as f32 / width as f32,
            y as f32 * 4.0 / (3.0 * width as f32),
        );
        let spot = |at: (f32, f32)| (-((x - at.0).powi(2) + (y - at.1).powi(2)) * 30.0).exp();
        let light = 0.2 * x + 0.5 * spot(at) + 0.4 * spot((at.1, at.0 / 2.0));
        image::Luma([(light * 200.0) as u8])
    };
    let picture = image::GrayImage::from_fn(width, width * 3 / 4, light);
    let mut bytes = std::io::Cursor::new(Vec::new());
    picture
        .write_to(&mut bytes, image::ImageFormat::Png)
        .unwrap();
    bytes.into_inner()
}

/// Walks the small flow to its end and hands it in; `look` is how long the first looks take.
async fn handed_in(world: &World, [_, tess, ed]: &[Actor; 3], photo: Vec<u8>, look: i64) -> Screen {
    let screen = world.begin(tess).await;
    world.after(SignedDuration::from_secs(look));
    let screen = world.presses(tess, &screen, "go").await.screen;
    world.after(SignedDuration::from_secs(look));
    let screen = world.presses(tess, &screen, "stands").await.screen;
    world.after(SignedDuration::from_mins(6));
    world.desk.end_waits().await.unwrap();
    let screen = world.desk.screen(tess, screen.job).await.unwrap();
    world.presses(tess, &screen, "go").await;
    world.after(SignedDuration::from_secs(40));
    world
        .does(tess, screen.job, Input::Text("208 V".to_owned()))
        .await;
    world.after(SignedDuration::from_secs(40));
    let photo = world.desk.take_photo(photo).await.unwrap();
    world.does(tess, screen.job, Input::Photo(photo)).await;
    let held = world.desk.screen(ed, screen.job).await.unwrap();
    world.presses(ed, &held, "go").await;
    let screen = world.does(tess, screen.job, Input::HandIn).await.screen;
    assert_eq!(screen.phase, Phase::HandedIn);
    screen
}

async fn found(world: &World, actor: &Actor, screen: &Screen) -> Vec<Finding> {
    let found = world.desk.what_stands_out(actor, screen.job).await.unwrap();
    let list = world.desk.checklist(actor, screen.job).await.unwrap();
    assert_eq!(list.stands_out, found, "the checklist says the same");
    found
}

#[tokio::test]
async fn a_photo_of_another_job_stands_out_in_the_later_one_also_when_it_was_made_smaller() {
    let world = World::new();
    let crew = crew(&world).await;
    let sam = &crew[0];
    let first = handed_in(&world, &crew, picture(640, (0.3, 0.6)), 30).await;
    let same = handed_in(&world, &crew, picture(640, (0.3, 0.6)), 30).await;
    let smaller = handed_in(&world, &crew, picture(320, (0.3, 0.6)), 30).await;
    let another = handed_in(&world, &crew, picture(640, (0.8, 0.3)), 30).await;
    assert_eq!(found(&world, sam, &first).await, []);
    assert_eq!(found(&world, sam, &another).await, []);
    let in_words = [
        (same, "is the same file as one in another job"),
        (smaller, "looks nearly the same as one in another job"),
    ];
    for (screen, words) in in_words {
        let found = found(&world, sam, &screen).await;
        assert_eq!(found.len(), 1, "{found:#?}");
        assert_eq!(found[0].rule, Rule::PhotoSeenBefore);
        let whole = format!(
            "The photo for “Send a photo of the nameplate.” {words}: Corner Market · EV-3 · meat \
             cooler, left, 2031-05-04."
        );
        assert_eq!(found[0].sentence, whole);
    }
}

#[tokio::test]
async fn reviewers_hear_how_much_stands_out() {
    let world = World::new();
    let crew = crew(&world).await;
    let sam = &crew[0];
    handed_in(&world, &crew, picture(640, (0.3, 0.6)), 30).await;
    let screen = handed_in(&world, &crew, picture(640, (0.3, 0.6)), 30).await;
    let told = world.desk.pending(None, 50).await.unwrap().items;
    let told: Vec<&str> = told
        .iter()
        .map(|one| one.notice.sentence.as_str())
        .filter(|sentence| sentence.contains("handed in"))
        .collect();
    assert!(told[0].ends_with("handed in the job at Corner Market · EV-3 · meat cooler, left."));
    assert!(
        told[1].ends_with("meat cooler, left. 1 thing stands out."),
        "{told:?}"
    );
    let waiting = world.desk.jobs_to_review(sam).await.unwrap();
    let counts: Vec<usize> = waiting.iter().map(|line| line.stands_out).collect();
    assert_eq!(counts, [1, 0], "trouble comes first");
    let shown = world.desk.screen(sam, screen.job).await.unwrap();
    let notes: Vec<&str> = shown
        .prompt
        .notes
        .iter()
        .map(|note| note.text.as_str())
        .collect();
    assert!(notes.contains(&"1 thing stands out."), "{notes:?}");
    let holders = world.desk.screen(&crew[1], screen.job).await.unwrap();
    let notes = holders.prompt.notes.iter();
    assert!(
        notes.clone().all(|note| !note.text.contains("stands out")),
        "it is for the reviewer"
    );
}

#[tokio::test]
async fn accepted_jobs_teach_how_long_a_step_takes() {
    let world = World::new();
    let crew = crew(&world).await;
    let sam = &crew[0];
    for job in 0..=SAMPLES_MIN {
        // The last of them is fast, but not enough is known before it.
        let look = if job == SAMPLES_MIN - 1 { 3 } else { 60 };
        let photo = picture(64 + job as u32, (0.1, 0.04 * job as f32));
        let screen = handed_in(&world, &crew, photo, look).await;
        let mut found = found(&world, sam, &screen).await;
        found.retain(|finding| finding.rule == Rule::AnsweredFast);
        assert_eq!(found, [], "job {job}");
        let accepted = world.desk.accept(world.key(), sam, screen.job, "").await;
        assert_eq!(accepted.unwrap().screen.phase, Phase::Accepted);
    }
    let screen = handed_in(&world, &crew, picture(640, (0.9, 0.9)), 3).await;
    let found = found(&world, sam, &screen).await;
    let sentences: Vec<&str> = found.iter().map(|one| one.sentence.as_str()).collect();
    assert_eq!(
        sentences,
        [
            "“Stand where you can see the fan.” was answered after 3 s. In the crew's accepted \
             jobs nine of ten took 60 s or longer.",
            "“Does the fan turn?” was answered after 3 s. In the crew's accepted jobs nine of ten \
             took 60 s or longer.",
        ]
    );
}

fn days(from: &str, to: &str) -> (Date, Date) {
    (from.parse().unwrap(), to.parse().unwrap())
}

#[tokio::test]
async fn numbers_count_what_is_over_and_follow_what_becomes_of_it() {
    let world = World::new();
    let crew = crew(&world).await;
    let sam = &crew[0];
    let span = days("2031-05-01", "2031-05-31");
    world.begin(&crew[1]).await;
    let one = handed_in(&world, &crew, picture(640, (0.3, 0.6)), 30).await;
    let other = handed_in(&world, &crew, picture(640, (0.8, 0.3)), 30).await;
    let desk = &world.desk;
    let sum = desk.numbers(sam, span).await.unwrap().sum;
    assert_eq!((sum.jobs, sum.handed_in, sum.accepted), (2, 2, 0));
    assert_eq!(sum.outcomes["The fan stands still"], 2);
    desk.accept(world.key(), sam, one.job, "").await.unwrap();
    desk.send_back(world.key(), sam, other.job, "Which fan?")
        .await
        .unwrap();
    world.does(&crew[1], other.job, Input::HandIn).await;
    desk.accept(world.key(), sam, other.job, "").await.unwrap();
    let sum = desk.numbers(sam, span).await.unwrap().sum;
    assert_eq!((sum.jobs, sum.accepted, sum.accepted_at_first), (2, 2, 1));
    assert_eq!(sum.accepted_at_first_percent(), Some(50.0));
    let minutes = sum.parts["Look at the fan"].middle_seconds().unwrap() / 60.0;
    assert!((minutes / 8.3 - 1.0).abs() < 0.1, "{minutes} min");
    let before = desk.numbers(sam, days("2031-04-01", "2031-05-03")).await;
    assert_eq!(before.unwrap().sum.jobs, 0);
}

#[tokio::test]
async fn numbers_are_for_supervisors_and_for_days_in_order() {
    let world = World::new();
    let [sam, tess, _] = crew(&world).await;
    let refused = world
        .desk
        .numbers(&tess, days("2031-05-01", "2031-05-31"))
        .await;
    assert!(matches!(refused, Err(DeskError::NotAllowed(_))));
    let turned = world
        .desk
        .numbers(&sam, days("2031-05-31", "2031-05-01"))
        .await;
    assert!(matches!(turned, Err(DeskError::NotUnderstood(_))));
}

#[tokio::test]
async fn a_folder_from_before_there_were_such_rows_gets_them_at_its_start() {
    let mut world = World::new();
    let crew = crew(&world).await;
    let sam = &crew[0];
    let first = handed_in(&world, &crew, picture(640, (0.3, 0.6)), 30).await;
    world
        .desk
        .accept(world.key(), sam, first.job, "")
        .await
        .unwrap();
    let second = handed_in(&world, &crew, picture(640, (0.3, 0.6)), 30).await;
    let span = days("2031-05-01", "2031-05-31");
    let numbers = world.desk.numbers(sam, span).await.unwrap();
    let mut batch = Batch::new("2031-05-05T08:00:00Z".parse().unwrap());
    for table in [
        "numbers",
        "numbers_added",
        "photo_same",
        "photo_alike",
        "step_times",
        "stands_out",
    ] {
        let table = Table::named(table);
        let rows = world
            .memory
            .scan(table.clone(), Vec::new(), None, 1_000)
            .await
            .unwrap();
        assert!(!rows.items.is_empty(), "{table}");
        let gone = rows.items.into_iter();
        let gone = gone.map(|row| IndexChange::remove(table.clone(), row.key));
        batch.index.extend(gone);
    }
    world.memory.append(batch).await.unwrap();
    assert_eq!(world.desk.numbers(sam, span).await.unwrap().sum.jobs, 0);
    for _ in 0..2 {
        world.restart().await;
        assert_eq!(world.desk.numbers(sam, span).await.unwrap(), numbers);
        let found = found(&world, sam, &second).await;
        assert_eq!(found.len(), 1);
        assert_eq!(found[0].rule, Rule::PhotoSeenBefore);
        let waiting = world.desk.jobs_to_review(sam).await.unwrap();
        assert_eq!(waiting[0].stands_out, 1);
    }
}

#[tokio::test]
async fn a_promised_look_stands_with_the_numbers_until_a_later_job_there_is_over() {
    let world = World::new();
    let [sam, tess, _] = crew(&world).await;
    let on = world.evaporator(&tess).await;
    let begins = async |flow: &str| {
        let new = NewJob {
            evaporator: on.id,
            flow: FlowName::from(flow),
            training: false,
        };
        let begun = world.desk.begin(world.key(), &tess, new).await;
        begun.unwrap().screen
    };
    let span = days("2031-05-01", "2031-05-31");
    let rechecks = async || world.desk.numbers(&sam, span).await.unwrap().rechecks;
    let first = begins("promise-to-look").await.job;
    assert_eq!(rechecks().await, []);
    for words in ["Tess", "when the part is here"] {
        world
            .does(&tess, first, Input::Text(words.to_owned()))
            .await;
    }
    let waiting = rechecks().await;
    assert_eq!(waiting.len(), 1);
    assert_eq!((waiting[0].job, &waiting[0].evaporator), (first, &on));
    assert_eq!(waiting[0].when, "when the part is here");
    assert_eq!(waiting[0].due.to_string(), "2031-05-05T08:00:00Z");
    world.after(SignedDuration::from_hours(20));
    let screen = begins("look-at-the-fan").await;
    let screen = world.presses(&tess, &screen, "go").await.screen;
    assert_eq!(rechecks().await.len(), 1, "it only began");
    world.presses(&tess, &screen, "turns").await;
    assert_eq!(rechecks().await, []);
}
