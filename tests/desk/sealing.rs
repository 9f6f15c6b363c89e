//! Seals in a job's record.

use fanwright::desk::Actor;
use fanwright::desk::id::JobId;
use fanwright::flow::model::Role;
use fanwright::record::chain::verify_chain;
use fanwright::record::entry::{Channel, Entry, What};
use fanwright::record::seal::{Statement, Subject};
use fanwright::record::stream::{Seq, StreamId, StreamKind};
use fanwright::store::Store;
use fanwright::walk::input::Input;

use super::{World, chat, keys};

impl World {
    /// A job that was walked to its end.
    async fn at_the_end(&self, actor: &Actor) -> JobId {
        let screen = self.begin(actor).await;
        let screen = self.presses(actor, &screen, "go").await.screen;
        self.presses(actor, &screen, "turns").await.screen.job
    }

    /// The entries of a job with their places, its chain checked.
    async fn record(&self, stream: StreamId) -> Vec<(Seq, Entry)> {
        let stored = self
            .memory
            .read(stream, Seq::FIRST, usize::MAX)
            .await
            .unwrap();
        verify_chain(stream, &stored).unwrap();
        let read = |bytes: &[u8]| serde_json::from_slice(bytes).unwrap();
        stored.iter().map(|it| (it.seq, read(&it.bytes))).collect()
    }
}

#[tokio::test]
async fn every_hand_in_and_decision_is_sealed_in_the_same_breath() {
    let world = World::new();
    let sam = world.supervisor().await;
    let tess = world.joins(&sam, &chat(2), &[Role::Technician]).await;
    let job = world.at_the_end(&tess).await;
    world.does(&tess, job, Input::HandIn).await;
    let remark = "Read the volts again.".to_owned();
    world
        .does(
            &sam,
            job,
            Input::SendBack {
                remark,
                steps: Vec::new(),
            },
        )
        .await;
    let stream = StreamId::new(StreamKind::Job, job.0);
    let record = world.record(stream).await;
    let mut sealed = Vec::new();
    for pair in record.windows(2) {
        let [(before, what), (_, entry)] = pair else {
            unreachable!()
        };
        let decides = matches!(what.what, What::HandedIn | What::SentBack { .. });
        let What::Sealed { head, seal } = &entry.what else {
            assert!(!decides, "entry {before} is not sealed");
            continue;
        };
        assert!(decides, "entry {before} is sealed");
        assert_eq!(head.seq, *before);
        assert_eq!((entry.at, entry.who), (what.at, None));
        assert_eq!(entry.channel, Channel::Server);
        let statement = Statement {
            subject: Subject::Record,
            stream,
            head: *head,
            at: entry.at,
        };
        assert!(seal.holds(&statement));
        sealed.push(*head);
    }
    assert_eq!(sealed.len(), 2);
    let stored = world.memory.read(stream, Seq::FIRST, usize::MAX);
    let stored = stored.await.unwrap();
    for head in sealed {
        assert!(stored.iter().any(|entry| entry.head() == head));
    }
    let list = world.desk.checklist(&sam, job).await.unwrap();
    assert_eq!(list.seals.len(), 2);
    assert_eq!(list.head.seq, list.seals[1].up_to.next());
    let html = list.to_html(&Default::default()).unwrap();
    assert!(html.contains(&format!("key {}", list.seals[1].key)));
}

#[tokio::test]
async fn a_seal_moves_the_revision_and_nothing_else() {
    let world = World::new();
    let sam = world.supervisor().await;
    let tess = world.joins(&sam, &chat(2), &[Role::Technician]).await;
    let job = world.at_the_end(&tess).await;
    let screen = world.does(&tess, job, Input::HandIn).await.screen;
    let record = world.record(StreamId::new(StreamKind::Job, job.0)).await;
    assert_eq!(screen.prompt.revision, record.len() as u64);
    let entries: Vec<&Entry> = record.iter().map(|(_, entry)| entry).collect();
    let (sealed, before) = entries.split_last().unwrap();
    assert!(matches!(sealed.what, What::Sealed { .. }));
    let fold = |entries: &[&Entry]| {
        let state = fanwright::walk::State::fold(entries.iter().copied());
        fanwright::walk::State {
            revision: 0,
            ..state.unwrap()
        }
    };
    assert_eq!(fold(before), fold(&entries));
}

#[tokio::test]
async fn the_keys_are_known_from_their_first_seal_on() {
    let world = World::new();
    let sam = world.supervisor().await;
    let tess = world.joins(&sam, &chat(2), &[Role::Technician]).await;
    let job = world.at_the_end(&tess).await;
    world.does(&tess, job, Input::HandIn).await;
    let first = world.desk.seal_keys().await.unwrap();
    assert_eq!(first.len(), 1);
    let rotated = world.desk.rotate_seal_key().await.unwrap();
    let remark = String::new();
    world.does(&sam, job, Input::Accept { remark }).await;
    let known = world.desk.seal_keys().await.unwrap();
    assert_eq!(known.len(), 2);
    assert_eq!(known[0], first[0]);
    assert_eq!(known[1].key.fingerprint(), rotated);
    let list = world.desk.checklist(&sam, job).await.unwrap();
    let by: Vec<_> = list.seals.iter().map(|seal| seal.key).collect();
    assert_eq!(by, [first[0].key.fingerprint(), rotated]);
    let server = world.memory.read(StreamId::SERVER, Seq::FIRST, usize::MAX);
    let server = server.await.unwrap();
    let told = |key: &str| {
        let holds = |bytes: &[u8]| String::from_utf8_lossy(bytes).contains(key);
        server.iter().filter(|entry| holds(&entry.bytes)).count()
    };
    for key in &known {
        assert_eq!(told(&key.key.to_string()), 1);
    }
}

#[tokio::test]
async fn a_record_from_before_there_were_seals_still_reads() {
    // Written by the program of format 1.
    let old = r#"{"v":1,"at":"2031-05-04T08:00:00Z","who":"00000000-0000-0000-0000-000000000001",
        "channel":"browser","what":{"what":"handed_in"}}"#;
    let entry: Entry = serde_json::from_str(old).unwrap();
    assert_eq!((entry.v, entry.what), (1, What::HandedIn));
    assert_eq!(keys().warning(), None);
}
