//! All jobs: what is looked for stands in the address, and can be taken away piece by piece.

use reqwest::StatusCode;

use super::{begin_job, server};

#[tokio::test]
async fn an_address_with_words_and_filters_can_be_shared() {
    let server = server().await;
    let mut sam = server.supervisor("Sam Supervisor").await;
    let mut tess = server.invited(&mut sam, "technician", "Tess Tabor").await;
    begin_job(&mut tess).await;
    sam.open("/").await;
    sam.press("All jobs: search and filter").await;
    assert_eq!(sam.path, "/jobs");
    assert!(sam.shows("Corner Market"), "{}", sam.text);
    assert!(!sam.shows("Only jobs with"), "{}", sam.text);

    let shared = "/jobs?words=corner%20tess&stands=open&site=Corner%20Market&from=2020-01-01";
    sam.open(shared).await;
    for text in ["Only jobs with", "How far along:", "Site:", "Begun from:"] {
        assert!(sam.shows(text), "{text}: {}", sam.text);
    }
    sam.press_card("Corner Market").await;
    assert!(sam.path.starts_with("/job/"), "{}", sam.path);

    sam.open("/jobs?words=corner&stands=accepted").await;
    assert!(sam.shows("No job has all of this."), "{}", sam.text);
    sam.press("Remove").await;
    assert_eq!(sam.path, "/jobs?stands=accepted", "the words are gone");
}

#[tokio::test]
async fn what_cannot_be_looked_for_is_said_on_the_page() {
    let server = server().await;
    let mut sam = server.supervisor("Sam Supervisor").await;
    begin_job(&mut sam).await;
    sam.open("/jobs?from=yesterday").await;
    assert_eq!(sam.status, StatusCode::OK);
    let told = "“yesterday” is not a day that I can read. Write it like 2031-05-04.";
    assert!(sam.shows(told), "{}", sam.text);
    sam.open("/jobs?stands=nowhere").await;
    assert!(sam.shows("Choose how far from the list."), "{}", sam.text);
    let hostile = "/jobs?words=%3Cscript%3Ealert(1)%3C%2Fscript%3E";
    sam.open(hostile).await;
    assert!(!sam.source.contains("<script>alert"), "{}", sam.source);
    for gone in ["/jobs?evaporator=x", "/jobs?person=x"] {
        sam.open(gone).await;
        assert!(sam.status.is_client_error(), "{gone}: {}", sam.status);
    }
}
