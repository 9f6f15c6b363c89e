//! The lock of somebody who is away, taken off on the page: 29 CFR 1910.147(e)(3).

use reqwest::StatusCode;

use super::{PagesServer, begin_job};
use crate::support::page::Page;

const LOCKING: &str = "\
flow: lock-it
title: Lock it
language: en
hands_off: true
outcomes: { over: Over }
energy:
  fan_circuit: { kind: electrical, label: Fan circuit }
facts:
  lock: { text: 20 }
start: open_it
steps:
  open_it: { sets: { fan_circuit: opened }, confirm: It is open, say: Open it., then: lock_it }
  lock_it: { sets: { fan_circuit: locked }, write: lock, say: Lock number?, then: look }
  look: { tell: Go on, say: Look at it., then: over }
  over: { finish: over, say: Over. }
";

const LINK: &str = "Take off the lock of somebody who is away";

/// A job of Tess with her lock on the fan circuit.
async fn locked() -> (PagesServer, Page, Page, String) {
    let server = PagesServer::with_flows(&[("lock-it.yaml", LOCKING)]).await;
    let mut supervisor = server.supervisor("Sam Supervisor").await;
    let mut tess = server
        .invited(&mut supervisor, "technician", "Tess Technician")
        .await;
    begin_job(&mut tess).await;
    let job = tess.path.clone();
    tess.press("It is open").await;
    tess.say("lock 7").await;
    (server, supervisor, tess, job)
}

#[tokio::test]
async fn a_supervisor_confirms_three_conditions_one_by_one_before_a_lock_comes_off() {
    let (_server, mut supervisor, mut tess, job) = locked().await;
    supervisor.open(&job).await;
    supervisor.press(LINK).await;
    let conditions = [
        ("1 of 3", "I checked: Tess Technician is not on the site"),
        ("2 of 3", "I did all I could to reach Tess Technician"),
        (
            "3 of 3",
            "Tess Technician will know before working here again. Record it, then take the lock off",
        ),
    ];
    for (step, confirmed) in conditions {
        assert!(supervisor.shows("Tess Technician’s lock on: Fan circuit"));
        assert!(supervisor.shows(step), "{}", supervisor.text);
        assert!(supervisor.shows("29 CFR 1910.147(e)(3)"));
        let place = |text: &str| supervisor.text.find(text).unwrap();
        assert!(place("CAUTION") < place(confirmed));
        assert!(place("Leave the lock on") < place(confirmed), "safe first");
        tess.open(&format!("{job}/checklist")).await;
        assert!(!tess.shows("was taken off"), "not before all three");
        supervisor.press(confirmed).await;
    }
    assert_eq!(supervisor.path, job, "{}", supervisor.text);
    assert!(!supervisor.shows(LINK), "no other lock hangs");
    tess.open(&format!("{job}/checklist")).await;
    assert!(
        tess.shows("the lock of Tess Technician was taken off"),
        "{}",
        tess.text
    );
    tess.press("Back to the job").await;
    assert_eq!(tess.path, job);
}

#[tokio::test]
async fn nobody_but_a_supervisor_gets_to_another_persons_lock() {
    let (server, mut supervisor, mut tess, job) = locked().await;
    let mut tom = server
        .invited(&mut supervisor, "technician", "Tom Technician")
        .await;
    for page in [&mut tom, &mut tess] {
        page.open(&job).await;
        assert!(!page.shows(LINK));
        page.open(&format!("{job}/lock-off")).await;
        assert_eq!(page.status, StatusCode::FORBIDDEN);
        assert!(
            page.shows("Only a supervisor may take off another person's lock."),
            "{}",
            page.text
        );
    }
}

#[tokio::test]
async fn a_lock_stays_on_a_job_that_moved_on_meanwhile() {
    let (_server, mut supervisor, mut tess, job) = locked().await;
    supervisor.open(&format!("{job}/lock-off")).await;
    supervisor
        .press("I checked: Tess Technician is not on the site")
        .await;
    supervisor
        .press("I did all I could to reach Tess Technician")
        .await;
    tess.press("Go on").await;
    let last =
        "Tess Technician will know before working here again. Record it, then take the lock off";
    supervisor.press(last).await;
    assert_eq!(supervisor.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(
        supervisor.shows("Tess Technician was faster."),
        "{}",
        supervisor.text
    );
    tess.open(&format!("{job}/checklist")).await;
    assert!(!tess.shows("was taken off"), "she is here after all");
}
