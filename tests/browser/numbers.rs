//! The numbers of the crew on their page and as a table.

use super::{begin_job, server};

#[tokio::test]
async fn a_supervisor_sees_the_numbers_and_saves_them() {
    let server = server().await;
    let mut supervisor = server.supervisor("Sam Supervisor").await;
    supervisor.open("/numbers").await;
    assert!(
        supervisor.shows("None on these days."),
        "{}",
        supervisor.text
    );
    let mut page = server
        .invited(&mut supervisor, "technician", "Tess Technician")
        .await;
    begin_job(&mut page).await;
    page.press("Go on").await;
    page.press("It turns").await;
    page.press("Hand the job in").await;
    supervisor.open("/").await;
    assert!(
        supervisor.shows("Numbers of your crew"),
        "{}",
        supervisor.text
    );
    supervisor.open("/numbers").await;
    for text in [
        "Jobs that are over",
        "How jobs ended",
        "The fan turns",
        "1 job",
        "no job is accepted yet",
        "Looks after 24 hours, still to come",
    ] {
        assert!(supervisor.shows(text), "{text}: {}", supervisor.text);
    }
    supervisor
        .open("/numbers?from=2020-01-01&to=2020-12-31")
        .await;
    assert!(
        supervisor.shows("None on these days."),
        "{}",
        supervisor.text
    );
    supervisor.open("/numbers?from=soon").await;
    assert!(
        supervisor.shows("“soon” is not a day."),
        "{}",
        supervisor.text
    );
    supervisor.open("/numbers.csv").await;
    let table = &supervisor.source;
    assert!(
        table.contains("How jobs ended,The fan turns,1,jobs"),
        "{table}"
    );
    page.open("/numbers").await;
    assert!(
        page.shows("Only a supervisor can see the crew's numbers."),
        "{}",
        page.text
    );
    page.open("/numbers.csv").await;
    assert!(
        page.shows("Only a supervisor can see the crew's numbers."),
        "{}",
        page.text
    );
}

#[tokio::test]
async fn the_numbers_of_the_demo_say_what_its_jobs_say() {
    let server = super::demo::demo().await;
    let mut supervisor = server.demo_person("supervisor").await;
    supervisor.open("/numbers").await;
    for text in ["Shaded pole", "1 fan", "Failed part: Motor", "100 %"] {
        assert!(supervisor.shows(text), "{text}: {}", supervisor.text);
    }
    let numbers = supervisor.text.clone();
    // The one job with a new fan says the same of itself, with its inputs.
    supervisor.open("/").await;
    let job = supervisor.source.split("To review").nth(1).unwrap();
    let job = job.split("href=\"").nth(1).unwrap();
    let job = job.split('"').next().unwrap();
    let job = job.strip_suffix("/review").unwrap().to_owned();
    supervisor.open(&format!("{job}/checklist")).await;
    let saved = supervisor.text.split("→ saved = ").nth(1);
    let saved = saved.unwrap_or_else(|| panic!("no gain: {}", supervisor.text));
    let saved: f64 = saved.split_whitespace().next().unwrap().parse().unwrap();
    assert!(
        numbers.contains(&format!("{} W", saved.round())),
        "{saved}: {numbers}"
    );
}
