//! The checklist of a job.

use fanwright::flow::model::Role;
use fanwright::report::checklist::{Checklist, Line, Links, Weight};
use fanwright::walk::input::Input;
use jiff::SignedDuration;

use super::{World, chat};

fn lines(list: &Checklist) -> Vec<&Line> {
    list.sections
        .iter()
        .flat_map(|section| &section.lines)
        .collect()
}

#[tokio::test]
async fn a_checklist_says_what_was_asked_answered_and_expected() {
    let world = World::new();
    let sam = world.supervisor().await;
    let tess = world.joins(&sam, &chat(2), &[Role::Technician]).await;
    let screen = world.at_the_hold(&tess).await;
    let list = world.desk.checklist(&sam, screen.job).await.unwrap();
    assert_eq!(list.evaporator, "Corner Market · EV-3 · meat cooler, left");
    assert_eq!(list.people, std::slice::from_ref(&tess.name));
    let found = &list.first_page.found;
    assert_eq!(found.len(), 1, "{found:?}");
    assert_eq!(
        (found[0].what.as_str(), found[0].said.as_str()),
        ("The fan", "It stands still")
    );
    assert_eq!(list.head.seq.0, screen.prompt.revision);
    let lines = lines(&list);
    let of = |asked: &str| {
        let found = lines
            .iter()
            .find(|line| line.asked.as_deref() == Some(asked));
        *found.unwrap_or_else(|| panic!("{asked} is not in {lines:#?}"))
    };
    assert_eq!(of("Does the fan turn?").said, "It stands still");
    let reading = of("What does the meter read at the leads?");
    assert_eq!(
        (reading.said.as_str(), reading.weight),
        ("208 V", Weight::Answer)
    );
    assert_eq!(reading.expected.as_deref(), Some("187 V to 253 V"));
    assert_eq!(reading.who, tess.name);
    let photo = of("Send a photo of the nameplate.").photo.as_ref().unwrap();
    assert_eq!((photo.stored.len(), photo.original.len()), (64, 64));
    assert_eq!(
        of("Stand where you can see the fan.").cite,
        ["common practice"]
    );
}

#[tokio::test]
async fn a_reading_out_of_range_stands_out_and_both_are_kept() {
    let world = World::new();
    let sam = world.supervisor().await;
    let screen = world.begin(&sam).await;
    let screen = world.presses(&sam, &screen, "go").await.screen;
    let screen = world.presses(&sam, &screen, "stands").await.screen;
    world.after(SignedDuration::from_mins(6));
    world.desk.end_waits().await.unwrap();
    let screen = world.desk.screen(&sam, screen.job).await.unwrap();
    world.presses(&sam, &screen, "go").await;
    world
        .does(&sam, screen.job, Input::Text("150 V".to_owned()))
        .await;
    world
        .does(&sam, screen.job, Input::Text("152 V".to_owned()))
        .await;
    world
        .does(&sam, screen.job, Input::Text("hello".to_owned()))
        .await;
    let list = world.desk.checklist(&sam, screen.job).await.unwrap();
    let warned: Vec<&str> = lines(&list)
        .into_iter()
        .filter(|line| line.weight == Weight::Warning)
        .map(|line| line.said.as_str())
        .collect();
    assert_eq!(warned, ["150 V, then asked for once more", "152 V"]);
}

#[tokio::test]
async fn the_page_opens_with_the_cautions_and_escapes_every_text() {
    let world = World::new();
    let sam = world.supervisor().await;
    let screen = world.begin(&sam).await;
    world.does(&sam, screen.job, Input::Stop).await;
    let nasty = "<script>alert('x')</script> & \"so on\"";
    world
        .does(&sam, screen.job, Input::Text(nasty.to_owned()))
        .await;
    let list = world.desk.checklist(&sam, screen.job).await.unwrap();
    let links = Links {
        photos: "/photos/".to_owned(),
        job: String::new(),
        ..Links::default()
    };
    let html = list.to_html(&links).unwrap();
    assert!(!html.contains("<script>"));
    assert!(html.contains("&lt;script&gt;"));
    let cautions = html
        .find("Local codes and licensed practice prevail")
        .unwrap();
    assert!(cautions < html.find("<dl>").unwrap());
    assert!(html.contains("Before hands go in, lock off and prove dead again"));
    assert!(html.contains(&list.head.hash.to_string()));
    assert!(html.contains("2031-05-04 08:00:00 UTC"));
    assert!(!html.contains("TRAINING"));
}

#[tokio::test]
async fn a_checklist_reads_back_from_its_json() {
    let world = World::new();
    let sam = world.supervisor().await;
    let screen = world.at_the_hold(&sam).await;
    let list = world.desk.checklist(&sam, screen.job).await.unwrap();
    let json = serde_json::to_string(&list).unwrap();
    assert_eq!(serde_json::from_str::<Checklist>(&json).unwrap(), list);
}

#[tokio::test]
async fn the_first_page_says_what_is_open_until_the_job_is_at_its_end() {
    let world = World::new();
    let sam = world.supervisor().await;
    let screen = world.begin(&sam).await;
    let open = |list: &Checklist| -> Vec<(String, String)> {
        let told = list.first_page.open.iter();
        told.map(|told| (told.what.clone(), told.said.clone()))
            .collect()
    };
    let pair = |what: &str, said: &str| (what.to_owned(), said.to_owned());
    let list = world.desk.checklist(&sam, screen.job).await.unwrap();
    assert_eq!(open(&list), [pair("The job", "is not at its end")]);
    world.does(&sam, screen.job, Input::Stop).await;
    world
        .does(&sam, screen.job, Input::Text("It smells burnt".to_owned()))
        .await;
    let list = world.desk.checklist(&sam, screen.job).await.unwrap();
    assert_eq!(open(&list), [pair("Work is stopped", "It smells burnt")]);
    let html = list.to_html(&Links::default()).unwrap();
    for told in ["Nothing is recorded as found.", "Nobody signed yet."] {
        assert!(html.contains(told), "{told}");
    }
}
