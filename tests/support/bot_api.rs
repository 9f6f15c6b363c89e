//! A Bot API server of our own on this machine, with a memory and with faults on demand.

use std::collections::{BTreeMap, HashMap};
use std::sync::{Arc, Mutex, MutexGuard};
use std::time::Duration;

use axum::Router;
use axum::extract::{Request, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use serde_json::{Value, json};
use tokio::sync::watch;

use super::bot_api_limits::{plain_answer, violation};

use super::bot_request::{Fields, body_of, refused, taken};

pub(crate) use super::bot_message::bot_message;

/// The token that the server knows.
pub(crate) const TOKEN: &str = "77:test-token";

/// Nothing takes so long on the busiest machine; nothing waits so long unless it fails.
const IN_VAIN: Duration = Duration::from_secs(120);

/// A message that the bot sent.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Sent {
    /// Its number.
    pub(crate) id: i32,
    /// The topic of the group that it stands in.
    pub(crate) topic: Option<i64>,
    /// What it shows: the text, or the words under the picture.
    pub(crate) text: String,
    /// The HTML as sent.
    pub(crate) html: String,
    /// The buttons: label, and what they carry or where they lead.
    pub(crate) buttons: Vec<(String, String)>,
    /// The size of the picture's file, if it is one.
    pub(crate) picture: Option<usize>,
    /// The size of the file, if it came as one.
    pub(crate) file: Option<usize>,
    /// The first message of the album that it belongs to.
    pub(crate) album: Option<i32>,
    /// Whether a reply is asked for.
    pub(crate) wants_reply: bool,
}

/// What goes wrong with the next request of a method.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Fault {
    /// 429: wait so many seconds.
    Wait(u32),
    /// 400, in these words.
    Refused(&'static str),
    /// 400: the group has this number now.
    Moved(i64),
    /// 500.
    Broken,
    /// The connection breaks before anything is done.
    LostBefore,
    /// The connection breaks after it is done.
    LostAfter,
    /// The answer does not come before [`BotApi::let_go`].
    Held,
}

/// What a chat is waiting for to know that the bot is through.
#[derive(Default)]
struct Mark {
    /// The answer to the mark that is on its way.
    awaited: Option<&'static str>,
    /// How many came.
    passed: usize,
}

#[derive(Default)]
struct Memory {
    updates: BTreeMap<u32, Value>,
    again: Vec<Value>,
    next_update: u32,
    next_message: i32,
    confirmed: u32,
    fetched: u32,
    sent: HashMap<i64, Vec<Sent>>,
    marks: HashMap<i64, Mark>,
    answers: Vec<(String, Option<String>)>,
    faults: Vec<(String, Fault)>,
    lets_go: bool,
    violations: Vec<String>,
    calls: Vec<(String, Value)>,
    files: HashMap<String, Vec<u8>>,
}

impl Memory {
    /// Keeps an update for the bot, under its number.
    fn put(&mut self, update: Value) -> u32 {
        let id = u32::try_from(update["update_id"].as_u64().unwrap()).unwrap();
        self.updates.insert(id, update);
        id
    }
}

/// The server.
#[derive(Clone)]
pub(crate) struct BotApi {
    memory: Arc<Mutex<Memory>>,
    changed: watch::Sender<u64>,
    /// Where it listens.
    pub(crate) url: String,
}

impl BotApi {
    /// Begins to listen on a free port.
    pub(crate) async fn start() -> BotApi {
        let listener = tokio::net::TcpListener::bind("127.0.0.1:0").await.unwrap();
        let api = BotApi {
            memory: Arc::default(),
            changed: watch::Sender::new(0),
            url: format!("http://{}", listener.local_addr().unwrap()),
        };
        {
            let mut memory = api.lock();
            memory.next_update = 500;
            memory.next_message = 10;
        }
        let router = Router::new().fallback(answer).with_state(api.clone());
        tokio::spawn(async move { axum::serve(listener, router).await.unwrap() });
        api
    }

    fn lock(&self) -> MutexGuard<'_, Memory> {
        self.memory
            .lock()
            .unwrap_or_else(std::sync::PoisonError::into_inner)
    }

    fn touch(&self) {
        self.changed.send_modify(|count| *count += 1);
    }

    /// Makes something go wrong with the next request of this method.
    pub(crate) fn fail_next(&self, method: &str, fault: Fault) {
        self.lock()
            .faults
            .push((method.to_ascii_lowercase(), fault));
    }

    /// Somebody deletes a message.
    pub(crate) fn delete(&self, chat: i64, message: i32) {
        let mut memory = self.lock();
        memory
            .sent
            .entry(chat)
            .or_default()
            .retain(|sent| sent.id != message);
    }

    /// What is held back comes.
    pub(crate) fn let_go(&self) {
        self.lock().lets_go = true;
        self.touch();
    }

    /// Whether something is still to go wrong with this method, in small letters.
    pub(crate) fn has_fault(&self, method: &str) -> bool {
        let memory = self.lock();
        memory.faults.iter().any(|(of, _)| of == method)
    }

    /// Puts a file on the server and gives its name.
    pub(crate) fn file(&self, bytes: Vec<u8>) -> String {
        let mut memory = self.lock();
        let name = format!("file-{}", memory.files.len());
        memory.files.insert(name.clone(), bytes);
        name
    }

    /// A number for a message of a person.
    pub(crate) fn message_number(&self) -> i32 {
        let mut memory = self.lock();
        memory.next_message += 1;
        memory.next_message
    }

    /// An update with this content, not yet delivered.
    pub(crate) fn update(&self, kind: &str, content: Value) -> Value {
        let mut memory = self.lock();
        memory.next_update += 1;
        json!({ "update_id": memory.next_update, kind: content })
    }

    /// Lets the bot have an update.
    pub(crate) fn deliver(&self, update: &Value) -> u32 {
        let id = self.lock().put(update.clone());
        self.touch();
        id
    }

    /// Lets the bot have an update under the next number. Where several people act at the same
    /// time, one whose number was given before could come behind what is confirmed already.
    pub(crate) fn deliver_as_next(&self, mut update: Value) -> u32 {
        let mut memory = self.lock();
        memory.next_update += 1;
        update["update_id"] = memory.next_update.into();
        let id = memory.put(update);
        drop(memory);
        self.touch();
        id
    }

    /// Lets the bot have an update once more, confirmed or not.
    pub(crate) fn deliver_again(&self, update: &Value) {
        self.lock().again.push(update.clone());
        self.touch();
    }

    /// Everything that the bot sent to a chat.
    pub(crate) fn sent(&self, chat: i64) -> Vec<Sent> {
        self.lock().sent.get(&chat).cloned().unwrap_or_default()
    }

    /// How many messages the bot sent to a chat, and the last.
    pub(crate) fn newest(&self, chat: i64) -> (usize, Sent) {
        let memory = self.lock();
        let all = memory
            .sent
            .get(&chat)
            .map(Vec::as_slice)
            .unwrap_or_default();
        (all.len(), all.last().cloned().unwrap_or_default())
    }

    /// Keeps the next message with this text out of what was sent to the chat, as a mark; gives
    /// how many marks came before it.
    pub(crate) fn await_mark(&self, chat: i64, answer: &'static str) -> usize {
        let mut memory = self.lock();
        let mark = memory.marks.entry(chat).or_default();
        mark.awaited = Some(answer);
        mark.passed
    }

    /// Whether a mark came after so many.
    pub(crate) fn has_passed(&self, chat: i64, before: usize) -> bool {
        let memory = self.lock();
        memory
            .marks
            .get(&chat)
            .is_some_and(|mark| mark.passed > before)
    }

    /// The answers to pressed buttons: which press, and the sentence.
    pub(crate) fn answers(&self) -> Vec<(String, Option<String>)> {
        self.lock().answers.clone()
    }

    /// The requests that came, by method in small letters.
    pub(crate) fn calls(&self, method: &str) -> Vec<Value> {
        let memory = self.lock();
        let of_method = memory.calls.iter().filter(|(called, _)| called == method);
        of_method.map(|(_, body)| body.clone()).collect()
    }

    /// Waits until the bot said that it is through with this update.
    pub(crate) async fn until_confirmed(&self, update: &Value) {
        let id = u32::try_from(update["update_id"].as_u64().unwrap()).unwrap();
        let what = format!("the bot is through with {update}");
        self.until(&what, |api| api.is_confirmed(id)).await;
    }

    /// Whether the bot said that it is through with this update.
    pub(crate) fn is_confirmed(&self, update: u32) -> bool {
        self.lock().confirmed > update
    }

    /// Whether the bot was given this update, confirmed or not.
    pub(crate) fn is_fetched(&self, update: u32) -> bool {
        self.lock().fetched >= update
    }

    /// Requests that the platform would have refused.
    pub(crate) fn violations(&self) -> Vec<String> {
        self.lock().violations.clone()
    }

    /// Waits until this holds, and fails after [`IN_VAIN`].
    pub(crate) async fn until(&self, what: &str, holds: impl Fn(&BotApi) -> bool) {
        let mut changed = self.changed.subscribe();
        let wait = async {
            while !holds(self) {
                changed.changed().await.unwrap();
            }
        };
        if tokio::time::timeout(IN_VAIN, wait).await.is_err() {
            panic!("waited in vain until {what}; sent: {:#?}", self.lock().sent);
        }
    }

    /// Waits until the mark of a chat came, of which so many had passed before, and what is told
    /// of the update apart from the chat: that it need not be sent again, and the small answer to
    /// a press.
    pub(crate) async fn through(&self, update: &Value, (chat, passed): (i64, usize)) {
        let id = u32::try_from(update["update_id"].as_u64().unwrap()).unwrap();
        let press = update["callback_query"]["id"].as_str();
        self.until(&format!("the bot is through with {update}"), |api| {
            let is_answered = |press| api.answers().iter().any(|(id, _)| id == press);
            api.has_passed(chat, passed) && api.is_confirmed(id) && press.is_none_or(is_answered)
        })
        .await;
    }

    async fn updates(&self, body: &Value) -> Value {
        let offset = u32::try_from(body["offset"].as_u64().unwrap_or(0)).unwrap();
        let limit = usize::try_from(body["limit"].as_u64().unwrap_or(100)).unwrap();
        {
            let mut memory = self.lock();
            memory.confirmed = memory.confirmed.max(offset);
            memory.updates = memory.updates.split_off(&offset);
        }
        self.touch();
        let held = Duration::from_secs(body["timeout"].as_u64().unwrap_or(0));
        let mut changed = self.changed.subscribe();
        let found = async {
            loop {
                {
                    let mut memory = self.lock();
                    let mut found = std::mem::take(&mut memory.again);
                    found.extend(memory.updates.values().take(limit).cloned());
                    if !found.is_empty() {
                        let newest = memory.updates.keys().take(limit).max().copied();
                        memory.fetched = memory.fetched.max(newest.unwrap_or_default());
                        self.touch();
                        return found;
                    }
                }
                changed.changed().await.unwrap();
            }
        };
        json!(tokio::time::timeout(held, found).await.unwrap_or_default())
    }

    fn call(&self, method: &str, Fields { body, files }: &Fields) -> Result<Value, String> {
        let chat = body["chat_id"]
            .as_i64()
            .or_else(|| body["chat_id"].as_str()?.parse().ok())
            .unwrap_or_default();
        match method {
            "sendmessage" | "sendphoto" | "senddocument" => {
                Ok(self.send(method, chat, body, files.values().next().copied()))
            }
            "sendmediagroup" => {
                let first = self.lock().next_message + 1;
                let media = body["media"].as_array().cloned().unwrap_or_default();
                let show = |mut photo: Value| {
                    let file = photo["media"].as_str().unwrap_or_default();
                    let file = file.strip_prefix("attach://").and_then(|it| files.get(it));
                    photo["album"] = json!(first);
                    photo["message_thread_id"] = body["message_thread_id"].clone();
                    self.send("sendphoto", chat, &photo, file.copied())
                };
                Ok(media.into_iter().map(show).collect())
            }
            "editmessagereplymarkup" | "editmessagetext" => self.edit(chat, body),
            "answercallbackquery" => {
                let text = body["text"].as_str().map(str::to_owned);
                let id = body["callback_query_id"].as_str().unwrap().to_owned();
                self.lock().answers.push((id, text));
                Ok(json!(true))
            }
            "getfile" => {
                let name = body["file_id"].as_str().unwrap();
                let memory = self.lock();
                let bytes = memory.files.get(name);
                let bytes = bytes.ok_or("Bad Request: invalid file_id")?;
                Ok(json!({
                    "file_id": name, "file_unique_id": name, "file_size": bytes.len(),
                    "file_path": format!("photos/{name}.jpg"),
                }))
            }
            "createforumtopic" => {
                let thread = self.message_number();
                Ok(json!({
                    "message_thread_id": thread, "name": body["name"], "icon_color": 7_322_096,
                }))
            }
            other => plain_answer(other).ok_or_else(|| format!("Not Found: {other}")),
        }
    }

    fn send(&self, method: &str, chat: i64, body: &Value, file: Option<usize>) -> Value {
        let mut memory = self.lock();
        memory.next_message += 1;
        let id = memory.next_message;
        let words = match method {
            "sendmessage" => "text",
            _ => "caption",
        };
        let topic = &body["message_thread_id"];
        let sent = Sent {
            topic: topic.as_i64().or_else(|| topic.as_str()?.parse().ok()),
            picture: (method == "sendphoto").then(|| file.unwrap_or_default()),
            file: (method == "senddocument").then(|| file.unwrap_or_default()),
            album: body["album"].as_i64().and_then(|it| it.try_into().ok()),
            wants_reply: body["reply_markup"]["force_reply"] == true,
            ..Sent::of(id, words, body)
        };
        let shown = bot_message(chat, &sent);
        let mark = memory.marks.entry(chat).or_default();
        if mark.awaited == Some(sent.text.as_str()) {
            mark.awaited = None;
            mark.passed += 1;
        } else {
            memory.sent.entry(chat).or_default().push(sent);
        }
        shown
    }

    fn edit(&self, chat: i64, body: &Value) -> Result<Value, String> {
        let mut memory = self.lock();
        let id = body["message_id"].as_i64().unwrap_or_default();
        let all = memory.sent.entry(chat).or_default();
        let message = all.iter_mut().find(|sent| i64::from(sent.id) == id);
        let message = message.ok_or("Bad Request: message to edit not found")?;
        message.edited(body)?;
        Ok(bot_message(chat, message))
    }

    fn fault(&self, method: &str) -> Option<Fault> {
        let mut memory = self.lock();
        let at = memory.faults.iter().position(|(of, _)| of == method)?;
        Some(memory.faults.remove(at).1)
    }
}

async fn answer(State(api): State<BotApi>, request: Request) -> Response {
    let path = request.uri().path().to_owned();
    if let Some(path) = path.strip_prefix(&format!("/file/bot{TOKEN}/")) {
        let path = path.replace("%2F", "/").replace("%2f", "/");
        let name = path.trim_start_matches("photos/").trim_end_matches(".jpg");
        return match api.lock().files.get(name) {
            Some(bytes) => bytes.clone().into_response(),
            None => StatusCode::NOT_FOUND.into_response(),
        };
    }
    let Some(method) = path.strip_prefix(&format!("/bot{TOKEN}/")) else {
        return refused(404, "Not Found", json!({}));
    };
    let method = method.to_ascii_lowercase();
    let fields = body_of(request).await;
    if method == "getupdates" {
        return taken(api.updates(&fields.body).await);
    }
    let fault = api.fault(&method);
    match fault {
        Some(Fault::Wait(seconds)) => {
            let more = json!({ "retry_after": seconds });
            return refused(
                429,
                &format!("Too Many Requests: retry after {seconds}"),
                more,
            );
        }
        Some(Fault::Refused(why)) => return refused(400, why, json!({})),
        Some(Fault::Moved(to)) => {
            let why = "Bad Request: group chat was upgraded to a supergroup chat";
            return refused(400, why, json!({ "migrate_to_chat_id": to }));
        }
        Some(Fault::Broken) => return refused(500, "Internal Server Error", json!({})),
        Some(Fault::LostBefore) => std::panic::resume_unwind(Box::new("lost before")),
        Some(Fault::Held) => api.until("it is let go", |api| api.lock().lets_go).await,
        Some(Fault::LostAfter) | None => {}
    }
    if let Some(wrong) = violation(&method, &fields.body) {
        api.lock().violations.push(format!("{method}: {wrong}"));
        return refused(400, &format!("Bad Request: {wrong}"), json!({}));
    }
    api.lock().calls.push((method.clone(), fields.body.clone()));
    let done = api.call(&method, &fields);
    api.touch();
    if let Some(Fault::LostAfter) = fault {
        std::panic::resume_unwind(Box::new("lost after"));
    }
    match done {
        Ok(result) => taken(result),
        Err(why) => refused(400, &why, json!({})),
    }
}
