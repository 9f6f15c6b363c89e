//! The program itself, with a bot in its environment.

use crate::support::bot_api::BotApi;
use crate::support::chat::Chat;
use crate::support::program::Program;

#[tokio::test]
async fn the_program_answers_in_the_chat_and_knows_it_after_being_killed() {
    let api = BotApi::start().await;
    let folder = tempfile::tempdir().unwrap();
    let program = Program::serve(&api, folder.path(), &[]);
    let code = program.code.clone().unwrap();
    let mut chat = Chat::new(&api, 1001, "Sam");
    chat.say(&format!("/start {code}")).await;
    assert!(chat.last().text.contains("Welcome, Sam"));
    chat.say("/new").await;
    chat.press("Evaporator fan that moves no air").await;
    chat.reply("Corner Market, EV-3, meat cooler left").await;
    let step = chat.last();
    assert!(step.text.contains("· step 1"), "{step:?}");
    program.kill();
    let program = Program::serve(&api, folder.path(), &[]);
    assert_eq!(program.code, None);
    api.until("the step comes again", |api| {
        api.sent(1001)
            .last()
            .unwrap()
            .text
            .contains("Here you were")
    })
    .await;
    program.kill();
    assert_eq!(api.violations(), Vec::<String>::new());
}
