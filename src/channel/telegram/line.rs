//! The line to the platform: the one way that requests take, over the network or not.
//!
//! The client library makes requests and reads answers. It does not send them: its own sending
//! keeps the answer back for ten seconds when the platform has a fault of its own, and a person
//! waits for their next question meanwhile.

use std::collections::HashMap;
use std::fmt;
use std::future::Future;
use std::io;
use std::pin::Pin;
use std::sync::{Arc, PoisonError, RwLock};

use reqwest::Url;
use reqwest::header::CONTENT_TYPE;
use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};
use serde_json::Value;
use teloxide::requests::{Output, Payload, Request};
use teloxide::types::ResponseParameters;
use teloxide::{ApiError, Bot, RequestError};

/// How a field begins that stands for a file which comes with the request.
const ATTACHED: &str = "attach://";

/// What carries requests out and answers them.
pub trait Platform: Send + Sync {
    /// Carries a request out and gives the text of the answer.
    ///
    /// # Errors
    /// When no answer came. Whether the request was carried out cannot be told then.
    fn answer(&self, asked: Asked) -> Answered<'_>;
}

/// The answer of a [`Platform`].
pub type Answered<'a> = Pin<Box<dyn Future<Output = io::Result<String>> + Send + 'a>>;

/// A request.
#[derive(Clone, Debug, PartialEq)]
pub struct Asked {
    /// The method of the Bot API.
    pub method: &'static str,
    /// Its fields.
    pub fields: Fields,
    /// The files that come with it, in the order in which its fields speak of them.
    pub files: Vec<Attached>,
}

/// The fields of a request, as JSON text: nearly every request goes out as just that.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Fields(String);

impl Fields {
    fn of(payload: &impl Serialize) -> serde_json::Result<Fields> {
        serde_json::to_string(payload).map(Fields)
    }

    /// The fields one by one.
    pub fn read(&self) -> Value {
        // It was written by `of`, so it can be read.
        serde_json::from_str(&self.0).unwrap_or_default()
    }
}

/// A file that comes with a request.
#[derive(Clone, PartialEq, Eq)]
pub struct Attached {
    /// What it is called.
    pub name: String,
    /// What it holds.
    pub bytes: Vec<u8>,
}

impl fmt::Debug for Attached {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} of {} bytes", self.name, self.bytes.len())
    }
}

/// The line. Clones share it.
#[derive(Clone)]
pub(super) struct Line {
    bot: Bot,
    platform: Arc<dyn Platform>,
}

impl Line {
    /// The line over the network.
    pub(super) fn over_network(bot: Bot) -> Line {
        let platform = Arc::new(Network::of(bot.clone()));
        Line { bot, platform }
    }

    /// A line to something that is no network.
    pub(super) fn to(bot: Bot, platform: Arc<dyn Platform>) -> Line {
        Line { bot, platform }
    }

    /// Whoever makes requests; they are sent with [`Line::send`].
    pub(super) fn bot(&self) -> &Bot {
        &self.bot
    }

    /// Sends a request and waits for its answer.
    pub(super) async fn send<R>(&self, request: R) -> Result<Output<R>, RequestError>
    where
        R: Request<Err = RequestError>,
        R::Payload: Serialize,
        Output<R>: DeserializeOwned,
    {
        self.send_with(request, Vec::new()).await
    }

    /// Sends a request with files, in the order in which its fields stand for them.
    pub(super) async fn send_with<R>(
        &self,
        request: R,
        files: Vec<Attached>,
    ) -> Result<Output<R>, RequestError>
    where
        R: Request<Err = RequestError>,
        R::Payload: Serialize,
        Output<R>: DeserializeOwned,
    {
        read(&self.text(request, files).await?)
    }

    /// Sends a request and reads no more of its answer than this: the library's types are whole,
    /// and reading a whole message takes longer than making the next one.
    pub(super) async fn send_for<T, R>(&self, request: R) -> Result<T, RequestError>
    where
        T: DeserializeOwned,
        R: Request<Err = RequestError>,
        R::Payload: Serialize,
    {
        read(&self.text(request, Vec::new()).await?)
    }

    /// Sends a request and gives the text of its answer, for [`read`].
    pub(super) async fn text<R>(
        &self,
        request: R,
        files: Vec<Attached>,
    ) -> Result<String, RequestError>
    where
        R: Request<Err = RequestError>,
        R::Payload: Serialize,
    {
        let fields = Fields::of(request.payload_ref());
        let asked = Asked {
            method: <R::Payload as Payload>::NAME,
            fields: fields.map_err(|error| Arc::new(io::Error::other(error)))?,
            files,
        };
        drop(request);
        Ok(self.platform.answer(asked).await.map_err(Arc::new)?)
    }
}

/// An answer of the platform (Bot API reference, “Making requests”).
#[derive(Deserialize)]
struct Answer<T> {
    ok: bool,
    result: Option<T>,
    description: Option<ApiError>,
    parameters: Option<ResponseParameters>,
}

/// Reads the text of an answer.
pub(super) fn read<'a, T: Deserialize<'a>>(text: &'a str) -> Result<T, RequestError> {
    let unreadable = |source: serde_json::Error| RequestError::InvalidJson {
        source: Arc::new(source),
        raw: text.into(),
    };
    let answer: Answer<T> = serde_json::from_str(text).map_err(unreadable)?;
    match answer {
        Answer {
            ok: true,
            result: Some(result),
            ..
        } => Ok(result),
        Answer {
            parameters: Some(ResponseParameters::RetryAfter(seconds)),
            ..
        } => Err(RequestError::RetryAfter(seconds)),
        Answer {
            parameters: Some(ResponseParameters::MigrateToChatId(chat)),
            ..
        } => Err(RequestError::MigrateToChatId(chat)),
        Answer {
            ok: false,
            description: Some(error),
            ..
        } => Err(RequestError::Api(error)),
        _ => {
            let nothing =
                serde::de::Error::custom("it says neither a result nor why there is none");
            Err(unreadable(nothing))
        }
    }
}

/// The platform over the network.
struct Network {
    bot: Bot,
    /// The address of each method that was called; making one takes as long as a small request.
    addresses: RwLock<HashMap<&'static str, Url>>,
}

impl Network {
    fn of(bot: Bot) -> Network {
        let addresses = RwLock::default();
        Network { bot, addresses }
    }

    fn address(&self, method: &'static str) -> Url {
        let known = self
            .addresses
            .read()
            .unwrap_or_else(PoisonError::into_inner);
        if let Some(address) = known.get(method) {
            return address.clone();
        }
        drop(known);
        let mut address = self.bot.api_url();
        let bot = format!("bot{}", self.bot.token());
        if let Ok(mut path) = address.path_segments_mut() {
            path.pop_if_empty().push(&bot).push(method);
        }
        let known = self.addresses.write();
        let mut known = known.unwrap_or_else(PoisonError::into_inner);
        known.entry(method).or_insert(address).clone()
    }
}

impl Platform for Network {
    fn answer(&self, asked: Asked) -> Answered<'_> {
        Box::pin(async move {
            let Asked {
                method,
                fields,
                files,
            } = asked;
            // The token is part of the address, which is in no error for that reason.
            let lost = |error: reqwest::Error| io::Error::other(error.without_url());
            let post = self.bot.client().post(self.address(method));
            let post = match files.is_empty() {
                true => post.header(CONTENT_TYPE, "application/json").body(fields.0),
                false => post.multipart(form(fields.read(), files)),
            };
            let answer = post.send().await.map_err(lost)?;
            let answer = answer.bytes().await.map_err(lost)?;
            String::from_utf8(answer.into()).map_err(io::Error::other)
        })
    }
}

/// A request as the parts of a form, each file under the name that a field gives it.
fn form(fields: Value, files: Vec<Attached>) -> reqwest::multipart::Form {
    let mut form = reqwest::multipart::Form::new();
    for (part, file) in parts(&fields).into_iter().zip(files) {
        let bytes = reqwest::multipart::Part::bytes(file.bytes).file_name(file.name);
        form = form.part(part, bytes);
    }
    let Value::Object(fields) = fields else {
        return form;
    };
    for (name, value) in fields {
        let text = match value {
            Value::Null => continue,
            Value::String(text) => text,
            other => other.to_string(),
        };
        form = form.text(name, text);
    }
    form
}

/// The names under which the fields of a request speak of its files, in their order.
fn parts(fields: &Value) -> Vec<String> {
    match fields {
        Value::String(text) => {
            let part = text.strip_prefix(ATTACHED);
            part.map(str::to_owned).into_iter().collect()
        }
        Value::Array(all) => all.iter().flat_map(parts).collect(),
        Value::Object(all) => all.values().flat_map(parts).collect(),
        Value::Null | Value::Bool(_) | Value::Number(_) => Vec::new(),
    }
}

#[cfg(test)]
mod tests {
    use std::time::Duration;

    use super::super::attempt::{Verdict, verdict};
    use super::*;

    #[test]
    fn an_answer_is_read_for_what_it_says() {
        let of = |text: &str| read::<bool>(text);
        assert!(of(r#"{"ok":true,"result":true}"#).unwrap());
        let wait = of(r#"{"ok":false,"description":"no","parameters":{"retry_after":7}}"#);
        assert!(matches!(&wait, Err(RequestError::RetryAfter(of)) if of.seconds() == 7));
        assert_eq!(verdict(wait), Verdict::Wait(Duration::from_secs(7)));
        let refused = of(r#"{"ok":false,"description":"Bad Request: no"}"#);
        assert!(matches!(verdict(refused), Verdict::Never(_)));
        let broken = of(r#"{"ok":false,"error_code":500,"description":"Internal Server Error"}"#);
        assert!(matches!(verdict(broken), Verdict::Again(_)));
        for text in ["<html>502 Bad Gateway</html>", "{}", r#"{"ok":false}"#] {
            assert!(matches!(verdict(of(text)), Verdict::Again(_)), "{text}");
        }
        // It was carried out, whatever else it says.
        let other = of(r#"{"ok":true,"result":{"message_id":"x"}}"#);
        assert_eq!(verdict(other), Verdict::Done(false));
    }

    #[test]
    fn files_are_named_in_the_order_in_which_the_fields_speak_of_them() {
        let album = serde_json::json!({
            "chat_id": 7,
            "media": [
                { "type": "photo", "media": "attach://b", "caption": "attached" },
                { "type": "photo", "media": "known" },
                { "type": "photo", "media": "attach://a" },
            ],
        });
        assert_eq!(parts(&album), ["b", "a"]);
        assert_eq!(parts(&serde_json::json!({ "photo": "attach://c" })), ["c"]);
    }

    #[test]
    fn a_method_has_one_address_and_the_token_is_in_it() {
        let bot = Bot::new("77:secret").set_api_url("http://127.0.0.1:9/at/".parse().unwrap());
        let network = Network::of(bot);
        for _ in 0..2 {
            let address = network.address("SendMessage");
            assert_eq!(address.path(), "/at/bot77:secret/SendMessage");
        }
        assert_eq!(network.address("GetMe").path(), "/at/bot77:secret/GetMe");
    }

    fn number(answer: &str) -> Result<i64, RequestError> {
        read(answer)
    }

    #[test]
    fn answers_are_read_as_the_library_reads_them() {
        assert_eq!(number(r#"{"ok":true,"result":7}"#).unwrap(), 7);
        let blocked = r#"{"ok":false,"error_code":403,
            "description":"Forbidden: bot was blocked by the user"}"#;
        let blocked = number(blocked).unwrap_err();
        assert!(matches!(blocked, RequestError::Api(ApiError::BotBlocked)));
        let wait = r#"{"ok":false,"description":"Too Many Requests",
            "parameters":{"retry_after":9}}"#;
        let wait = number(wait).unwrap_err();
        assert!(matches!(wait, RequestError::RetryAfter(told) if told.seconds() == 9));
        let moved = r#"{"ok":false,"description":"group chat was upgraded",
            "parameters":{"migrate_to_chat_id":-100}}"#;
        let moved = number(moved).unwrap_err();
        assert!(matches!(moved, RequestError::MigrateToChatId(chat) if chat.0 == -100));
        let broken = r#"{"ok":false,"error_code":500,"description":"Internal Server Error"}"#;
        let broken = number(broken).unwrap_err();
        assert!(matches!(broken, RequestError::Api(ApiError::Unknown(_))));
        let html = number("<html>Bad Gateway</html>").unwrap_err();
        assert!(matches!(html, RequestError::InvalidJson { .. }));
    }
}
