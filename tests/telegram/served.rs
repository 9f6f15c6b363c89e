//! The program itself, with a bot in its environment.

use std::io::{BufRead, BufReader};
use std::process::{Child, Command, Stdio};

use crate::support::bot_api::{BotApi, TOKEN};
use crate::support::chat::Chat;

/// A running program; it is killed with this.
struct Program(Child);

impl Drop for Program {
    fn drop(&mut self) {
        // It may have ended by itself.
        drop(self.0.kill());
        drop(self.0.wait());
    }
}

/// Starts the program over this folder and reads the code of the first supervisor, if it says one.
fn serve(api: &BotApi, data: &std::path::Path) -> (Program, Option<String>) {
    let child = Command::new(env!("CARGO_BIN_EXE_fanwright"))
        .args(["serve", "--listen", "127.0.0.1:0", "--data"])
        .arg(data)
        .env("TELOXIDE_TOKEN", TOKEN)
        .env("TELOXIDE_API_URL", &api.url)
        .stdout(Stdio::piped())
        .spawn();
    let mut program = Program(child.unwrap());
    let told = BufReader::new(program.0.stdout.take().unwrap());
    let mut code = None;
    for line in told.lines().map_while(Result::ok) {
        if let Some((_, rest)) = line.split_once("/join/") {
            code = rest.split(' ').next().map(str::to_owned);
        }
        if line.contains("Telegram channel runs") {
            break;
        }
    }
    (program, code)
}

#[tokio::test]
async fn the_program_answers_in_the_chat_and_knows_it_after_being_killed() {
    let api = BotApi::start().await;
    let folder = tempfile::tempdir().unwrap();
    let (program, code) = serve(&api, folder.path());
    let mut chat = Chat::new(&api, 1001, "Sam");
    chat.say(&format!("/start {}", code.unwrap())).await;
    assert!(chat.last().text.contains("Welcome, Sam"));
    chat.say("/new").await;
    chat.reply("Corner Market, EV-3, meat cooler left").await;
    let step = chat.last();
    assert!(step.text.contains("· step 1"), "{step:?}");
    drop(program);
    let (program, code) = serve(&api, folder.path());
    assert_eq!(code, None);
    api.until("the step comes again", |api| {
        api.sent(1001)
            .last()
            .unwrap()
            .text
            .contains("Here you were")
    })
    .await;
    drop(program);
    assert_eq!(api.violations(), Vec::<String>::new());
}
