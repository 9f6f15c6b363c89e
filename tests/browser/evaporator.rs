//! The page of an evaporator: what is known of it, and where that was recorded.

use super::begin_job;
use crate::support::pages_server::PagesServer;

const PLATE: &str = include_str!("../desk/plate.yaml");

#[tokio::test]
async fn a_second_reading_is_drawn_beside_the_first() {
    let server = PagesServer::with_flows(&[("read-the-plate.yaml", PLATE)]).await;
    let mut sam = server.supervisor("Sam Supervisor").await;
    begin_job(&mut sam).await;
    for (volts, model) in [("208 V", "Model A"), ("210 V", "Model B")] {
        for typed in [volts, model, "3", "Ann", "Monday"] {
            sam.say(typed).await;
        }
        sam.press_card("Corner Market").await;
        assert!(sam.path.starts_with("/evaporator/"), "{}", sam.path);
        for text in [model, "Monday", "The last speed setting", volts] {
            assert!(sam.shows(text), "{text}: {}", sam.text);
        }
        assert_eq!(sam.source.contains("<svg"), volts == "210 V");
        let evaporator = sam.path.clone();
        let id = evaporator.trim_start_matches("/evaporator/");
        sam.open(&format!("/new-job?evaporator={id}")).await;
        sam.press("Begin the job").await;
        let job = sam.path.clone();
        sam.open(&evaporator).await;
        assert!(!sam.shows("Monday"), "somebody looks again: {}", sam.text);
        sam.open(&job).await;
    }
}
