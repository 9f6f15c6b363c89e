//! A job from its first screen to its review, with plain forms alone.

use std::time::Duration;

use super::{begin_job, server};
use crate::support::page::Page;

/// The wait of the flow takes two seconds of real time.
async fn wait_it_out(page: &mut Page) {
    for _ in 0..100 {
        tokio::time::sleep(Duration::from_millis(100)).await;
        page.again().await;
        if !page.shows("to go. The button comes") {
            return;
        }
    }
    panic!("the wait never ended:\n{}", page.text);
}

#[tokio::test]
async fn a_job_is_walked_handed_in_and_accepted_without_scripts() {
    let server = server().await;
    let mut supervisor = server.supervisor("Sam Supervisor").await;
    let mut page = server
        .invited(&mut supervisor, "technician", "Tess Technician")
        .await;
    let mut electrician = server
        .invited(&mut supervisor, "electrician", "Eli Electrician")
        .await;
    begin_job(&mut page).await;
    let job = page.path.clone();
    assert!(page.shows("Corner Market · EV-3 · meat cooler, left"));
    assert!(page.shows("Stand where you can see the fan."));
    page.press("Go on").await;

    choose_and_wait(&mut page).await;
    read_and_photograph(&mut page).await;
    electrician.open(&job).await;
    electrician.press("I looked at the leads").await;
    page.again().await;
    page.press("Hand the job in").await;
    assert!(page.shows("handed in"), "{}", page.text);

    send_back_and_do_again(&mut supervisor, &mut page, &job).await;
    accept(&mut supervisor, &job).await;
    look_at_the_checklist(&mut page, &server.base, &job).await;
}

/// The warning, the choice, the ticks and the wait.
async fn choose_and_wait(page: &mut Page) {
    let caution = page.text.find("Keep your hands off").unwrap();
    let question = page.text.find("Does the fan turn?").unwrap();
    assert!(caution < question, "the warning stands above the question");
    let buttons = page.buttons();
    let turns = buttons
        .iter()
        .position(|label| label == "It turns")
        .unwrap();
    assert_eq!(
        buttons[turns + 1],
        "It stands still",
        "in the order of the flow"
    );
    page.press("It stands still").await;

    page.tick(&["Ice", "Water"]).await;
    assert!(page.shows("to go. The button comes when the time is over."));
    assert!(
        !page.source.contains("name=\"press\""),
        "no way past a wait"
    );
    wait_it_out(page).await;
    page.press("The time is over, go on").await;
}

/// A reading, first one that is none, a photo and words.
async fn read_and_photograph(page: &mut Page) {
    assert!(page.source.contains("inputmode=\"decimal\""));
    assert!(page.shows("like 208 V"));
    assert!(
        !page.source.contains("value=\"208 V\""),
        "an example is never filled in"
    );
    page.say("nine hundred volts or so").await;
    assert!(page.shows("What does the meter read"), "{}", page.text);
    assert!(
        page.source.contains("nine hundred volts or so"),
        "nothing typed is lost"
    );
    page.say("208").await;
    assert!(page.shows("208 V"), "{}", page.text);

    page.photo().await;
    assert!(page.shows("What else did you see?"), "{}", page.text);
    page.say("<b>rust</b> & \"ice\"").await;
    assert!(page.shows("Waiting for"), "{}", page.text);
}

/// On the page to review: a decision needs what belongs to it, and what was sent back is done
/// again alone.
async fn send_back_and_do_again(supervisor: &mut Page, page: &mut Page, job: &str) {
    supervisor.open(&format!("{job}/review")).await;
    assert!(supervisor.status.is_success(), "{}", supervisor.text);
    assert!(supervisor.shows("within"), "{}", supervisor.text);
    assert!(supervisor.source.contains("<svg class=\"band\""));
    let remark = [("remark", "Say what else you saw.")];
    supervisor
        .fill_and_press(&remark, "Send the ticked steps back")
        .await;
    assert!(supervisor.shows("Tick the steps"), "{}", supervisor.text);
    assert!(
        supervisor.source.contains("Say what else you saw."),
        "nothing typed is lost"
    );
    let marked = "name=\"step\" value=\"";
    let steps: Vec<&str> = supervisor.source.split(marked).skip(1).collect();
    let steps = steps.iter().filter_map(|rest| rest.split('"').next());
    let step = steps
        .clone()
        .find(|step| step.ends_with("/remark"))
        .unwrap()
        .to_owned();
    let ticked = [
        ("step", step.as_str()),
        ("remark", "Say what else you saw."),
    ];
    supervisor.fill_and_press(&ticked, "Accept this job").await;
    assert!(supervisor.shows("Steps are ticked"), "{}", supervisor.text);
    supervisor
        .fill_and_press(&ticked, "Send the ticked steps back")
        .await;
    assert!(supervisor.shows("sent back"), "{}", supervisor.text);

    page.again().await;
    assert!(
        page.shows("Sent back: Say what else you saw."),
        "{}",
        page.text
    );
    page.press("Go on with the job").await;
    assert!(
        page.shows("This is the one step sent back."),
        "{}",
        page.text
    );
    page.say("Rust on the guard").await;
    assert!(
        page.shows("How it ended: The fan stands still."),
        "{}",
        page.text
    );
    page.press("Hand the job in").await;

    supervisor.open(&format!("{job}/review")).await;
    assert!(supervisor.shows("Changed since it was handed in before"));
    assert!(supervisor.shows("Rust on the guard"), "{}", supervisor.text);
    page.open(&format!("{job}/review")).await;
    assert_eq!(page.status.as_u16(), 403, "only supervisors review");
    page.open(job).await;
}

async fn accept(supervisor: &mut Page, job: &str) {
    supervisor.open("/").await;
    assert!(supervisor.shows("To review"), "{}", supervisor.text);
    supervisor.open(job).await;
    supervisor.press("Send it back").await;
    assert!(supervisor.status.is_client_error(), "a remark is needed");
    let remark = [("remark", "Good work")];
    supervisor.fill_and_press(&remark, "Accept the job").await;
    assert!(supervisor.shows("accepted"), "{}", supervisor.text);
    supervisor.open("/finished").await;
    assert!(supervisor.shows("Corner Market"));
}

async fn look_at_the_checklist(page: &mut Page, base: &str, job: &str) {
    page.open(&format!("{job}/checklist")).await;
    assert!(page.status.is_success());
    for text in ["208 V", "Ice", "Eli Electrician", "<b>rust</b> & \"ice\""] {
        assert!(page.shows(text), "{text}:\n{}", page.text);
    }
    assert!(
        !page.source.contains("<b>rust"),
        "typed text is never markup"
    );
    let at = page.source.find(&format!("{job}/photo/")).unwrap();
    let address = page.source[at..].split('"').next().unwrap().to_owned();
    let mut photo = Page::new(base);
    photo.open(&address).await;
    assert!(
        photo.shows("Join your crew"),
        "photos are for the crew alone"
    );
    let response = page
        .client
        .get(format!("{}{address}", base))
        .send()
        .await
        .unwrap();
    assert_eq!(response.headers()["content-type"], "image/jpeg");
    page.open(&format!("{job}/checklist.json")).await;
    let list: serde_json::Value = serde_json::from_str(&page.source).unwrap();
    assert_eq!(list["status"], "accepted");
}

#[tokio::test]
async fn a_job_goes_to_a_colleague_who_takes_it() {
    let server = server().await;
    let mut supervisor = server.supervisor("Sam Supervisor").await;
    let mut page = server
        .invited(&mut supervisor, "technician", "Tess Technician")
        .await;
    begin_job(&mut page).await;
    let job = page.path.clone();
    page.press("Hand the job over").await;
    page.press("Sam Supervisor supervisor").await;
    assert_eq!(page.path, job, "{}", page.text);
    supervisor.open("/").await;
    assert!(supervisor.shows("Offered to you"), "{}", supervisor.text);
    assert!(supervisor.shows("News for you"), "{}", supervisor.text);
    supervisor.press("I have read these").await;
    assert!(!supervisor.shows("News for you"));
    supervisor.open(&job).await;
    supervisor.press("Take the job").await;
    page.again().await;
    assert!(
        page.shows("This job is in Sam Supervisor’s hands."),
        "{}",
        page.text
    );
}

const TOLD: &str = "A message to your crew is on its way. Call them too.";

#[tokio::test]
async fn stopping_work_and_the_emergency_page_are_one_press_away() {
    let server = server().await;
    let mut supervisor = server.supervisor("Sam Supervisor").await;
    let mut page = server
        .invited(&mut supervisor, "apprentice", "Ann Apprentice")
        .await;
    begin_job(&mut page).await;
    let job = page.path.clone();
    page.press("Stop work").await;
    assert!(page.shows("Work is stopped"), "{}", page.text);
    supervisor.open("/").await;
    assert!(supervisor.shows("work stopped"), "{}", supervisor.text);

    page.press("Someone is hurt / gas alarm").await;
    assert!(page.shows("Get out of the box."));
    assert!(page.shows(TOLD), "{}", page.text);
    page.press("Back to the job").await;
    assert_eq!(page.path, job);
    supervisor.open("/").await;
    assert!(supervisor.shows("asked for the emergency screen"));

    // Whoever is alone in the crew is not told that anybody hears of it.
    let alone = super::server().await;
    let mut only = alone.supervisor("Sam Supervisor").await;
    begin_job(&mut only).await;
    only.press("Someone is hurt / gas alarm").await;
    assert!(only.shows("Get out of the box.") && !only.shows(TOLD));

    let mut stranger = Page::new(&server.base);
    stranger.open("/hurt").await;
    assert!(stranger.shows("Get out of the box."), "signed in or not");
}

#[tokio::test]
async fn what_counts_on_any_screen_counts_beside_an_answer_from_the_same_page() {
    let server = server().await;
    let mut supervisor = server.supervisor("Sam Supervisor").await;
    begin_job(&mut supervisor).await;
    // It gets there, but the page that answers it never comes back.
    let (answer, _) = supervisor.request(&[], "Go on").unwrap();
    answer.send().await.unwrap();
    for _ in 0..2 {
        let (stop, job) = supervisor.request(&[], "Stop work").unwrap();
        let stopped = stop.send().await.unwrap();
        assert_eq!(stopped.headers()["location"], job.as_str());
    }
    supervisor.again().await;
    assert!(supervisor.shows("Work is stopped"), "{}", supervisor.text);
}
