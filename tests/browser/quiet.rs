//! Quiet hours on the page.

use super::server;

#[tokio::test]
async fn a_person_sets_their_quiet_hours_and_a_supervisor_the_zone_of_the_crew() {
    let server = server().await;
    let mut supervisor = server.supervisor("Sam Supervisor").await;
    let mut page = server
        .invited(&mut supervisor, "technician", "Tess Technician")
        .await;
    page.open("/people").await;
    assert!(page.shows("Set my quiet hours"), "{}", page.text);
    page.open("/quiet-hours").await;
    assert!(page.shows("from 20:00 to 06:00"), "{}", page.text);
    assert!(!page.shows("time zone of your crew"), "{}", page.text);
    let fields = [("from", "22:30"), ("to", "5"), ("zone", "America/New York")];
    page.fill_and_press(&fields, "Set my quiet hours").await;
    assert_eq!(page.path, "/quiet-hours");
    assert!(
        page.shows("from 22:30 to 05:00 by the clock of America/New_York"),
        "{}",
        page.text
    );
    let fields = [("from", "22:30"), ("to", "21:00"), ("zone", "")];
    page.fill_and_press(&fields, "Set my quiet hours").await;
    assert_eq!(page.status.as_u16(), 422);
    assert!(page.shows("less than two hours"), "{}", page.text);

    supervisor.open("/quiet-hours").await;
    let fields = [("zone", "Europe/Berlin")];
    supervisor
        .fill_and_press(&fields, "Set it for the crew")
        .await;
    assert!(supervisor.shows("Europe/Berlin"), "{}", supervisor.text);
    page.open("/quiet-hours").await;
    assert!(page.shows("America/New_York"), "her own counts");
    let fields = [("none", "yes"), ("zone", "")];
    page.fill_and_press(&fields, "Set my quiet hours").await;
    assert!(page.shows("You have no quiet hours"), "{}", page.text);
    assert!(
        page.shows("Europe/Berlin"),
        "then that of the crew: {}",
        page.text
    );
}
