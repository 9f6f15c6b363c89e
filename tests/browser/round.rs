//! The whole round of a review, in a real browser and in a chat: looked at, sent back, done again,
//! handed in, accepted, kept as a PDF and checked.

use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

use fantoccini::{Client, Locator};
use fanwright::channel::telegram::{BotToken, Settings, Telegram};
use tokio_util::sync::CancellationToken;

use super::demo::{NOW, demo};
use super::driver::{Driver, complaints};
use super::usable::{go_to, sees, sign_in};
use crate::desk::TestClock;
use crate::support::bot_api::{BotApi, TOKEN};
use crate::support::chat::{Chat, unbounded};
use crate::support::pages_server::PagesServer;

/// How long a report may take on a busy machine, made by a program that is not tuned.
const PATIENCE: Duration = Duration::from_secs(180);

const REMARK: &str = "Say which plug. Photograph the whole coil face.";

/// What is sent back: the words of each on the review page.
const SENT_BACK: [&str; 2] = [
    "What did you do?",
    "Photograph the whole coil face as you leave it.",
];

/// The bot of a server, on a Bot API server of our own.
struct Bot {
    api: BotApi,
    shutdown: CancellationToken,
    running: tokio::task::JoinHandle<()>,
}

impl Bot {
    async fn of(server: &PagesServer) -> Bot {
        let api = BotApi::start().await;
        let settings = Settings {
            token: BotToken(TOKEN.to_owned()),
            api_url: Some(api.url.clone()),
            webhook_url: None,
            send_rate: None,
            clock: Arc::new(TestClock(Mutex::new((
                NOW.parse().unwrap(),
                Duration::ZERO,
            )))),
        };
        let telegram = Telegram::new(server.desk.clone(), settings).unwrap();
        let telegram = telegram.with_bounds(unbounded());
        let shutdown = CancellationToken::new();
        let until = shutdown.clone();
        let running = tokio::spawn(async move { telegram.run(until).await.unwrap() });
        Bot {
            api,
            shutdown,
            running,
        }
    }

    /// The demo's technician, in a chat.
    async fn technician(&self, server: &PagesServer) -> Chat {
        let links = fanwright::demo::links(&server.desk).await.unwrap();
        let link = links.into_iter().find(|link| link.who == "technician");
        let code = link.unwrap().path.replace("/join/", "");
        let mut chat = Chat::new(&self.api, 1001, "Tilly");
        chat.say(&format!("/start {code}")).await;
        chat
    }

    /// Waits until a message with these words came to the chat.
    async fn tells(&self, chat: &Chat, words: &str) {
        let has = |api: &BotApi| api.sent(chat.user).iter().any(|it| it.text.contains(words));
        self.api.until(words, has).await;
    }

    async fn end(self) {
        self.shutdown.cancel();
        self.running.await.unwrap();
        assert_eq!(self.api.violations(), Vec::<String>::new());
    }
}

/// Presses the first thing that this path finds, once it is there.
async fn press(client: &Client, path: &str) {
    let there = client.wait().for_element(Locator::XPath(path)).await;
    let there = there.unwrap_or_else(|error| panic!("no {path}: {error}"));
    // What stands over the end of a low page would be in the way of the finger.
    let to = serde_json::to_value(&there).unwrap();
    let center = "arguments[0].scrollIntoView({ block: 'center' });";
    client.execute(center, vec![to]).await.unwrap();
    there.click().await.unwrap();
}

/// Sends the steps back that the reviewer wants to see again.
async fn send_back(client: &Client) {
    for asked in SENT_BACK {
        let item = format!("//li[p[@class='asked'][normalize-space(.)='{asked}']]");
        // Its part is folded, like every part with nothing to look at twice.
        let folded = format!("//details[not(@open)][.{item}]/summary");
        if client.find(Locator::XPath(&folded)).await.is_ok() {
            press(client, &folded).await;
        }
        press(client, &format!("{item}//label[@class='again']")).await;
    }
    let remark = client.find(Locator::Css("#remark")).await.unwrap();
    remark.send_keys(REMARK).await.unwrap();
    press(
        client,
        "//button[normalize-space(.)='Send the ticked steps back']",
    )
    .await;
    sees(client, &format!("Sent back: {REMARK}")).await;
}

/// The technician does just these steps again, as the chat asks for them, and hands in.
async fn do_again(bot: &Bot, chat: &mut Chat) {
    bot.tells(chat, REMARK).await;
    let asked = chat.press("Go on with the job").await;
    let asked = asked.last().unwrap();
    assert!(asked.text.contains(SENT_BACK[0]), "{asked:?}");
    assert!(asked.text.contains("step 1 of the 2"), "{asked:?}");
    let asked = chat
        .say("Put a new EC assembly on the four-pin plug.")
        .await;
    let asked = asked.last().unwrap();
    assert!(asked.text.contains(SENT_BACK[1]), "{asked:?}");
    let mut picture = std::io::Cursor::new(Vec::new());
    image::RgbImage::from_fn(320, 240, |x, y| image::Rgb([(x / 2) as u8, y as u8, 90]))
        .write_to(&mut picture, image::ImageFormat::Png)
        .unwrap();
    chat.photo(picture.into_inner()).await;
    chat.settled().await;
    chat.press("Hand the job in").await;
}

/// Presses a link that saves a file, and waits until the file is whole.
async fn save(client: &Client, label: &str, folder: &Path, ending: &str) -> PathBuf {
    press(client, &format!("//a[normalize-space(.)='{label}']")).await;
    let is_it = |path: &PathBuf| path.extension().is_some_and(|it| it == ending);
    let began = Instant::now();
    while began.elapsed() < PATIENCE {
        let files = std::fs::read_dir(folder).unwrap();
        let mut files = files.map(|file| file.unwrap().path());
        // A file that is still being written has another ending.
        if let Some(path) = files.find(is_it) {
            return path;
        }
        tokio::time::sleep(Duration::from_millis(50)).await;
    }
    let here = client.source().await.unwrap();
    panic!("“{label}” saves nothing: {here}");
}

#[tokio::test]
async fn a_job_is_sent_back_done_again_in_the_chat_accepted_kept_and_verified() {
    let server = demo().await;
    let bot = Bot::of(&server).await;
    let mut chat = bot.technician(&server).await;
    let (profile, saved) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    let driver = Driver::start().await;
    let client = driver.keeping(profile.path(), 360, saved.path()).await;

    sign_in(&client, &server, "supervisor").await;
    go_to(&client, "Pelican Pantry · South").await;
    sees(&client, "What was found").await;
    send_back(&client).await;

    do_again(&bot, &mut chat).await;

    // The page that is open shows it by itself.
    sees(&client, "Changed since it was handed in before").await;
    for told in ["Put a new EC assembly on the four-pin plug.", "before:"] {
        sees(&client, told).await;
    }
    assert_eq!(complaints(&client).await, Vec::<String>::new());
    go_to(&client, "Go to the decision").await;
    go_to(&client, "Accept this job").await;
    sees(&client, "Accepted by").await;
    bot.tells(&chat, "accepted the job").await;

    press(&client, "//a[normalize-space(.)='The checklist, to print']").await;
    if cfg!(feature = "pdf") {
        let label = "Save the report (PDF, A4 paper)";
        let pdf = save(&client, label, saved.path(), "pdf").await;
        assert!(std::fs::read(pdf).unwrap().starts_with(b"%PDF"));
    }
    let label = "Save the record as a file (JSON)";
    let record = save(&client, label, saved.path(), "json").await;
    let verify = format!("{}/verify", server.base);
    client.goto(&verify).await.unwrap();
    let field = client.find(Locator::Css("#file")).await.unwrap();
    field
        .send_keys(&record.display().to_string())
        .await
        .unwrap();
    press(&client, "//button[normalize-space(.)='Check the record']").await;
    sees(&client, "Intact, signer not confirmed").await;
    client.close().await.unwrap();
    bot.end().await;
}
