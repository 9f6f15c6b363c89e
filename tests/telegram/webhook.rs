//! Updates that the platform pushes.

use std::sync::Arc;

use axum::body::Body;
use axum::http::{Request, StatusCode};
use fanwright::channel::telegram::{Settings, Telegram};
use fanwright::desk::Rules;
use fanwright::store::Memory;
use serde_json::json;
use tokio_util::sync::CancellationToken;
use tower::ServiceExt;

use super::{desk_over, settings};
use crate::support::bot_api::{BotApi, Fault};
use crate::support::chat::Chat;

struct Pushed {
    api: BotApi,
    telegram: Arc<Telegram>,
    secret: String,
    shutdown: CancellationToken,
}

impl Pushed {
    async fn new() -> Pushed {
        let api = BotApi::start().await;
        let desk = desk_over(&Memory::new(), Rules::default());
        let settings = Settings {
            webhook_url: Some("https://host.example/hook".to_owned()),
            ..settings(&api)
        };
        let telegram = Arc::new(Telegram::new(desk, settings).unwrap());
        let shutdown = CancellationToken::new();
        let (running, until) = (Arc::clone(&telegram), shutdown.clone());
        tokio::spawn(async move { running.run(until).await.unwrap() });
        api.until("the webhook is set", |api| {
            !api.calls("setwebhook").is_empty()
        })
        .await;
        let set = api.calls("setwebhook").remove(0);
        assert_eq!(set["url"], "https://host.example/hook");
        assert_eq!(set["allowed_updates"].as_array().map(Vec::len), Some(5));
        let secret = set["secret_token"].as_str().unwrap().to_owned();
        Pushed {
            api,
            telegram,
            secret,
            shutdown,
        }
    }

    async fn push(&self, secret: Option<&str>, body: Vec<u8>) -> StatusCode {
        let mut request = Request::post("/hook").header("content-type", "application/json");
        if let Some(secret) = secret {
            request = request.header("X-Telegram-Bot-Api-Secret-Token", secret);
        }
        let router = self.telegram.webhook_router().unwrap();
        let answer = router.oneshot(request.body(Body::from(body)).unwrap());
        answer.await.unwrap().status()
    }
}

#[tokio::test]
async fn a_pushed_update_is_taken_once_and_only_with_the_secret() {
    let pushed = Pushed::new().await;
    let chat = Chat::new(&pushed.api, 5, "Toni");
    let message = chat.message(json!({ "text": "/help" }));
    let update = pushed.api.update("message", message).to_string();
    let update = update.into_bytes();
    for secret in [None, Some(""), Some("guess"), Some(&pushed.secret[1..])] {
        let status = pushed.push(secret, update.clone()).await;
        assert_eq!(status, StatusCode::UNAUTHORIZED);
    }
    let secret = Some(pushed.secret.as_str());
    for _ in 0..3 {
        assert_eq!(pushed.push(secret, update.clone()).await, StatusCode::OK);
    }
    pushed
        .api
        .until("it is answered", |api| api.sent(5).len() == 1)
        .await;
    let (mark, passed) = chat.mark(&serde_json::Value::Null);
    pushed.push(secret, mark.to_string().into_bytes()).await;
    pushed
        .api
        .until("the mark is answered", |api| api.has_passed(5, passed))
        .await;
    assert_eq!(pushed.api.sent(5).len(), 1, "once");
    pushed.shutdown.cancel();
}

#[tokio::test]
async fn nothing_of_a_push_is_read_before_its_secret() {
    let pushed = Pushed::new().await;
    // A body that never comes: whoever waits for it never answers.
    let endless = Body::from_stream(futures_util::stream::pending::<Result<Vec<u8>, String>>());
    let request = Request::post("/hook").header("X-Telegram-Bot-Api-Secret-Token", "guess");
    let router = pushed.telegram.webhook_router().unwrap();
    let answer = router.oneshot(request.body(endless).unwrap());
    assert_eq!(answer.await.unwrap().status(), StatusCode::UNAUTHORIZED);
    pushed.shutdown.cancel();
}

#[tokio::test]
async fn garbage_and_floods_are_refused_without_effect() {
    let pushed = Pushed::new().await;
    let secret = Some(pushed.secret.as_str());
    for garbage in ["", "{", "null", "[]", "{\"message\":{}}", "\u{0}"] {
        let status = pushed.push(secret, garbage.as_bytes().to_vec()).await;
        assert_eq!(status, StatusCode::BAD_REQUEST, "{garbage}");
    }
    let flood = vec![b' '; 2 * 1024 * 1024];
    let status = pushed.push(secret, flood).await;
    assert_eq!(status, StatusCode::PAYLOAD_TOO_LARGE);
    // A kind of update that is not known yet is no garbage.
    let new_kind = json!({ "update_id": 7, "something_new": { "a": 1 } }).to_string();
    assert_eq!(
        pushed.push(secret, new_kind.into_bytes()).await,
        StatusCode::OK
    );
    assert!(pushed.api.calls("sendmessage").is_empty());
    pushed.shutdown.cancel();
}

#[tokio::test]
async fn an_address_that_the_platform_never_pushes_to_is_told_and_not_tried_for_ever() {
    let api = BotApi::start().await;
    let desk = desk_over(&Memory::new(), Rules::default());
    let settings = Settings {
        webhook_url: Some("https://host.example:8080/hook".to_owned()),
        ..settings(&api)
    };
    let telegram = Telegram::new(desk, settings).unwrap();
    let why = "Bad Request: bad webhook: Webhook can be set up only on ports 80, 88, 443 or 8443";
    api.fail_next("setwebhook", Fault::Refused(why));
    let told = telegram.run(CancellationToken::new()).await.unwrap_err();
    assert!(told.to_string().contains("--webhook-url"), "{told}");
}
