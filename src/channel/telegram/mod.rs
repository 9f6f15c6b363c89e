//! The Telegram channel: a bot in private chats and in groups of a crew.
//!
//! An update is turned once into one of the things that can be meant (`decode`), waits in the
//! queue of its chat (`intake`), is brought to the desk (`talk`, `press`, `start`, `begin`, `flow`,
//! `people`, `quiet`, `typed`, `photo`; in a group `group`, `room`) and is
//! finished when what it does is durable; only then is it confirmed to the platform (`poll`,
//! `webhook`). Everything that goes out takes its turn in one place (`sender`, by the order of
//! `queue` and the limits of `pace`).

mod action_code;
mod again;
pub mod again_press;
mod album;
mod asked;
mod attempt;
mod begin;
mod chat_mark;
pub mod decode;
mod evaporator;
mod fetch;
pub mod flood;
mod flow;
pub mod flow_mark;
mod group;
mod group_card;
pub mod group_decode;
mod group_files;
mod group_words;
mod inline;
mod intake;
mod labels;
mod line;
mod links;
mod location;
mod lock_off;
mod on_the_way;
mod outbox;
mod outgoing;
pub mod pace;
mod people;
mod photo;
mod pictures;
mod poll;
mod press;
mod questions;
mod queue;
mod quick;
mod quiet;
mod receipt;
mod report;
pub mod rich;
mod room;
mod room_status;
mod room_words;
mod screen;
mod sender;
pub mod shared_press;
mod shown_press;
mod sign_off;
mod start;
mod talk;
pub mod ticked_roles;
pub mod token;
mod topics;
mod trial;
mod typed;
mod webhook;
mod words;

use std::fmt;
use std::sync::{Arc, OnceLock};
use std::time::Duration;

use axum::Router;
use axum::http::Uri;
use teloxide::payloads::{SetMyCommandsSetters, SetWebhookSetters};
use teloxide::requests::Requester;
use teloxide::types::{BotCommand, BotCommandScope};
use teloxide::{ApiError, Bot, RequestError};
use tokio_util::sync::CancellationToken;
use tokio_util::task::TaskTracker;

use crate::desk::Desk;
use crate::desk::clock::Clock;
use crate::record::chain::Hash;
use flood::FloodBounds;
use intake::Intake;
use line::Line;
pub use line::{Answered, Asked, Attached, Fields, Platform};
use pace::Limits;
use receipt::Receipts;
use sender::Sender;
use talk::{Recent, Talk};

/// How long one request may take, beside the time for which an empty answer may be held back.
const REQUEST_MAX: Duration = Duration::from_secs(30);

/// After a failure at the start so long is waited.
const START_AGAIN_AFTER: Duration = Duration::from_secs(1);

/// How long the end waits for what is on its way.
const LAST_MOMENTS: Duration = Duration::from_secs(5);

/// Where pushed updates arrive if the address names no path.
const WEBHOOK_PATH: &str = "/telegram";

/// What the operator chose.
pub struct Settings {
    /// The bot's token.
    pub token: BotToken,
    /// Another Bot API server than the public one.
    pub api_url: Option<String>,
    /// Where the platform pushes updates to, instead of being asked for them.
    pub webhook_url: Option<String>,
    /// Messages a second in all, instead of the usual limits; 0 for no limit.
    pub send_rate: Option<f64>,
    /// Tells the time.
    pub clock: Arc<dyn Clock>,
}

/// The secret that makes the bot the bot.
#[derive(Clone, PartialEq, Eq)]
pub struct BotToken(pub String);

impl fmt::Debug for BotToken {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("BotToken(…)")
    }
}

/// Why the channel cannot run: one sentence for the operator.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{0}")]
pub struct CannotRun(pub String);

/// The channel.
pub struct Telegram {
    line: Line,
    talk: Arc<Talk>,
    intake: Intake,
    tasks: TaskTracker,
    webhook: Option<Webhook>,
}

struct Webhook {
    url: String,
    path: String,
    secret: String,
}

impl Telegram {
    /// The channel over this desk. Nothing is sent or fetched before [`Telegram::run`].
    ///
    /// # Errors
    /// When a setting cannot be used.
    pub fn new(desk: Desk, settings: Settings) -> Result<Telegram, CannotRun> {
        let line = Line::over_network(bot(&settings)?);
        Telegram::on(line, desk, settings)
    }

    /// The same, with something else in the place of the platform and no network.
    ///
    /// # Errors
    /// When a setting cannot be used.
    pub fn without_network(
        desk: Desk,
        settings: Settings,
        platform: Arc<dyn Platform>,
    ) -> Result<Telegram, CannotRun> {
        let line = Line::to(bot(&settings)?, platform);
        Telegram::on(line, desk, settings)
    }

    fn on(line: Line, desk: Desk, settings: Settings) -> Result<Telegram, CannotRun> {
        let BotToken(token) = &settings.token;
        let number = token.split(':').next().unwrap_or_default().to_owned();
        let webhook = settings
            .webhook_url
            .as_deref()
            .map(|url| webhook(url, token));
        let webhook = webhook.transpose()?;
        let limits = Limits::towards(settings.api_url.is_none(), settings.send_rate);
        let tasks = TaskTracker::new();
        let talk = Arc::new(Talk {
            desk,
            sender: Sender::new(line.clone(), limits, tasks.clone()),
            line: line.clone(),
            clock: settings.clock,
            number,
            username: OnceLock::new(),
            rooms: room_status::Wishes::default(),
            views: Recent::new(),
            asked: Recent::new(),
            questions: questions::Questions::default(),
            albums: Recent::new(),
            showing: album::Showing::default(),
            tasks: tasks.clone(),
            receipts: Receipts::default(),
        });
        let intake = Intake::new(Arc::clone(&talk), tasks.clone(), FloodBounds::default());
        Ok(Telegram {
            line,
            talk,
            intake,
            tasks,
            webhook,
        })
    }

    /// The same channel with other bounds on what one person may send.
    pub fn with_bounds(self, bounds: FloodBounds) -> Telegram {
        let intake = Intake::new(Arc::clone(&self.talk), self.tasks.clone(), bounds);
        Telegram { intake, ..self }
    }

    /// The route for pushed updates; `None` if updates are fetched.
    pub fn webhook_router(&self) -> Option<Router> {
        let webhook = self.webhook.as_ref()?;
        let intake = self.intake.clone();
        Some(webhook::router(
            &webhook.path,
            intake,
            webhook.secret.clone(),
        ))
    }

    /// Where pushed updates arrive; `None` if updates are fetched.
    pub fn webhook_path(&self) -> Option<&str> {
        self.webhook.as_ref().map(|webhook| webhook.path.as_str())
    }

    /// Runs the channel until the shutdown. Call [`Desk::start`] before.
    ///
    /// # Errors
    /// When the platform does not know the token, or pushes to no such address.
    pub async fn run(&self, shutdown: CancellationToken) -> Result<(), CannotRun> {
        tokio::select! {
            biased;
            () = shutdown.cancelled() => return Ok(()),
            began = self.begin() => began?,
        }
        let talk = Arc::clone(&self.talk);
        let outbox = outbox::run(talk, self.tasks.clone(), shutdown.clone());
        let outbox = tokio::spawn(outbox);
        let rooms = room_status::run(Arc::clone(&self.talk), shutdown.clone());
        let rooms = tokio::spawn(rooms);
        let topics = topics::run(Arc::clone(&self.talk), shutdown.clone());
        let topics = tokio::spawn(topics);
        if self.webhook.is_some() {
            shutdown.cancelled().await;
        } else {
            poll::poll(self.line.clone(), self.intake.clone(), shutdown.clone()).await;
        }
        outbox.abort();
        rooms.abort();
        topics.abort();
        self.end().await;
        Ok(())
    }

    /// Finishes what was taken in and sends what is on its way, for a moment.
    async fn end(&self) {
        self.tasks.close();
        let settled = tokio::time::timeout(LAST_MOMENTS, self.intake.settled()).await;
        if self.webhook.is_none() {
            let confirmed = poll::confirm(&self.line, &self.intake);
            drop(tokio::time::timeout(LAST_MOMENTS, confirmed).await);
        }
        let sent = tokio::time::timeout(LAST_MOMENTS, self.tasks.wait()).await;
        if settled.is_err() || sent.is_err() {
            tracing::warn!("some messages were still on their way; screens come again");
        }
    }

    /// Introduces itself to the platform, until it answers.
    async fn begin(&self) -> Result<(), CannotRun> {
        loop {
            let wait = match self.introduce().await {
                Ok(()) => return Ok(()),
                Err(RequestError::RetryAfter(seconds)) => seconds.duration(),
                Err(RequestError::Api(error)) if is_about_the_token(&error) => {
                    return Err(CannotRun(
                        "The Bot API server does not know this token. Set TELOXIDE_TOKEN to the \
                         token that belongs to the bot."
                            .to_owned(),
                    ));
                }
                Err(RequestError::Api(error)) if is_about_the_webhook(&error) => {
                    return Err(CannotRun(format!(
                        "The Bot API server refuses the address of --webhook-url: {error}. Give \
                         an https address that it can reach, on port 443, 80, 88 or 8443."
                    )));
                }
                Err(error) => {
                    tracing::warn!(%error, "the chats cannot begin yet; again soon");
                    START_AGAIN_AFTER
                }
            };
            tokio::time::sleep(wait).await;
        }
    }

    /// Says which commands there are: in private chats, in groups, and for those who run a group.
    ///
    /// One set serves every language, since the bot's own sentences are in one only.
    async fn set_commands(&self) -> Result<(), RequestError> {
        let line = &self.line;
        let set = |commands: Vec<BotCommand>, scope| {
            line.send(line.bot().set_my_commands(commands).scope(scope))
        };
        let private = commands(words::COMMANDS).to_vec();
        // Whoever finds no set for their kind of chat sees this one.
        set(private.clone(), BotCommandScope::Default).await?;
        set(private, BotCommandScope::AllPrivateChats).await?;
        let group = commands(group_words::COMMANDS).to_vec();
        set(group.clone(), BotCommandScope::AllGroupChats).await?;
        let binding = commands(group_words::ADMIN_COMMANDS);
        let all = group.into_iter().chain(binding).collect();
        set(all, BotCommandScope::AllChatAdministrators)
            .await
            .map(drop)
    }

    async fn introduce(&self) -> Result<(), RequestError> {
        let me = self.line.send(self.line.bot().get_me()).await?;
        if let Some(username) = me.user.username {
            // It was told before, if this is another try.
            let noted = self.talk.desk.note_bot_name(&username).await;
            if let Err(error) = noted {
                let error = error.for_the_log();
                tracing::error!(error, "the name of the bot could not be kept for labels");
            }
            drop(self.talk.username.set(username));
        }
        self.set_commands().await?;
        match &self.webhook {
            None => {
                let fetched = self.line.bot().delete_webhook();
                self.line.send(fetched).await.map(drop)
            }
            Some(webhook) => {
                let url = webhook.url.parse();
                let Ok(url) = url else {
                    // It was read once before, when the channel was made.
                    return Ok(());
                };
                let set = self
                    .line
                    .bot()
                    .set_webhook(url)
                    .secret_token(webhook.secret.clone())
                    .allowed_updates(poll::wanted());
                self.line.send(set).await.map(drop)
            }
        }
    }
}

/// The commands as the platform lists them.
fn commands<const COUNT: usize>(all: [(&str, &str); COUNT]) -> [BotCommand; COUNT] {
    all.map(|(word, says)| BotCommand::new(word, says))
}

/// Whether the server does not push to such an address, whoever asks and when.
fn is_about_the_webhook(error: &ApiError) -> bool {
    matches!(
        error,
        ApiError::WebhookRequireHttps | ApiError::BadWebhookPort
    )
}

fn is_about_the_token(error: &ApiError) -> bool {
    match error {
        ApiError::InvalidToken => true,
        // The public server says so of a token that it never gave.
        ApiError::Unknown(why) => why == "Not Found" || why == "Unauthorized",
        _ => false,
    }
}

fn bot(settings: &Settings) -> Result<Bot, CannotRun> {
    let BotToken(token) = &settings.token;
    let well_formed = token
        .split_once(':')
        .is_some_and(|(number, rest)| number.parse::<u64>().is_ok() && !rest.is_empty());
    if !well_formed {
        return Err(CannotRun(
            "The bot's token must look like 123456:letters. Check TELOXIDE_TOKEN.".to_owned(),
        ));
    }
    let client = teloxide::net::default_reqwest_settings()
        .timeout(poll::HELD_MAX + REQUEST_MAX)
        .build()
        .map_err(|error| CannotRun(format!("No connection can be made: {error}.")))?;
    let bot = Bot::with_client(token.clone(), client);
    let Some(url) = &settings.api_url else {
        return Ok(bot);
    };
    let is_web = url.starts_with("http://") || url.starts_with("https://");
    match url.parse() {
        Ok(url) if is_web => Ok(bot.set_api_url(url)),
        _ => Err(CannotRun(format!(
            "“{url}” is no address of a Bot API server. Give one like http://127.0.0.1:8081."
        ))),
    }
}

fn webhook(url: &str, token: &str) -> Result<Webhook, CannotRun> {
    let refused = || {
        CannotRun(format!(
            "“{url}” is no address for pushed updates. Give one like https://host.example/telegram."
        ))
    };
    let read: Uri = url.parse().map_err(|_| refused())?;
    if !matches!(read.scheme_str(), Some("https" | "http")) || read.query().is_some() {
        return Err(refused());
    }
    let named = read.path() != "/" && !read.path().contains(['{', '}']);
    let (path, url) = if named {
        (read.path().to_owned(), url.to_owned())
    } else {
        let bare = url.trim_end_matches('/');
        (WEBHOOK_PATH.to_owned(), format!("{bare}{WEBHOOK_PATH}"))
    };
    // The same after every restart, and of no use to find the token.
    let secret = Hash::of(format!("fanwright webhook {token}").as_bytes()).to_string();
    Ok(Webhook { url, path, secret })
}
