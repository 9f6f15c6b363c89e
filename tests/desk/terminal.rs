//! What somebody mistypes in a terminal begins nothing else.

use std::io::Cursor;

use fanwright::channel::terminal::Terminal;
use fanwright::desk::ChannelAddress;
use fanwright::desk::clock::Clock;

use super::World;

/// Types these lines and gives everything that was shown.
async fn types(world: &World, lines: &[&[u8]]) -> String {
    let mut input = Cursor::new(lines.join(&b'\n'));
    let mut output = Vec::new();
    let now = || world.clock.now();
    let run = lines.len().to_string();
    let streams = (&mut input as _, &mut output as _);
    let terminal = Terminal::new(world.desk.clone(), "me", run, streams, &now);
    terminal.talk().await.unwrap();
    String::from_utf8(output).unwrap()
}

/// Whether the job at hand is a training walk.
async fn is_training(world: &World) -> bool {
    let account = "me".to_owned();
    let address = ChannelAddress::Terminal { account };
    let sam = world.desk.who_is(&address).await.unwrap().unwrap();
    let job = world.desk.job_at_hand(&sam).await.unwrap().unwrap();
    world.desk.screen(&sam, job).await.unwrap().prompt.training
}

#[tokio::test]
async fn what_is_not_in_a_list_is_asked_again() {
    let world = World::new();
    let come_in: [&[u8]; 5] = [b"Sam", b"", b"Corner Market", b"EV-3", b""];
    let mistyped: [&[u8]; 6] = [b"17", b"2", b"no", b"2", b"/quit", b""];
    let shown = types(&world, &[&come_in[..], &mistyped].concat()).await;
    let refused = |shown: &str| {
        shown
            .matches("There is no such number in the list.")
            .count()
    };
    assert_eq!(refused(&shown), 2, "{shown}");
    assert!(is_training(&world).await);
    let again: [&[u8]; 9] = [
        b"/jobs", b"", b"\xff", b"9", b"1", b"1", b"1", b"/quit", b"",
    ];
    let shown = types(&world, &again).await;
    assert_eq!(refused(&shown), 1, "{shown}");
    assert!(shown.contains("not UTF-8"), "{shown}");
    assert!(!is_training(&world).await);
}
