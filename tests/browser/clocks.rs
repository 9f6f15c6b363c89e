//! By which clocks times are shown.

use super::{begin_job, server};

#[tokio::test]
async fn pages_show_times_by_the_clocks_of_the_crew_and_records_in_utc() {
    let server = server().await;
    let mut supervisor = server.supervisor("Sam Supervisor").await;
    begin_job(&mut supervisor).await;
    let job = supervisor.path.clone();
    supervisor.open("/people").await;
    supervisor.open("/looks").await;
    assert!(supervisor.shows(" UTC"), "{}", supervisor.text);
    supervisor.open("/quiet-hours").await;
    // India Standard Time has no summer time: the IANA time zone database, Asia/Kolkata.
    let fields = [("zone", "Asia/Kolkata")];
    supervisor
        .fill_and_press(&fields, "Set it for the crew")
        .await;
    supervisor.open("/looks").await;
    assert!(supervisor.shows(" IST"), "{}", supervisor.text);
    assert!(!supervisor.shows(" UTC"), "{}", supervisor.text);
    supervisor.open(&format!("{job}/checklist")).await;
    assert!(supervisor.shows(" UTC"), "{}", supervisor.text);
    assert!(!supervisor.shows(" IST"), "{}", supervisor.text);
}
