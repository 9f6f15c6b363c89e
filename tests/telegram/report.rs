//! The report of the job at hand, as a file in the chat.

use super::World;

#[tokio::test]
async fn the_report_of_the_job_at_hand_comes_as_a_file_on_the_paper_that_is_named() {
    let world = World::new().await;
    let mut chat = world.at_work().await;
    let which = chat.say("/report a5").await;
    assert!(which[0].text.contains("Letter or A4"), "{which:?}");
    for asked in ["/report", "/report a4"] {
        let came = chat.say(asked).await;
        let is_there = came[0].file.is_some_and(|bytes| bytes > 10_000);
        if cfg!(feature = "pdf") {
            assert!(is_there, "{came:?}");
            assert!(
                came[0].text.contains("not how things stand now"),
                "{came:?}"
            );
        } else {
            assert!(came[0].text.contains("makes no PDF"), "{came:?}");
        }
    }
    let mut idle = world
        .joined(2099, "Toni", fanwright::flow::model::Role::Apprentice)
        .await;
    let none = idle.say("/report").await;
    assert!(none[0].text.contains("no job at hand"), "{none:?}");
    assert_eq!(world.api.violations(), Vec::<String>::new());
    world.end().await;
}
