//! Replacing the kit, and publishing flows.

use reqwest::{Method, StatusCode};
use serde_json::{Value, json};

use super::{Ask, QUICK, World, get, post};

const KIT: &str = include_str!("../../flows/demo/kit.yaml");

fn put<'a>(path: &'a str, token: &'a str, key: &str, text: &str) -> Ask<'a> {
    post(path, token, key, json!({ "text": text })).by(Method::PUT)
}

#[tokio::test]
async fn a_kit_is_replaced_only_over_what_was_read() {
    let world = World::new().await;
    let token = world.token().await;
    let path = "/api/v1/kit";
    let read = world.ask(get(path, &token)).await;
    let tag = read.header("etag").to_owned();
    assert_eq!(read.json()["text"], Value::from(KIT));
    assert_eq!(
        tag,
        format!("\"{}\"", read.json()["revision"].as_str().unwrap())
    );
    let changed = format!("# Changed.\n{KIT}");
    let blind = world.ask(put(path, &token, "blind", &changed)).await;
    assert_eq!(blind.problem(), "needs-if-match");
    let done = world
        .ask(put(path, &token, "a", &changed).with("if-match", &tag))
        .await;
    assert_eq!(done.status, StatusCode::OK, "{}", done.text);
    assert_eq!(done.json()["text"], Value::from(changed.as_str()));
    assert_ne!(done.header("etag"), tag);

    let late = world
        .ask(put(path, &token, "b", KIT).with("if-match", &tag))
        .await;
    assert_eq!(late.problem(), "has-changed");
    let again = world
        .ask(put(path, &token, "a", &changed).with("if-match", &tag))
        .await;
    assert_eq!((again.status, again.text), (StatusCode::OK, done.text));
    let now = done.headers["etag"].to_str().unwrap();
    let wrong = world
        .ask(put(path, &token, "c", "kit: [").with("if-match", now))
        .await;
    assert_eq!(wrong.problem(), "not-understood");
    let any = world
        .ask(put(path, &token, "d", KIT).with("if-match", "*"))
        .await;
    assert_eq!(any.json()["text"], Value::from(KIT));
}

#[tokio::test]
async fn flows_with_errors_come_back_with_what_was_found() {
    let world = World::new().await;
    let token = world.token().await;
    let path = "/api/v1/flows";
    let body = |base: &Value, text: &str| json!({ "base": base, "files": { "look-once.yaml": text }, "note": "A test." });
    let none = Value::Null;
    let lost = QUICK.replace("then: over", "then: nowhere");
    let found = world.ask(post(path, &token, "a", body(&none, &lost))).await;
    assert_eq!(found.problem(), "findings");
    let finding = &found.json()["findings"][0];
    assert_eq!(finding["file"], "look-once.yaml");
    assert_eq!(finding["grade"], "error");
    assert!(finding["line"].as_u64().unwrap() >= 8, "{finding}");

    let kinder = QUICK.replace("That is all.", "Thank you.");
    let done = world
        .ask(post(path, &token, "b", body(&none, &kinder)))
        .await;
    assert_eq!(done.status, StatusCode::OK, "{}", done.text);
    let one = world
        .ask(get("/api/v1/flows/look-once", &token))
        .await
        .json();
    assert_eq!(one["text"], Value::from(kinder.as_str()));
    let late = world.ask(post(path, &token, "c", body(&none, QUICK))).await;
    assert_eq!(late.problem(), "has-changed");
    let base = done.json()["base"].clone();
    let back = world.ask(post(path, &token, "d", body(&base, QUICK))).await;
    assert_eq!(back.status, StatusCode::OK, "{}", back.text);
    let same = world
        .ask(post(path, &token, "e", body(&back.json()["base"], QUICK)))
        .await;
    assert_eq!(same.problem(), "not-understood");
    let who = world.desk.publications(&world.sam).await.unwrap();
    assert_eq!(who.len(), 2);
    assert_eq!(who[0].note, "A test.");
}
