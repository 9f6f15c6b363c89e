//! A request that comes twice has one effect and one answer.

use futures_util::future::join_all;
use jiff::SignedDuration;
use reqwest::{Method, StatusCode};
use serde_json::json;

use super::{World, get, post};

const PATH: &str = "/api/v1/evaporators";

async fn count(world: &World) -> usize {
    world.desk.evaporators(&world.sam, "").await.unwrap().len()
}

#[tokio::test]
async fn a_repeated_request_gets_the_same_answer_and_does_nothing() {
    let world = World::new().await;
    let token = world.token().await;
    let body = json!({ "site": "Corner Market" });
    let first = world.ask(post(PATH, &token, "one", body.clone())).await;
    assert_eq!(first.status, StatusCode::CREATED, "{}", first.text);
    for _ in 0..3 {
        world.after(SignedDuration::from_hours(8));
        let again = world.ask(post(PATH, &token, "\"one\"", body.clone())).await;
        assert_eq!((again.status, &again.text), (first.status, &first.text));
        assert_eq!(again.header("location"), first.header("location"));
        assert_eq!(again.header("content-type"), "application/json");
    }
    assert_eq!(count(&world).await, 1);
    let other = world.ask(post(PATH, &token, "two", body.clone())).await;
    assert_ne!(other.text, first.text);
    // Another token's names are its own.
    let theirs = world
        .token_of(
            &world.sam,
            &[fanwright::record::scope::Scope::AddEvaporators],
        )
        .await;
    world.ask(post(PATH, &theirs, "one", body)).await;
    assert_eq!(count(&world).await, 3);
}

#[tokio::test]
async fn a_name_that_asked_for_something_else_is_taken() {
    let world = World::new().await;
    let token = world.token().await;
    world
        .ask(post(PATH, &token, "one", json!({ "site": "Here" })))
        .await;
    let other = world
        .ask(post(PATH, &token, "one", json!({ "site": "There" })))
        .await;
    assert_eq!(other.problem(), "idempotency-key-taken");
    assert_eq!(other.status, StatusCode::UNPROCESSABLE_ENTITY);
    let elsewhere = post("/api/v1/webhooks", &token, "one", json!({ "site": "Here" }));
    assert_eq!(
        world.ask(elsewhere).await.problem(),
        "idempotency-key-taken"
    );
    let unnamed = get(PATH, &token).by(Method::POST);
    assert_eq!(world.ask(unnamed).await.problem(), "needs-idempotency-key");
    assert_eq!(count(&world).await, 1);
}

#[tokio::test]
async fn a_refusal_is_repeated_too() {
    let world = World::new().await;
    let token = world.token().await;
    let first = world
        .ask(post(PATH, &token, "one", json!({ "site": " " })))
        .await;
    assert_eq!(first.problem(), "not-understood");
    let again = world
        .ask(post(PATH, &token, "one", json!({ "site": " " })))
        .await;
    assert_eq!(again.text, first.text);
    assert_eq!(again.problem(), "not-understood");
    for (body, kind) in [
        (json!({}), "not-understood"),
        (json!({ "site": "a", "more": 1 }), "not-understood"),
        (json!({ "site": "x".repeat(81) }), "not-understood"),
    ] {
        let key = body.to_string().len().to_string();
        let answer = world.ask(post(PATH, &token, &key, body)).await;
        assert_eq!(answer.problem(), kind);
    }
    let text = get(PATH, &token)
        .by(Method::POST)
        .with("idempotency-key", "t");
    let answer = world.ask(text).await;
    assert_eq!(answer.problem(), "not-json");
    assert_eq!(answer.status, StatusCode::UNSUPPORTED_MEDIA_TYPE);
    assert_eq!(count(&world).await, 0);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn many_at_once_under_one_name_have_one_effect() {
    let world = World::new().await;
    let token = world.token().await;
    for round in 0..6 {
        let key = format!("round-{round}");
        let body = json!({ "site": format!("Shop {round}") });
        let asks = (0..8).map(|_| world.ask(post(PATH, &token, &key, body.clone())));
        let mut made = None;
        for answer in join_all(asks).await {
            if answer.status == StatusCode::CONFLICT {
                assert_eq!(answer.problem(), "under-way");
                assert_eq!(answer.header("retry-after"), "1");
                continue;
            }
            assert_eq!(answer.status, StatusCode::CREATED, "{}", answer.text);
            assert_eq!(*made.get_or_insert(answer.text.clone()), answer.text);
        }
        assert!(made.is_some(), "nobody was handled");
        assert_eq!(count(&world).await, round + 1);
        // The bucket of the token fills again.
        world.after(SignedDuration::from_secs(60));
    }
}

#[tokio::test]
async fn a_name_is_kept_for_a_week_and_then_let_go() {
    let world = World::new().await;
    let token = world.token().await;
    let body = json!({ "site": "Here" });
    let first = world.ask(post(PATH, &token, "one", body.clone())).await;
    world.after(SignedDuration::from_hours(7 * 24));
    let again = world.ask(post(PATH, &token, "one", body.clone())).await;
    assert_eq!(again.text, first.text);
    world.after(SignedDuration::from_hours(2));
    // Any other request lets it go.
    world.ask(post(PATH, &token, "two", body)).await;
    let new = world
        .ask(post(PATH, &token, "one", json!({ "site": "There" })))
        .await;
    assert_eq!(new.status, StatusCode::CREATED, "{}", new.text);
}
