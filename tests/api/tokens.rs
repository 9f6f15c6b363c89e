//! Tokens: who makes them, how long they work, how much they may ask.

use std::collections::BTreeSet;
use std::sync::Arc;

use fanwright::desk::tokens::NewToken;
use fanwright::flow::model::Role;
use fanwright::record::scope::Scope;
use fanwright::store::Memory;
use jiff::SignedDuration;
use reqwest::StatusCode;

use super::{World, get};

const PATH: &str = "/api/v1/people";

#[tokio::test]
async fn a_token_works_until_it_is_taken_back_or_its_time_is_over() {
    let world = World::new().await;
    let token = world.token().await;
    let other = world.token().await;
    assert_eq!(world.ask(get(PATH, &token)).await.status, StatusCode::OK);
    let line = &world.desk.tokens(&world.sam).await.unwrap()[0];
    assert!(line.used.is_some() && line.works);
    let key = world.key();
    world
        .desk
        .revoke_token(key, &world.sam, line.token)
        .await
        .unwrap();
    let refused = world.ask(get(PATH, &token)).await;
    assert_eq!(refused.problem(), "no-token");
    assert_eq!(refused.header("www-authenticate"), "Bearer");
    world.after(SignedDuration::from_hours(24 * 30 - 1));
    assert_eq!(world.ask(get(PATH, &other)).await.status, StatusCode::OK);
    world.after(SignedDuration::from_hours(1));
    assert_eq!(world.ask(get(PATH, &other)).await.problem(), "no-token");
    assert!(!world.desk.tokens(&world.sam).await.unwrap()[0].works);
}

#[tokio::test]
async fn only_the_hash_of_a_token_is_kept() {
    let memory = Arc::new(Memory::new());
    let world = World::with_store(memory.clone()).await;
    let token = world.token().await;
    assert_eq!(world.ask(get(PATH, &token)).await.status, StatusCode::OK);
    let kept = format!("{memory:?}");
    let digits = token.strip_prefix("fanwright_").unwrap();
    let pairs = (0..digits.len()).step_by(2);
    let secret = pairs.map(|at| u8::from_str_radix(&digits[at..at + 2], 16).unwrap());
    assert!(!kept.contains(digits));
    for bytes in [digits.as_bytes(), &secret.collect::<Vec<u8>>()] {
        let bytes = format!("{bytes:?}");
        assert!(!kept.contains(bytes.trim_matches(['[', ']'])));
    }
}

#[tokio::test]
async fn a_token_ends_with_the_supervisor_who_made_it() {
    let world = World::new().await;
    let second = world.joins(&world.sam, 7, Role::Supervisor).await;
    let token = world.token_of(&second, &[Scope::ReadPeople]).await;
    assert_eq!(world.ask(get(PATH, &token)).await.status, StatusCode::OK);
    let roles = BTreeSet::from([Role::Technician]);
    let key = world.key();
    let changed = world.desk.set_roles(key, &world.sam, second.person, roles);
    changed.await.unwrap();
    assert_eq!(world.ask(get(PATH, &token)).await.problem(), "no-token");
}

#[tokio::test]
async fn only_a_supervisor_makes_tokens_and_none_is_of_another_crew() {
    let world = World::new().await;
    let tess = world.joins(&world.sam, 7, Role::Technician).await;
    let new = || NewToken {
        what_for: "a test".to_owned(),
        scopes: [Scope::ReadJobs].into(),
        days: 1,
    };
    assert!(
        world
            .desk
            .make_token(world.key(), &tess, new())
            .await
            .is_err()
    );
    assert!(world.desk.tokens(&tess).await.is_err());
    let key = world.key();
    let (_, line) = world
        .desk
        .make_token(key.clone(), &world.sam, new())
        .await
        .unwrap();
    let twice = world.desk.make_token(key, &world.sam, new()).await;
    assert!(twice.unwrap_err().to_string().contains("shown only once"));
    assert_eq!(world.desk.tokens(&world.sam).await.unwrap().len(), 1);
    let theirs = world
        .desk
        .revoke_token(world.key(), &world.olga, line.token)
        .await;
    let nobodys = world
        .desk
        .revoke_token(world.key(), &world.olga, uuid::Uuid::nil())
        .await;
    assert_eq!(
        theirs.unwrap_err().to_string(),
        nobodys.unwrap_err().to_string()
    );
    for wrong in ["", "fanwright_00", &"0".repeat(64)] {
        assert_eq!(
            world.ask(get(PATH, wrong)).await.problem(),
            "no-token",
            "{wrong}"
        );
    }
}

#[tokio::test]
async fn whoever_asks_too_much_is_told_how_long_to_wait() {
    let world = World::new().await;
    let token = world.token().await;
    let mut passed = 0;
    let refused = loop {
        let answer = world.ask(get(PATH, &token)).await;
        if answer.status != StatusCode::OK {
            break answer;
        }
        passed += 1;
    };
    assert_eq!(passed, 100);
    assert_eq!(refused.problem(), "too-many-requests");
    let seconds: i64 = refused.header("retry-after").parse().unwrap();
    world.after(SignedDuration::from_secs(seconds));
    assert_eq!(world.ask(get(PATH, &token)).await.status, StatusCode::OK);
}

#[tokio::test]
async fn a_place_that_shows_no_token_on_and_on_waits_and_its_neighbours_go_on() {
    let world = World::new().await;
    let token = world.token().await;
    // A proxy on this machine says where they are (RFC 5737, TEST-NET-3).
    let ask = |token| get(PATH, token).with("x-forwarded-for", "203.0.113.7");
    let mut refused = 0;
    let waits = loop {
        let answer = world.ask(ask("")).await;
        if answer.status != StatusCode::UNAUTHORIZED {
            break answer;
        }
        refused += 1;
    };
    assert_eq!(refused, 120);
    assert_eq!(waits.problem(), "too-many-requests");
    assert_eq!(world.ask(ask(&token)).await.status, StatusCode::OK);
}

#[tokio::test]
async fn what_a_program_did_is_entered_under_its_token() {
    use fanwright::record::around::{CrewWhat, Happening};
    use fanwright::record::entry::Channel;
    use fanwright::record::stream::Seq;
    use fanwright::store::{Memory, Store};
    let memory = Memory::new();
    let world = World::with_store(std::sync::Arc::new(memory.clone())).await;
    let token = world.token().await;
    let body = serde_json::json!({ "site": "Corner Market" });
    let answer = world
        .ask(super::post("/api/v1/evaporators", &token, "a", body))
        .await;
    assert_eq!(answer.status, StatusCode::CREATED);
    let stream = world.sam.crew.stream();
    let stored = memory.read(stream, Seq::FIRST, 100).await.unwrap();
    let last: Happening<CrewWhat> = serde_json::from_slice(&stored.last().unwrap().bytes).unwrap();
    assert!(matches!(last.what, CrewWhat::EvaporatorAdded { .. }));
    assert_eq!(
        (last.channel, last.who),
        (Channel::Api, Some(world.sam.person))
    );
    let line = &world.desk.tokens(&world.sam).await.unwrap()[0];
    assert_eq!(last.token, Some(line.token));
    // As it was kept before there were tokens.
    let old = br#"{"v":3,"at":"2031-05-04T08:00:00Z","who":null,"channel":"server","what":{"what":"founded"}}"#;
    let old: Happening<CrewWhat> = serde_json::from_slice(old).unwrap();
    assert_eq!((old.token, old.what), (None, CrewWhat::Founded));
}
