//! Every operation of the document answers as the document says; to whom, says `matrix.rs`.

use std::collections::BTreeMap;

use fanwright::channel::api::document;
use fanwright::desk::Actor;
use fanwright::flow::model::Role;
use fanwright::record::around::WebhookEvent;
use fanwright::record::scope::Scope;
use fanwright::walk::input::Input;
use reqwest::{Method, StatusCode};
use serde_json::{Value, json};

use super::schema::differences;
use super::{Answer, Ask, World, get};

/// A number that nothing has.
pub(super) const NOTHING: &str = "01890000-0000-7000-8000-000000000000";

/// One operation of the document.
pub(super) struct Operation {
    pub(super) path: String,
    pub(super) method: Method,
    says: Value,
}

impl Operation {
    pub(super) fn all() -> Vec<Operation> {
        let paths = document()["paths"].as_object().unwrap();
        let operations = paths.iter().flat_map(|(path, methods)| {
            let methods = methods.as_object().unwrap().iter();
            methods.map(|(method, says)| Operation {
                path: path.clone(),
                method: method.to_uppercase().parse().unwrap(),
                says: says.clone(),
            })
        });
        operations.collect()
    }

    pub(super) fn name(&self) -> String {
        format!("{} {}", self.method, self.path)
    }

    /// The scopes that it needs.
    pub(super) fn needs(&self) -> Vec<Scope> {
        let words = ["x-scope", "x-also"].map(|word| self.says[word].as_str().unwrap_or_default());
        let scope = |word: &&str| Scope::ALL.into_iter().find(|scope| scope.word() == *word);
        words.iter().filter_map(scope).collect()
    }

    /// A request to it about these things, with everything that it needs.
    pub(super) async fn ask(
        &self,
        world: &World,
        token: &str,
        (path, body): (&str, Option<Value>),
    ) -> Answer {
        let key = world.key().0;
        let mut ask = Ask {
            body,
            ..get(path, token)
        }
        .by(self.method.clone());
        if self.method == Method::POST || self.method == Method::PUT {
            ask = ask.with("idempotency-key", &key);
        }
        if self.method == Method::PUT {
            ask = ask.with("if-match", "*");
        }
        let answer = world.ask(ask).await;
        self.holds(&answer);
        answer
    }

    /// The answer is one that the document describes.
    fn holds(&self, answer: &Answer) {
        let (name, status) = (self.name(), answer.status.as_str());
        let described = &self.says["responses"][status];
        assert!(
            described.is_object(),
            "{name} answers {status}: {}",
            answer.text
        );
        let described = match described["$ref"].as_str() {
            Some(named) => document().pointer(&named[1..]).unwrap(),
            None => described,
        };
        let Some(content) = described.get("content") else {
            assert!(answer.text.is_empty(), "{name} {status}: {}", answer.text);
            return;
        };
        let (kind, content) = content.as_object().unwrap().iter().next().unwrap();
        assert_eq!(answer.header("content-type"), kind, "{name} {status}");
        if kind.ends_with("json") {
            let found = differences(document(), &content["schema"], &answer.json());
            assert!(
                found.is_empty(),
                "{name} {status}: {found:#?}\n{}",
                answer.text
            );
        }
    }
}

/// Things of one crew, by the names that stand in braces.
pub(super) struct Things {
    job: String,
    photo: String,
    pub(super) evaporator: String,
    webhook: String,
    call: String,
    pub(super) flow: String,
    /// Somebody of the crew.
    pub(super) person: String,
    /// What the crew published last.
    base: Option<String>,
}

impl Things {
    pub(super) fn of_nobody() -> Things {
        Things {
            job: NOTHING.to_owned(),
            photo: "00".repeat(32),
            evaporator: NOTHING.to_owned(),
            webhook: NOTHING.to_owned(),
            call: "nothing_1".to_owned(),
            flow: "no-such-flow".to_owned(),
            person: NOTHING.to_owned(),
            base: None,
        }
    }

    pub(super) fn fill(&self, path: &str) -> String {
        path.replace("{job}", &self.job)
            .replace("{photo}", &self.photo)
            .replace("{evaporator}", &self.evaporator)
            .replace("{webhook}", &self.webhook)
            .replace("{call}", &self.call)
            .replace("{flow}", &self.flow)
    }
}

/// A crew with one of everything; the call to its address was given up.
pub(super) async fn things(world: &World, actor: &Actor, flow: &str) -> Things {
    let files = BTreeMap::from([(
        format!("{flow}.yaml"),
        super::QUICK.replace("flow: look-once", &format!("flow: {flow}")),
    )]);
    let change = (&files, "One of our own.");
    let published = world.desk.publish_flows(world.key(), actor, None, change);
    published.await.unwrap();
    let (base, _) = world.desk.flow_files(actor).await.unwrap();
    let user = actor.chat.unwrap() + 10;
    let spare = world.joins(actor, user, Role::Technician).await;
    let job = world.begins(actor, "look-at-the-fan").await;
    world.presses(actor, job, "go").await;
    world.presses(actor, job, "stands").await;
    world.after(jiff::SignedDuration::from_mins(6));
    world.desk.end_waits().await.unwrap();
    world.presses(actor, job, "go").await;
    world
        .does(actor, job, Input::Text("208 V".to_owned()))
        .await;
    let mut png = std::io::Cursor::new(Vec::new());
    let picture = image::DynamicImage::new_rgb8(8, 8);
    picture.write_to(&mut png, image::ImageFormat::Png).unwrap();
    let photo = world.desk.take_photo(png.into_inner()).await.unwrap();
    let stored = photo.stored.clone();
    world.does(actor, job, Input::Photo(photo)).await;
    let line = world.desk.job_line(actor, job).await.unwrap();
    let events = WebhookEvent::ALL.into_iter().collect();
    // Nobody listens there.
    let webhook = world
        .desk
        .set_webhook(world.key(), actor, "http://127.0.0.1:9/", &events)
        .await
        .unwrap();
    world.handed_in(actor).await;
    let caller = world.caller();
    while let Some(next) = caller.look().await.unwrap() {
        let now = fanwright::desk::clock::Clock::now(&*world.clock);
        world.after(next.duration_since(now));
    }
    let given_up = world.desk.webhook(actor, webhook.webhook).await.unwrap();
    Things {
        job: job.to_string(),
        photo: stored,
        evaporator: line.evaporator.id.to_string(),
        webhook: webhook.webhook.to_string(),
        call: given_up.given_up[0].call.clone(),
        flow: flow.to_owned(),
        person: spare.person.0.to_string(),
        base: base.map(|base| base.to_string()),
    }
}

/// A body that an operation takes, about these things.
pub(super) fn body(operation: &Operation, things: &Things) -> Option<Value> {
    operation.says.get("requestBody")?;
    Some(match operation.path.as_str() {
        "/api/v1/jobs" => json!({
            "evaporator": things.evaporator,
            "flow": "look-once",
            "person": things.person,
        }),
        "/api/v1/evaporators" => json!({ "site": "Corner Market", "tag": "EV-9" }),
        "/api/v1/kit" => json!({ "text": include_str!("../../flows/demo/kit.yaml") }),
        "/api/v1/speed-book" => {
            json!({ "text": include_str!("../../flows/demo/speed-book.yaml") })
        }
        "/api/v1/flows" => json!({
            "base": things.base,
            "files": { "look-once.yaml": super::QUICK.replace("That is all.", "Thank you.") },
            "note": "Kinder.",
        }),
        "/api/v1/webhooks" => json!({ "url": "http://127.0.0.1:9/b", "events": ["accepted"] }),
        other => panic!("no body for {other}"),
    })
}

#[tokio::test]
async fn every_operation_answers_as_it_is_described() {
    let world = World::new().await;
    let ours = things(&world, &world.sam, "look-twice").await;
    let all = world.token().await;
    let mut operations = Operation::all();
    // What takes away comes last.
    operations.sort_by_key(|one| (one.method == Method::DELETE, one.method != Method::GET));
    for operation in &operations {
        let name = operation.name();
        let path = ours.fill(&operation.path);
        let body = body(operation, &ours);
        let answer = operation.ask(&world, &all, (&path, body)).await;
        assert!(
            answer.status.is_success(),
            "{name}: {} {}",
            answer.status,
            answer.text
        );
        if operation.method == Method::GET {
            known(&world, (&path, &all), &answer).await;
        }
    }
}

/// What was read is not sent again to whoever shows its tag.
async fn known(world: &World, (path, token): (&str, &str), answer: &Answer) {
    let tag = answer.header("etag");
    assert!(tag.starts_with('"'), "{path} has no tag");
    let again = world.ask(get(path, token).with("if-none-match", tag)).await;
    if path.ends_with("/record") {
        // A record says when it was written out; the clock stands still, so it is known, too.
        assert_eq!(again.header("etag"), tag);
    }
    assert_eq!(again.status, StatusCode::NOT_MODIFIED, "{path}");
    assert!(again.text.is_empty());
}

#[tokio::test]
async fn the_document_is_served_and_every_type_of_problem_has_a_page() {
    let world = World::new().await;
    let answer = world.ask(get("/openapi.json", "")).await;
    assert_eq!(&answer.json(), document());
    assert_eq!(document()["openapi"], "3.1.0");
    let ids: std::collections::BTreeSet<String> = Operation::all()
        .iter()
        .map(|one| one.says["operationId"].to_string())
        .collect();
    assert_eq!(ids.len(), Operation::all().len(), "{ids:?}");
    let text = document().to_string();
    for scope in Scope::ALL {
        assert!(text.contains(scope.word()), "{scope:?} is not described");
    }
    let problem = world.ask(get("/api/v1/no/such/thing", "")).await;
    assert_eq!(problem.problem(), "not-found");
    let page = world.ask(get("/problems/not-found", "")).await;
    assert!(page.text.contains("<h1>Not there</h1>"), "{}", page.text);
    assert!(
        page.header("content-security-policy")
            .contains("default-src 'none'")
    );
    let none = world.ask(get("/problems/none", "")).await;
    assert_eq!(none.status, StatusCode::NOT_FOUND);
    let token = world.token().await;
    let wrong = world
        .ask(get("/api/v1/kit", &token).by(Method::PATCH))
        .await;
    assert_eq!(wrong.problem(), "method-not-allowed");
    let no_text = world.ask(get("/api/v1/jobs/%FF", &token)).await;
    assert_eq!(no_text.problem(), "not-found");
}

#[tokio::test]
async fn names_are_told_only_with_the_scope_for_them() {
    let world = World::new().await;
    world.begins(&world.sam, "look-once").await;
    let scopes = [Scope::ReadJobs, Scope::ReadPeople];
    let without = world.token_of(&world.sam, &scopes).await;
    let with = world.token().await;
    for path in ["/api/v1/jobs", "/api/v1/people"] {
        let answer = world.ask(get(path, &without)).await;
        assert!(!answer.text.contains("Supervisor 1"), "{path}");
        let answer = world.ask(get(path, &with)).await;
        assert!(answer.text.contains("Supervisor 1"), "{path}");
        assert!(!answer.text.contains("Supervisor 2"), "{path}");
    }
}
