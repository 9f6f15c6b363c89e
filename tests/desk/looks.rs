//! Every view of what names people is written down, whoever looks and through whatever.

use fanwright::desk::looks::LookLine;
use fanwright::desk::search::Wanted;
use fanwright::desk::tokens::{ApiToken, NewToken};
use fanwright::desk::{Actor, DeskError};
use fanwright::flow::model::Role;
use fanwright::record::around::{CrewWhat, Happening, LookedAt, PersonWhat};
use fanwright::record::entry::Channel;
use fanwright::record::scope::Scope;
use fanwright::record::stream::Seq;
use fanwright::report::pdf::Paper;
use fanwright::store::Store;
use jiff::SignedDuration;

use super::{World, chat};

/// What looks tell: who, through which channel and program, at what.
type Told = (Option<String>, Channel, Option<String>, LookedAt);

async fn looks(world: &World, supervisor: &Actor) -> Vec<LookLine> {
    let page = world.desk.who_looked(supervisor, None).await.unwrap();
    let own = |line: &LookLine| line.looked != LookedAt::Looks;
    page.items.into_iter().filter(own).collect()
}

fn told(line: &LookLine) -> Told {
    let who = line.who.as_ref().map(|who| who.name.clone());
    (who, line.channel, line.program.clone(), line.looked)
}

async fn of_another_crew(world: &World) -> Actor {
    let code = world.desk.invite_new_crew().await.unwrap().code;
    let joined = world.desk.join(world.key(), &code, "Olga", &chat(9)).await;
    joined.unwrap()
}

#[tokio::test]
async fn an_evaporators_page_and_the_list_of_all_jobs_name_people() {
    let world = World::new();
    let sam = world.supervisor().await;
    let screen = world.begin(&sam).await;
    let evaporator = screen.evaporator.id;
    world.desk.evaporator(&sam, evaporator, None).await.unwrap();
    world.after(SignedDuration::from_secs(1));
    let wanted = Wanted::default();
    world.desk.find_jobs(&sam, &wanted, None).await.unwrap();
    world.desk.search_choices(&sam).await.unwrap();
    let found = looks(&world, &sam).await;
    let at: Vec<LookedAt> = found.iter().map(|line| line.looked).collect();
    let of = LookedAt::Evaporator {
        evaporator: evaporator.0,
    };
    assert_eq!(at, [LookedAt::Jobs, of]);
    let line = found[1].evaporator.as_deref();
    assert_eq!(line, Some(screen.evaporator.line().as_str()));
}

#[tokio::test]
async fn the_same_thing_through_another_channel_is_another_look() {
    let world = World::new();
    let sam = world.supervisor().await;
    for channel in [Channel::Telegram, Channel::Browser, Channel::Browser] {
        let actor = Actor {
            channel,
            ..sam.clone()
        };
        world.desk.people(&actor).await.unwrap();
        world.after(SignedDuration::from_secs(1));
    }
    let found = looks(&world, &sam).await;
    let channels: Vec<Channel> = found.iter().map(|line| line.channel).collect();
    assert_eq!(channels, [Channel::Browser, Channel::Telegram]);
}

#[tokio::test]
async fn the_look_of_a_program_names_its_token_even_when_that_is_gone() {
    let world = World::new();
    let sam = world.supervisor().await;
    let mut tokens = Vec::new();
    for what_for in ["month-end report", "the wall"] {
        let new = NewToken {
            what_for: what_for.to_owned(),
            scopes: [Scope::ReadPeople].into(),
            days: 1,
        };
        let (token, line) = world.desk.make_token(world.key(), &sam, new).await.unwrap();
        tokens.push(line.token);
        let token: ApiToken = token.reveal().parse().unwrap();
        let caller = world.desk.who_calls(&token).await.unwrap().unwrap();
        let actor = caller.for_this(Scope::ReadPeople).unwrap();
        for _ in 0..2 {
            world.desk.people(actor).await.unwrap();
        }
        world.after(SignedDuration::from_secs(1));
    }
    for token in tokens {
        let revoked = world.desk.revoke_token(world.key(), &sam, token);
        revoked.await.unwrap();
    }
    let found: Vec<Told> = looks(&world, &sam).await.iter().map(told).collect();
    let look = |program: &str| {
        let who = Some("Sam Supervisor".to_owned());
        (
            who,
            Channel::Api,
            Some(program.to_owned()),
            LookedAt::People,
        )
    };
    assert_eq!(found, [look("the wall"), look("month-end report")]);
}

#[tokio::test]
async fn the_operators_look_at_a_record_is_told_to_the_crew_that_it_is_of() {
    let world = World::new();
    let sam = world.supervisor().await;
    let job = world.begin(&sam).await.job;
    let olga = of_another_crew(&world).await;
    let desk = &world.desk;
    desk.checklist_as_operator(job).await.unwrap();
    desk.record_file_as_operator(job, false).await.unwrap();
    desk.pdf_as_operator(job, Paper::A4, None).await.unwrap();
    let at = LookedAt::Record { job: job.0 };
    let found: Vec<Told> = looks(&world, &sam).await.iter().map(told).collect();
    assert_eq!(found, [(None, Channel::Server, None, at)]);
    assert_eq!(looks(&world, &olga).await, []);
    let stream = sam.crew.stream();
    let stored = world.memory.read(stream, Seq::FIRST, 100).await.unwrap();
    let last: Happening<CrewWhat> = serde_json::from_slice(&stored.last().unwrap().bytes).unwrap();
    assert_eq!((last.who, last.channel), (None, Channel::Server));
    assert_eq!(last.what, CrewWhat::OperatorLooked { at });
}

#[tokio::test]
async fn who_may_not_see_a_thing_leaves_no_look_at_it() {
    let world = World::new();
    let sam = world.supervisor().await;
    let evaporator = world.begin(&sam).await.evaporator.id;
    let olga = of_another_crew(&world).await;
    let theirs = world.desk.evaporator(&olga, evaporator, None).await;
    assert!(matches!(theirs, Err(DeskError::NotFound("evaporator"))));
    let wanted = Wanted {
        evaporator: Some(evaporator),
        ..Wanted::default()
    };
    assert!(world.desk.find_jobs(&olga, &wanted, None).await.is_err());
    let tess = world.joins(&sam, &chat(2), &[Role::Technician]).await;
    assert!(world.desk.who_looked(&tess, None).await.is_err());
    assert_eq!(looks(&world, &olga).await, []);
    assert_eq!(looks(&world, &sam).await, []);
}

#[test]
fn a_look_that_was_kept_before_is_still_read() {
    let old = br#"{"v":4,"at":"2031-05-04T08:00:00Z","who":"01890000-0000-7000-8000-000000000000",
        "channel":"browser","what":{"what":"looked","at":{"thing":"people"}}}"#;
    let old: Happening<PersonWhat> = serde_json::from_slice(old).unwrap();
    let at = LookedAt::People;
    assert_eq!((old.v, old.what), (4, PersonWhat::Looked { at }));
}
