//! Lists read page by page while everything moves on.

use std::collections::BTreeSet;

use proptest::prelude::*;
use serde_json::Value;

use super::{World, get};

/// Reads a whole list, doing something after each page.
async fn read(
    world: &World,
    token: &str,
    (path, what): (&str, &str),
    mut between: impl AsyncFnMut(),
) -> Vec<String> {
    let mut found = Vec::new();
    let mut next = path.to_owned();
    loop {
        let answer = world.ask(get(&next, token)).await;
        let page = answer.json();
        let items = page[what].as_array().unwrap_or_else(|| panic!("{page}"));
        found.extend(
            items
                .iter()
                .map(|item| item["id"].as_str().unwrap().to_owned()),
        );
        let link = answer.header("link").to_owned();
        let Some(cursor) = page["next"].as_str() else {
            assert_eq!(link, "");
            return found;
        };
        next = link
            .strip_prefix('<')
            .and_then(|rest| rest.strip_suffix(">; rel=\"next\""))
            .unwrap_or_else(|| panic!("{link}"))
            .to_owned();
        assert!(next.contains(cursor), "{next}");
        between().await;
    }
}

/// What happens between two pages.
#[derive(Clone, Copy, Debug)]
enum Move {
    Begin,
    GoOn(usize),
    Nothing,
}

fn moves() -> impl Strategy<Value = Vec<Move>> {
    let one = prop_oneof![
        Just(Move::Begin),
        (0usize..8).prop_map(Move::GoOn),
        Just(Move::Nothing)
    ];
    prop::collection::vec(one, 0..8)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(12))]

    #[test]
    fn no_job_comes_twice_or_is_lost_while_jobs_go_on(limit in 1usize..4, moves in moves()) {
        let runtime = tokio::runtime::Builder::new_current_thread()
            .enable_all()
            .build()
            .unwrap();
        runtime.block_on(async {
            let world = World::new().await;
            let token = world.token().await;
            let mut before = Vec::new();
            for _ in 0..8 {
                before.push(world.begins(&world.sam, "look-once").await);
            }
            let path = format!("/api/v1/jobs?limit={limit}");
            let mut moves = moves.into_iter();
            let read = read(&world, &token, (&path, "jobs"), async || {
                world.after(jiff::SignedDuration::from_secs(1));
                match moves.next().unwrap_or(Move::Nothing) {
                    Move::Begin => drop(world.begins(&world.sam, "look-once").await),
                    Move::GoOn(at) => {
                        let line = world.desk.job_line(&world.sam, before[at]).await.unwrap();
                        if line.phase.is_open() {
                            world.presses(&world.sam, before[at], "go").await;
                        }
                    }
                    Move::Nothing => {}
                }
            })
            .await;
            let once: BTreeSet<&String> = read.iter().collect();
            assert_eq!(once.len(), read.len(), "a job came twice");
            for job in &before {
                assert!(once.contains(&job.to_string()), "{job} was lost");
            }
        });
    }
}

#[tokio::test]
async fn jobs_are_filtered_and_a_cursor_belongs_to_its_filters() {
    let world = World::new().await;
    let token = world.token().await;
    let open = world.begins(&world.sam, "look-at-the-fan").await;
    let over = world.handed_in(&world.sam).await;
    let of = async |query: &str| {
        let path = format!("/api/v1/jobs?{query}");
        let answer = world.ask(get(&path, &token)).await.json();
        let jobs = answer["jobs"]
            .as_array()
            .unwrap_or_else(|| panic!("{answer}"));
        let ids = jobs
            .iter()
            .map(|job| job["id"].as_str().unwrap().to_owned());
        ids.collect::<Vec<_>>()
    };
    assert_eq!(of("").await, [open.to_string(), over.to_string()]);
    assert_eq!(of("phase=handed_in").await, [over.to_string()]);
    assert_eq!(of("flow=look-at-the-fan").await, [open.to_string()]);
    assert_eq!(of("since=2031-05-04T09:00:00Z").await, Vec::<String>::new());
    let line = world.desk.job_line(&world.sam, over).await.unwrap();
    assert_eq!(
        of(&format!("evaporator={}", line.evaporator.id)).await,
        [over.to_string()]
    );
    let sam = world.sam.person.0;
    assert_eq!(
        of(&format!("holder={sam}&phase=open")).await,
        [open.to_string()]
    );

    let first = world.ask(get("/api/v1/jobs?limit=1", &token)).await.json();
    let cursor = first["next"].as_str().unwrap();
    let other = format!("/api/v1/jobs?limit=1&phase=open&cursor={cursor}");
    assert_eq!(
        world.ask(get(&other, &token)).await.problem(),
        "not-understood"
    );
    let theirs = world
        .token_of(&world.olga, &fanwright::record::scope::Scope::ALL)
        .await;
    let same = format!("/api/v1/jobs?limit=1&cursor={cursor}");
    assert_eq!(
        world.ask(get(&same, &theirs)).await.problem(),
        "not-understood"
    );
    for wrong in [
        "phase=lost",
        "limit=0",
        "limit=201",
        "limit=x",
        "page=2",
        "cursor=zz",
    ] {
        let path = format!("/api/v1/jobs?{wrong}");
        assert_eq!(
            world.ask(get(&path, &token)).await.problem(),
            "not-understood",
            "{wrong}"
        );
    }
}

#[tokio::test]
async fn evaporators_are_listed_page_by_page() {
    let world = World::new().await;
    let token = world.token().await;
    for _ in 0..5 {
        world.begins(&world.sam, "look-once").await;
    }
    world.begins(&world.olga, "look-once").await;
    let path = ("/api/v1/evaporators?limit=2", "evaporators");
    let found = read(&world, &token, path, async || {}).await;
    assert_eq!(found.len(), 5);
    let path = format!("/api/v1/evaporators/{}", found[0]);
    let one = world.ask(get(&path, &token)).await.json();
    assert_eq!(one["site"], Value::from("Corner Market"));
}

#[tokio::test]
async fn a_folder_from_before_the_list_gets_it_at_the_start() {
    use std::sync::Arc;

    use fanwright::store::{Batch, IndexChange, Memory, Store, Table};
    let memory = Memory::new();
    let store: Arc<dyn Store> = Arc::new(memory.clone());
    let world = World::with_store(Arc::clone(&store)).await;
    let job = world.begins(&world.sam, "look-once").await;
    // As such a folder is: without the list and without the note that it is whole.
    let mut batch = Batch::new("2031-05-04T08:00:00Z".parse().unwrap());
    for table in ["crew_jobs", "caught_up"] {
        let table = Table::named(table);
        let rows = store
            .scan(table.clone(), Vec::new(), None, 10)
            .await
            .unwrap();
        assert!(!rows.items.is_empty());
        let gone = rows.items.into_iter();
        batch
            .index
            .extend(gone.map(|row| IndexChange::remove(table.clone(), row.key)));
    }
    store.append(batch).await.unwrap();
    let token = world.token().await;
    let empty = world.ask(get("/api/v1/jobs", &token)).await.json();
    assert_eq!(empty["jobs"], serde_json::json!([]));
    world.desk.start().await.unwrap();
    let whole = world.ask(get("/api/v1/jobs", &token)).await.json();
    assert_eq!(whole["jobs"][0]["id"], Value::from(job.to_string()));
}

#[tokio::test]
async fn a_search_finds_by_words_and_days_the_latest_first() {
    let world = World::new().await;
    let token = world.token().await;
    let tess = world
        .joins(&world.sam, 7, fanwright::flow::model::Role::Technician)
        .await;
    let mut of_sam = Vec::new();
    for _ in 0..5 {
        of_sam.push(world.begins(&world.sam, "look-once").await.to_string());
    }
    let of_tess = [world.begins(&tess, "look-at-the-fan").await.to_string()];
    of_sam.reverse();
    let found = async |query: &str| {
        let path = format!("/api/v1/jobs?{query}");
        read(&world, &token, (&path, "jobs"), async || {}).await
    };
    assert_eq!(found("q=look+once&limit=2").await, of_sam);
    assert_eq!(found("q=person").await, of_tess);
    assert_eq!(found("q=corner&flow=look-at-the-fan").await, of_tess);
    let holder = format!("q=market&limit=1&holder={}", tess.person.0);
    assert_eq!(found(&holder).await, of_tess);
    let person = format!("person={}", tess.person.0);
    assert_eq!(found(&person).await, of_tess);
    assert_eq!(found("from=2031-05-04&to=2031-05-04").await.len(), 6);
    assert_eq!(found("from=2031-05-05").await, [""; 0]);
    assert_eq!(found("site=Corner+Market&ended=Seen").await, [""; 0]);
    let (plain, searched) = ("/api/v1/jobs?limit=1", "/api/v1/jobs?limit=1&q=market");
    let next = |answer: super::Answer| answer.json()["next"].as_str().unwrap().to_owned();
    let cursor = next(world.ask(get(plain, &token)).await);
    let mixed = format!("{searched}&cursor={cursor}");
    let answer = world.ask(get(&mixed, &token)).await;
    assert_eq!(answer.problem(), "not-understood");
    let wrong = world.ask(get("/api/v1/jobs?from=monday", &token)).await;
    assert_eq!(wrong.problem(), "not-understood");
}
