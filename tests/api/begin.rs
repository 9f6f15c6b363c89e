//! Jobs that another program begins for people.

use fanwright::desk::Actor;
use fanwright::desk::id::JobId;
use fanwright::desk::notice::Outgoing;
use fanwright::desk::screen::Closing;
use fanwright::flow::model::Role;
use fanwright::record::entry::{Channel, Entry, What};
use fanwright::record::scope::Scope;
use fanwright::record::stream::Seq;
use fanwright::store::{Memory, Store};
use fanwright::walk::input::Input;
use reqwest::StatusCode;
use serde_json::{Value, json};

use super::{World, post};

const PATH: &str = "/api/v1/jobs";

async fn evaporator(world: &World) -> String {
    let job = world.begins(&world.sam, "look-once").await;
    let line = world.desk.job_line(&world.sam, job).await.unwrap();
    line.evaporator.id.to_string()
}

fn asked(evaporator: &str, person: &Actor) -> Value {
    json!({ "evaporator": evaporator, "flow": "look-once", "person": person.person.0 })
}

/// The sentences that wait to be sent, each with the chat that it goes to.
async fn told(world: &World) -> Vec<(i64, String)> {
    let waiting = world.desk.pending(None, 100).await.unwrap().items;
    let sentence = |out: Outgoing| (out.chat, out.notice.sentence);
    waiting.into_iter().map(sentence).collect()
}

#[tokio::test]
async fn a_job_is_begun_in_the_hands_of_a_person_who_is_told() {
    let memory = Memory::new();
    let world = World::with_store(std::sync::Arc::new(memory.clone())).await;
    let tess = world.joins(&world.sam, 7, Role::Technician).await;
    let evaporator = evaporator(&world).await;
    let scopes = [Scope::BeginJobs, Scope::ReadNames];
    let token = world.token_of(&world.sam, &scopes).await;
    let body = asked(&evaporator, &tess);
    let answer = world.ask(post(PATH, &token, "monday", body.clone())).await;
    assert_eq!(answer.status, StatusCode::CREATED, "{}", answer.text);
    assert_eq!(answer.json()["holder"]["name"], "Person 7");
    let id = answer.json()["id"].as_str().unwrap().to_owned();
    assert_eq!(answer.header("location"), format!("{PATH}/{id}"));
    let again = world.ask(post(PATH, &token, "monday", body)).await;
    assert_eq!((again.status, again.text), (answer.status, answer.text));
    let mine = world.desk.my_jobs(&tess).await.unwrap();
    assert_eq!(mine.len(), 1, "one effect");

    let job: JobId = id.parse().unwrap();
    assert_eq!(world.desk.job_at_hand(&tess).await.unwrap(), Some(job));
    let told = told(&world).await;
    let line = "Corner Market · EV-3 · meat cooler";
    let sentence = format!("Supervisor 1 began a job for you at {line}.");
    assert_eq!(told, [(7, sentence)]);

    let stored = memory.read(job.stream(), Seq::FIRST, 9).await.unwrap();
    let first: Entry = serde_json::from_slice(&stored[0].bytes).unwrap();
    assert_eq!(
        (first.who, first.channel),
        (Some(world.sam.person), Channel::Api)
    );
    let What::Begun { holder, .. } = first.what else {
        panic!("{:?}", first.what);
    };
    assert_eq!(holder, tess.person);

    // Whoever had it begun never held it, and may review it.
    world.presses(&tess, job, "go").await;
    world.does(&tess, job, Input::HandIn).await;
    let screen = world.desk.screen(&world.sam, job).await.unwrap();
    assert!(screen.closing.contains(&Closing::Accept));
}

#[tokio::test]
async fn a_person_at_a_job_stays_at_it() {
    let world = World::new().await;
    let tess = world.joins(&world.sam, 7, Role::Technician).await;
    let evaporator = evaporator(&world).await;
    let own = world.begins(&tess, "look-once").await;
    let token = world.token_of(&world.sam, &[Scope::BeginJobs]).await;
    let answer = world
        .ask(post(PATH, &token, "a", asked(&evaporator, &tess)))
        .await;
    assert_eq!(answer.status, StatusCode::CREATED);
    assert_eq!(answer.json()["holder"]["name"], Value::Null);
    assert_eq!(world.desk.job_at_hand(&tess).await.unwrap(), Some(own));
    assert_eq!(world.desk.my_jobs(&tess).await.unwrap().len(), 2);
}

#[tokio::test]
async fn no_job_is_begun_for_somebody_who_left_or_along_what_begins_none() {
    let world = World::new().await;
    let tess = world.joins(&world.sam, 7, Role::Technician).await;
    let evaporator = evaporator(&world).await;
    let token = world.token_of(&world.sam, &[Scope::BeginJobs]).await;
    let mut flowless = asked(&evaporator, &tess);
    flowless["flow"] = json!("no-such-flow");
    let answer = world.ask(post(PATH, &token, "a", flowless)).await;
    assert_eq!(answer.problem(), "not-found");
    let mut more = asked(&evaporator, &tess);
    more["priority"] = json!("high");
    let answer = world.ask(post(PATH, &token, "b", more)).await;
    assert_eq!(answer.problem(), "not-understood");
    let key = world.key();
    let left = world
        .desk
        .set_roles(key, &world.sam, tess.person, [].into())
        .await;
    left.unwrap();
    let answer = world
        .ask(post(PATH, &token, "c", asked(&evaporator, &tess)))
        .await;
    assert_eq!(answer.problem(), "not-found");
    assert_eq!(told(&world).await, []);
}
