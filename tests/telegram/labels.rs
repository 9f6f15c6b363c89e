//! Labels in the chat, and what their square codes open there.

use fanwright::flow::model::Role;

use super::World;

#[tokio::test]
async fn a_supervisor_gets_labels_as_a_file_and_others_do_not() {
    let world = World::new().await;
    let mut supervisor = world.supervisor().await;
    let mut chat = world.joined(2002, "Toni", Role::Technician).await;
    chat.say("/new").await;
    chat.reply("Corner Market, EV-3, meat cooler left").await;
    for asked in ["/labels", "/labels a4", "/labels letter market"] {
        let came = supervisor.say(asked).await;
        if cfg!(feature = "pdf") {
            let is_there = came[0].file.is_some_and(|bytes| bytes > 5_000);
            assert!(is_there, "{asked}: {came:?}");
        }
    }
    if cfg!(feature = "pdf") {
        let none = supervisor.say("/labels submarine").await;
        assert!(none[0].text.contains("no label to print"), "{none:?}");
    }
    let refused = chat.say("/labels").await;
    assert!(refused[0].text.contains("Only a supervisor"), "{refused:?}");
    world.end().await;
}

#[tokio::test]
async fn the_code_on_a_label_opens_the_evaporator_for_its_crew_alone() {
    let world = World::new().await;
    let mut chat = world.at_work().await;
    chat.say("/evaporator").await;
    let begin = chat.find("Begin a job here").unwrap().1;
    let token = fanwright::channel::telegram::token::Token::decode(&begin);
    let Some(fanwright::channel::telegram::token::Token::Begin(id, _)) = token else {
        panic!("{token:?}");
    };
    let opened = chat.say(&format!("/start e-{}", id.0.simple())).await;
    assert!(
        opened[0].text.starts_with("Corner Market · EV-3"),
        "{opened:?}"
    );
    let unknown = format!("/start e-{}", uuid::Uuid::from_u128(7).simple());
    let code = world.desk.invite_new_crew().await.unwrap().code;
    let mut theirs = world.chat(3003, "Olga");
    theirs.say(&format!("/start {}", code.reveal())).await;
    let of_ours = theirs.say(&format!("/start e-{}", id.0.simple())).await;
    let of_nobody = theirs.say(&unknown).await;
    assert_eq!(of_ours[0].text, of_nobody[0].text);
    assert!(!of_ours[0].text.contains("Corner"), "{of_ours:?}");
    let mut stranger = world.chat(4004, "Nobody");
    let of_ours = stranger.say(&format!("/start e-{}", id.0.simple())).await;
    let of_nobody = stranger.say(&unknown).await;
    assert_eq!(of_ours[0].text, of_nobody[0].text);
    assert!(of_ours[0].text.contains("not in a crew yet"), "{of_ours:?}");
    world.end().await;
}
