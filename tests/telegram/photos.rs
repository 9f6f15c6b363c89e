//! The photos of a job as albums in a chat.

use std::io::Cursor;

use fanwright::channel::telegram::token::Token;
use fanwright::desk::Rules;
use fanwright::desk::id::JobId;
use fanwright::flow::model::Role;
use fanwright::store::Memory;
use serde_json::{Value, json};

use super::{World, labels, parts_with};
use crate::support::bot_api::{BotApi, Fault, Sent, bot_message};
use crate::support::chat::Chat;

/// A flow that asks for so many photos, one after the other.
fn flow(count: usize) -> String {
    let facts: Vec<String> = (1..=count)
        .map(|at| format!("  p{at}: {{ photo: Side {at}, label: Side {at} }}"))
        .collect();
    let steps: Vec<String> = (1..=count)
        .map(|at| {
            let next = match at == count {
                true => "end".to_owned(),
                false => format!("take_{}", at + 1),
            };
            format!("  take_{at}: {{ photo: p{at}, say: Photo of side {at}., then: {next} }}")
        })
        .collect();
    format!(
        "flow: look-at-the-fan\ntitle: Sides & edges\nlanguage: en\nhands_off: true\n\
         outcomes: {{ seen: Seen }}\nfacts:\n{}\nstart: take_1\nsteps:\n{}\n  end: {{ finish: \
         seen, say: All sides are seen. }}\n",
        facts.join("\n"),
        steps.join("\n")
    )
}

async fn world(count: usize) -> World {
    let memory = Memory::new();
    let flows = vec![("look-at-the-fan.yaml", flow(count))];
    let parts = parts_with(&memory, Rules::default(), flows);
    World::of(BotApi::start().await, memory, parts).await
}

/// A picture of its own for every number.
fn picture(number: u32) -> Vec<u8> {
    let mut bytes = Cursor::new(Vec::new());
    let picture = image::DynamicImage::new_rgb8(8 + number, 8);
    picture
        .write_to(&mut bytes, image::ImageFormat::Png)
        .unwrap();
    bytes.into_inner()
}

/// Walks a whole job with so many photos and hands it in; gives its number.
async fn handed_in(world: &World, toni: &mut Chat, count: u32) -> JobId {
    toni.say("/new").await;
    toni.reply("Corner Market, EV-3, meat cooler left").await;
    for number in 1..=count {
        toni.photo(picture(number)).await;
    }
    toni.press("Hand the job in").await;
    let address = fanwright::desk::ChannelAddress::Telegram {
        chat: toni.user,
        user: toni.user,
    };
    let toni = world.desk.who_is(&address).await.unwrap().unwrap();
    world.desk.job_at_hand(&toni).await.unwrap().unwrap()
}

fn pictures(api: &BotApi, chat: i64) -> Vec<Sent> {
    let all = api.sent(chat).into_iter();
    all.filter(|sent| sent.picture.is_some()).collect()
}

async fn until_there(world: &World, chat: i64, count: usize) -> Vec<Sent> {
    let is_there = |api: &BotApi| pictures(api, chat).len() >= count;
    world.api.until("the photos are there", is_there).await;
    pictures(&world.api, chat)
}

/// What stands where a photo is sent: its name, or that its bytes come along.
fn media(call: &Value) -> Vec<String> {
    let all = call["media"].as_array().unwrap().iter();
    all.map(|photo| photo["media"].as_str().unwrap().to_owned())
        .collect()
}

/// A press of a button that the person never had.
async fn made_up(by: &mut Chat, token: Token) -> Vec<Sent> {
    let sent = Sent {
        id: 4_000,
        text: "A button that somebody made up".to_owned(),
        ..Sent::default()
    };
    let query = json!({
        "id": format!("made-up-{}", by.api.message_number()), "from": by.from(),
        "chat_instance": "p", "data": token.encode(), "message": bot_message(by.user, &sent),
    });
    let press = by.api.update("callback_query", query);
    by.delivers(&press).await
}

#[tokio::test]
async fn a_reviewer_sees_the_photos_in_their_order_each_with_step_and_time() {
    let world = world(13).await;
    let mut sam = world.supervisor().await;
    let mut toni = world.joined(2002, "Toni", Role::Technician).await;
    let job = handed_in(&world, &mut toni, 13).await;
    let is_told = |api: &BotApi| {
        let told = api.sent(1001);
        told.iter()
            .any(|sent| labels(sent).contains(&"Show the 13 photos"))
    };
    world.api.until("the reviewer is told", is_told).await;
    sam.settled().await;
    let came = sam.press("Show the 13 photos").await;
    assert!(came[0].text.starts_with("13 photos, in the order"));
    let photos = until_there(&world, 1001, 13).await;
    for (at, photo) in photos.iter().enumerate() {
        let lines: Vec<&str> = photo.text.lines().collect();
        assert_eq!(lines[0], "Sides & edges");
        assert_eq!(lines[1], format!("Photo of side {}.", at + 1));
        assert!(lines[2].starts_with("20"), "{lines:?}");
        assert!(photo.picture > Some(100), "{photo:?}");
    }
    let albums: Vec<usize> = [0, 6].map(|at| media_of(&photos, at)).into();
    assert_eq!(albums, [6, 7], "as few albums as hold them, about alike");

    // The platform has them now: nothing is sent up a second time.
    sam.press("Show the 13 photos").await;
    until_there(&world, 1001, 26).await;
    let calls = world.api.calls("sendmediagroup");
    assert_eq!(calls.len(), 4);
    assert!(
        media(&calls[0])
            .iter()
            .all(|it| it.starts_with("attach://"))
    );
    assert!(media(&calls[2]).iter().all(|it| it.starts_with("shown-")));

    // Unless it has forgotten them.
    let gone = Fault::Refused("Bad Request: wrong file identifier/HTTP URL specified");
    world.api.fail_next("sendmediagroup", gone);
    sam.press("Show the 13 photos").await;
    let photos = until_there(&world, 1001, 39).await;
    assert!(photos.last().unwrap().text.contains("Photo of side 13."));
    let again = &world.api.calls("sendmediagroup")[4];
    assert!(media(again).iter().all(|it| it.starts_with("attach://")));

    let mut olga = world.of_another_crew().await;
    let mut nobody = world.chat(9009, "Nobody");
    for outsider in [&mut olga, &mut nobody] {
        let came = made_up(outsider, Token::Photos(job)).await;
        assert!(!format!("{came:?}").contains("Sides"), "{came:?}");
        outsider.settled().await;
        assert_eq!(pictures(&world.api, outsider.user), []);
    }
    world.end().await;
}

/// How many photos the album has that begins with this one.
fn media_of(photos: &[Sent], at: usize) -> usize {
    let first = photos[at].album.unwrap();
    assert_eq!(first, photos[at].id);
    photos.iter().filter(|it| it.album == Some(first)).count()
}

#[tokio::test]
async fn one_photo_comes_alone_and_the_command_shows_those_of_an_open_job() {
    let world = world(2).await;
    world.supervisor().await;
    let mut toni = world.joined(2002, "Toni", Role::Technician).await;
    let none = toni.say("/photos").await;
    assert!(none[0].text.contains("no job at hand"), "{none:?}");
    toni.say("/new").await;
    toni.reply("Corner Market, EV-3, meat cooler left").await;
    let none = toni.say("/photos").await;
    assert_eq!(none[0].text, "This job has no photo yet.");
    toni.photo(picture(1)).await;
    toni.say("/photos").await;
    let photos = until_there(&world, 2002, 1).await;
    assert!(photos[0].text.contains("Photo of side 1."), "{photos:?}");
    assert_eq!(world.api.calls("sendphoto").len(), 1);
    assert_eq!(world.api.calls("sendmediagroup").len(), 0);
    world.end().await;
}

#[tokio::test]
async fn a_second_press_while_photos_are_on_their_way_brings_no_second_set() {
    let world = world(2).await;
    world.supervisor().await;
    let mut toni = world.joined(2002, "Toni", Role::Technician).await;
    handed_in(&world, &mut toni, 2).await;
    world.api.fail_next("sendmediagroup", Fault::Held);
    let shown = toni.pressing("Show the 2 photos");
    world.api.deliver(&shown);
    let is_held = |api: &BotApi| !api.has_fault("sendmediagroup");
    world.api.until("the album is under way", is_held).await;
    let again = toni.pressing("Show the 2 photos");
    world.api.deliver(&again);
    let id = u32::try_from(again["update_id"].as_u64().unwrap()).unwrap();
    let is_through = |api: &BotApi| api.is_confirmed(id);
    world
        .api
        .until("the second press is handled", is_through)
        .await;
    world.api.let_go();
    until_there(&world, 2002, 2).await;
    toni.settled().await;
    let all = world.api.sent(2002);
    assert!(all.iter().any(|sent| sent.text.contains("on their way")));
    assert_eq!(pictures(&world.api, 2002).len(), 2);
    world.end().await;
}
