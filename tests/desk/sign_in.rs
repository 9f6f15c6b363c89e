//! Passwords, sessions, and who looked at what.

use fanwright::desk::looks::LookLine;
use fanwright::desk::{Actor, ChannelAddress, DeskError};
use fanwright::flow::model::Role;
use fanwright::record::around::{Happening, LookedAt, PersonWhat};
use fanwright::record::chain::Stored;
use fanwright::record::stream::{Seq, StreamId, StreamKind};
use fanwright::store::{Store, Table};
use jiff::SignedDuration;

use super::{World, chat};

const PASSWORD: &str = "coil drips on my boots";

impl World {
    fn browser(&self) -> ChannelAddress {
        let session = self.desk.new_session().unwrap();
        ChannelAddress::Browser { session }
    }

    /// A browser in which the person is signed in with a code.
    async fn signed_in(&self, actor: &Actor) -> ChannelAddress {
        let address = self.browser();
        let code = self.desk.sign_in_code(actor).await.unwrap().code;
        let joined = self.desk.join(self.key(), &code, "", &address);
        joined.await.unwrap();
        address
    }

    /// Sets the password and gives the login that was drawn.
    async fn with_password(&self, actor: &Actor, here: &ChannelAddress) -> String {
        let set = self.desk.set_password(self.key(), actor, here, PASSWORD);
        set.await.unwrap();
        let line = self.desk.password(actor).await.unwrap();
        line.unwrap().login
    }

    async fn tries(&self, login: &str, password: &str) -> Result<ChannelAddress, DeskError> {
        let address = self.browser();
        let typed = (login, password);
        let tried = self.desk.sign_in_with_password(self.key(), typed, &address);
        tried.await.map(|_| address)
    }

    async fn is_in(&self, address: &ChannelAddress) -> bool {
        self.desk.who_is(address).await.unwrap().is_some()
    }

    /// What stands in a person's stream.
    async fn of_person(&self, actor: &Actor) -> Vec<PersonWhat> {
        let stream = StreamId::new(StreamKind::Person, actor.person.0);
        let entries = self.memory.read(stream, Seq::FIRST, 1_000).await.unwrap();
        let what = |entry: &Stored| {
            let read: Happening<PersonWhat> = serde_json::from_slice(&entry.bytes).unwrap();
            read.what
        };
        entries.iter().map(what).collect()
    }
}

#[tokio::test]
async fn a_password_signs_in_and_a_wrong_one_tells_nothing() {
    let world = World::new();
    let sam = world.supervisor().await;
    let here = world.signed_in(&sam).await;
    let login = world.with_password(&sam, &here).await;
    let sloppy = format!(" {}-{} ", &login[..4].to_lowercase(), &login[4..]);
    let there = world.tries(&sloppy, PASSWORD).await.unwrap();
    assert_eq!(
        world.desk.who_is(&there).await.unwrap().unwrap().person,
        sam.person
    );
    let wrong = world
        .tries(&login, "coil drips on my boot")
        .await
        .unwrap_err();
    let unknown = world.tries("00000000", PASSWORD).await.unwrap_err();
    assert!(matches!(wrong, DeskError::BadPassword));
    assert_eq!(wrong.to_string(), unknown.to_string());
    let streams = world.of_person(&sam).await;
    assert!(streams.contains(&PersonWhat::PasswordSet));
    assert!(streams.contains(&PersonWhat::PasswordUsed));
    let written = serde_json::to_string(&streams).unwrap();
    assert!(
        !written.contains("argon2") && !written.contains(&login),
        "{written}"
    );
}

#[tokio::test]
async fn whoever_signed_in_long_ago_shows_their_password_again() {
    let world = World::new();
    let sam = world.supervisor().await;
    let here = world.signed_in(&sam).await;
    world.after(SignedDuration::from_hours(1));
    assert!(
        !world.desk.asks_again(&sam, &here).await.unwrap(),
        "there is none"
    );
    world.with_password(&sam, &here).await;
    let shows = async |here: &ChannelAddress, typed: &str| {
        world.desk.is_really(&sam, here, typed).await.is_ok()
    };
    assert!(!shows(&here, "").await);
    assert!(!shows(&here, "coil drips on my boot").await);
    assert!(shows(&here, PASSWORD).await);
    let fresh = world.signed_in(&sam).await;
    assert!(shows(&fresh, "").await, "a code was shown a moment ago");
    world.after(SignedDuration::from_mins(16));
    assert!(!shows(&fresh, "").await);
}

#[tokio::test]
async fn a_common_password_is_refused_in_words() {
    let world = World::new();
    let sam = world.supervisor().await;
    let here = world.signed_in(&sam).await;
    for (password, word) in [
        ("coil drips", "15 are needed"),
        ("passwordpassword", "tries first"),
        ("Sam Supervisor 123", "tries first"),
    ] {
        let set = world.desk.set_password(world.key(), &sam, &here, password);
        let told = set.await.unwrap_err().to_string();
        assert!(told.contains(word), "{told}");
    }
    assert_eq!(world.desk.password(&sam).await.unwrap(), None);
}

#[tokio::test]
async fn a_changed_or_removed_password_signs_the_other_browsers_out() {
    let world = World::new();
    let sam = world.supervisor().await;
    let (here, other) = (world.signed_in(&sam).await, world.signed_in(&sam).await);
    let login = world.with_password(&sam, &here).await;
    assert!(world.is_in(&here).await);
    assert!(!world.is_in(&other).await);
    assert!(world.is_in(&chat(1)).await, "a chat is no browser");
    let there = world.tries(&login, PASSWORD).await.unwrap();
    let removed = world.desk.remove_password(world.key(), &sam, &here);
    removed.await.unwrap();
    assert!(!world.is_in(&there).await);
    assert!(world.tries(&login, PASSWORD).await.is_err());
    let again = world.with_password(&sam, &here).await;
    assert_ne!(again, login, "a login is not given out twice");
}

#[tokio::test]
async fn a_person_sees_their_browsers_and_signs_out_there() {
    let world = World::new();
    let sam = world.supervisor().await;
    let tess = world.joins(&sam, &chat(2), &[Role::Technician]).await;
    let here = world.signed_in(&sam).await;
    let other = world.signed_in(&sam).await;
    let of_tess = world.signed_in(&tess).await;
    let lines = world.desk.sessions(&sam, &here).await.unwrap();
    assert_eq!(lines.len(), 2);
    assert!(lines[0].is_this && !lines[1].is_this);
    let hers = world.desk.sessions(&tess, &of_tess).await.unwrap()[0].id;
    let refused = world.desk.end_session(&sam, hers).await;
    assert!(matches!(refused, Err(DeskError::NotFound(_))));
    world.desk.end_session(&sam, lines[1].id).await.unwrap();
    assert!(world.is_in(&here).await && world.is_in(&of_tess).await);
    assert!(!world.is_in(&other).await);
    world.after(SignedDuration::from_hours(8 * 24));
    assert!(!world.is_in(&here).await);
    assert_eq!(world.desk.sessions(&sam, &here).await.unwrap(), []);
}

#[tokio::test]
async fn whoever_loses_a_role_signs_in_again_and_whoever_leaves_cannot() {
    let world = World::new();
    let sam = world.supervisor().await;
    let both = [Role::Technician, Role::Electrician];
    let tess = world.joins(&sam, &chat(2), &both).await;
    let browser = world.signed_in(&tess).await;
    let login = world.with_password(&tess, &browser).await;
    let set = async |roles: &[Role]| {
        let roles = roles.iter().copied().collect();
        let set = world.desk.set_roles(world.key(), &sam, tess.person, roles);
        set.await.unwrap();
    };
    set(&[Role::Apprentice, Role::Technician, Role::Electrician]).await;
    assert!(world.is_in(&browser).await, "more than before");
    set(&[Role::Technician]).await;
    assert!(!world.is_in(&browser).await);
    let browser = world.tries(&login, PASSWORD).await.unwrap();
    set(&[]).await;
    assert!(!world.is_in(&browser).await);
    set(&[Role::Technician]).await;
    assert!(
        !world.is_in(&browser).await,
        "what ended does not begin again"
    );
    assert!(world.tries(&login, PASSWORD).await.is_err());
}

#[tokio::test]
async fn a_renewed_session_leaves_the_token_from_before_worthless() {
    let world = World::new();
    let sam = world.supervisor().await;
    let (before, after) = (world.signed_in(&sam).await, world.browser());
    for _ in 0..2 {
        world.desk.renew_session(&before, &after).await.unwrap();
        assert!(!world.is_in(&before).await);
        assert!(world.is_in(&after).await);
    }
    assert_eq!(world.desk.sessions(&sam, &after).await.unwrap().len(), 1);
}

#[tokio::test]
async fn a_look_is_written_down_once_an_hour_for_each_thing() {
    let world = World::new();
    let sam = world.supervisor().await;
    let tess = world.joins(&sam, &chat(2), &[Role::Technician]).await;
    let job = world.begin(&tess).await.job;
    for _ in 0..3 {
        world.desk.checklist(&sam, job).await.unwrap();
        world.desk.record_file(&sam, job, false).await.unwrap();
        world.desk.people(&tess).await.unwrap();
    }
    world.after(SignedDuration::from_hours(1));
    world.desk.checklist(&sam, job).await.unwrap();
    let looks = world.desk.who_looked(&sam, None).await.unwrap().items;
    let told = |line: &LookLine| (line.who.as_ref().unwrap().person, line.looked);
    let record = LookedAt::Record { job: job.0 };
    let mut told: Vec<_> = looks.iter().map(told).collect();
    // What came in the same moment has no order among itself.
    told[..2].sort_by_key(|(_, looked)| *looked == record);
    told[2..].sort_by_key(|(who, _)| *who == sam.person);
    let expected = [
        (sam.person, LookedAt::Looks),
        (sam.person, record),
        (tess.person, LookedAt::People),
        (sam.person, record),
    ];
    assert_eq!(told, expected);
    let refused = world.desk.who_looked(&tess, None).await;
    assert!(matches!(refused, Err(DeskError::NotAllowed(_))));
    let hers = world.of_person(&tess).await;
    let at = LookedAt::People;
    assert_eq!(hers, [PersonWhat::Looked { at }]);
}

#[tokio::test]
async fn another_crews_record_is_no_look() {
    let world = World::new();
    let sam = world.supervisor().await;
    let job = world.begin(&sam).await.job;
    let code = world.desk.invite_new_crew().await.unwrap().code;
    let hers = chat(9);
    let joined = world.desk.join(world.key(), &code, "Olga", &hers);
    let olga = joined.await.unwrap();
    let refused = world.desk.checklist(&olga, job).await;
    assert!(matches!(refused, Err(DeskError::NotFound("job"))));
    assert_eq!(world.of_person(&olga).await, []);
    let looks = world.desk.who_looked(&olga, None).await.unwrap().items;
    assert!(looks.iter().all(|line| line.looked == LookedAt::Looks));
}

#[tokio::test]
async fn noting_that_a_session_is_used_writes_nothing_that_signs_in() {
    let world = World::new();
    let sam = world.supervisor().await;
    let here = world.signed_in(&sam).await;
    let addresses = || {
        world
            .memory
            .scan(Table::named("address"), Vec::new(), None, 100)
    };
    let before = addresses().await.unwrap().items;
    for _ in 0..3 {
        world.after(SignedDuration::from_hours(6 * 24));
        assert!(world.is_in(&here).await, "in use, so it is not idle");
    }
    assert_eq!(addresses().await.unwrap().items, before);
    let sessions = world.desk.sessions(&sam, &here).await.unwrap();
    let (now, _) = *world.clock.0.lock().unwrap();
    assert_eq!((sessions.len(), sessions[0].used), (1, now));
    world.desk.end_session(&sam, sessions[0].id).await.unwrap();
    assert!(!world.is_in(&here).await);
}
