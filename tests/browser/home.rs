//! What the first page shows to whom.

use super::{begin_job, server};

#[tokio::test]
async fn a_new_job_asks_for_no_flow_where_there_is_but_one() {
    let server = server().await;
    let mut page = server.supervisor("Sam Supervisor").await;
    begin_job(&mut page).await;
    page.open("/new-job").await;
    assert!(page.shows("Which evaporator?"));
    assert!(!page.shows("Which job is it?"), "{}", page.text);
}

#[tokio::test]
async fn a_supervisor_sees_every_job_that_needs_looking_after() {
    let server = server().await;
    let mut supervisor = server.supervisor("Sam Supervisor").await;
    assert!(
        supervisor.shows("tick your own roles"),
        "{}",
        supervisor.text
    );
    let mut page = server
        .invited(&mut supervisor, "technician", "Tess Technician")
        .await;
    begin_job(&mut page).await;
    let job = page.path.clone();
    page.press("Stop work").await;
    page.say("It smells").await;
    supervisor.open("/").await;
    assert!(supervisor.shows("Work is stopped"), "{}", supervisor.text);
    assert!(!supervisor.shows("Open in your crew"), "not shown twice");
    assert!(!supervisor.shows("tick your own roles"));
    supervisor.open(&job).await;
    supervisor.press("Let the work go on").await;
    page.again().await;
    page.press("Go on").await;
    page.press("It turns").await;
    page.press("Hand the job in").await;
    supervisor.open(&job).await;
    let remark = [("remark", "Which fan was it?")];
    supervisor.fill_and_press(&remark, "Send it back").await;
    supervisor.open("/").await;
    assert!(supervisor.shows("Sent back"), "{}", supervisor.text);
    page.open("/").await;
    assert!(page.shows("sent back"), "{}", page.text);
    page.open(&job).await;
    page.press("Hand the job in").await;
    supervisor.open("/").await;
    assert!(supervisor.shows("To review"), "{}", supervisor.text);
    supervisor.open(&job).await;
    supervisor.press("Accept the job").await;
    supervisor.open("/jobs/accepted").await;
    assert!(supervisor.shows("Corner Market"), "{}", supervisor.text);
    supervisor.open("/open").await;
    assert!(supervisor.shows("There are none here."));
}
