//! Inputs that are read well, for each target.

use std::io::Cursor;
use std::sync::LazyLock;

use fanwright::channel::telegram::token::{Choice, FlowMark, On, Plan, Token};
use fanwright::desk::id::{EvaporatorId, JobId};
use fanwright::flow::embedded;
use fanwright::flow::name::FlowName;
use fanwright::record::chain::{Hash, Head, Stored};
use fanwright::record::entry::{Channel, ENTRY_FORMAT, Entry, What};
use fanwright::record::export::{Export, Photo};
use fanwright::record::person::PersonId;
use fanwright::record::seal::{SEED_BYTES, SigningKey, Statement, Subject};
use fanwright::record::stream::{Seq, StreamId, StreamKind};
use fanwright::walk::prompt::Action;
use image::{DynamicImage, ImageFormat};
use jiff::Timestamp;
use serde_json::{Value, json};
use uuid::Uuid;

/// The seeds of a target.
pub(crate) fn seeds(target: &str) -> Vec<Vec<u8>> {
    match target {
        "loader" => {
            let library = embedded::library().unwrap();
            let mut texts: Vec<Vec<u8>> = library
                .sources()
                .files
                .values()
                .map(|text| text.clone().into_bytes())
                .collect();
            texts.push(include_bytes!("../desk/small.yaml").to_vec());
            texts
        }
        "expression" => EXPRESSIONS.map(|text| text.as_bytes().to_vec()).to_vec(),
        "reading" => readings(),
        "button" => buttons(),
        "update" => updates(),
        "verify" => vec![RECORD.clone().into_bytes()],
        "photo" => photos(),
        "goods" => ["flows/demo/kit.yaml", "flows/demo/speed-book.yaml"]
            .map(|file| std::fs::read(file).unwrap())
            .to_vec(),
        other => panic!("{other} has no seeds"),
    }
}

pub(crate) fn is_a_seed(target: &str, bytes: &[u8]) -> bool {
    seeds(target).iter().any(|seed| seed == bytes)
}

const EXPRESSIONS: [&str; 8] = [
    "supply > 0.9 * rated && supply < 1.1 * rated",
    "known(factor) ? factor > 3 : lead == \"cut\"",
    "abs(supply - rated) > tolerance * rated",
    "\"bottom\" in ice_pattern",
    "supply <= row(\"never_dead_voltage\")",
    "max(fans_dead, fans_total) == 3",
    "Read {supply} of {rated}, {lead}.",
    "!(known(supply) || -fans_dead == -2)",
];

fn readings() -> Vec<Vec<u8>> {
    let typed = [
        "208 V",
        "1 1/2 hp",
        "5' 6 1/2\"",
        "0,5 A",
        "-40 °F",
        "1.234,5",
        "½ in",
        "two",
        "3 fans",
        "$12.50",
        "1e3",
    ];
    let typed = typed.iter().enumerate();
    typed
        .map(|(at, text)| {
            let unit = u8::try_from(at * 7).unwrap();
            [&[unit], text.as_bytes()].concat()
        })
        .collect()
}

fn buttons() -> Vec<Vec<u8>> {
    let job = JobId(Uuid::from_u128(7));
    let evaporator = EvaporatorId(Uuid::from_u128(8));
    let on = On { job, revision: 3 };
    let plan = Plan {
        flow: FlowMark::of(&FlowName::from("look-at-the-fan")),
        training: false,
    };
    let tokens = [
        Token::Choose(on, Choice { index: 1, check: 2 }),
        Token::Ticked(on, 5),
        Token::Keep(on),
        Token::More(on, 1),
        Token::Do(on, Action::HangOwnLock),
        Token::Show(job),
        Token::Begin(evaporator, plan),
        Token::HandOver(on, Some(PersonId(Uuid::from_u128(9)))),
        Token::Add(plan),
        Token::Evaporator(evaporator),
    ];
    tokens.map(|token| token.encode().into_bytes()).to_vec()
}

/// A size of a photo, and a document.
fn files() -> [Value; 2] {
    let size = json!({
        "file_id": "f", "file_unique_id": "f", "file_size": 9, "width": 90, "height": 90,
    });
    let document = json!({
        "file_id": "f", "file_unique_id": "f", "file_size": 9, "file_name": "a.yaml",
        "mime_type": "text/plain",
    });
    [size, document]
}

/// Updates as the platform's documentation has them, with invented people.
pub(crate) fn updates() -> Vec<Vec<u8>> {
    let from = json!({ "id": 5, "is_bot": false, "first_name": "Toni" });
    let chat = json!({ "id": 5, "type": "private", "first_name": "Toni" });
    let group = json!({
        "id": -1_004_000_001_i64, "type": "supergroup", "title": "Night shift", "is_forum": true,
    });
    let message = |content: Value, chat: &Value| {
        let mut message = json!({
            "message_id": 10, "date": 1_900_000_000, "from": from, "chat": chat,
        });
        for (name, value) in content.as_object().unwrap() {
            message[name] = value.clone();
        }
        message
    };
    let [size, document] = files();
    let ours = json!({
        "message_id": 3, "date": 1_900_000_000, "text": "How many volts?", "chat": chat,
        "from": { "id": 77, "is_bot": true, "first_name": "Bench", "username": "bench_bot" },
    });
    let press = json!({
        "id": "p", "from": from, "chat_instance": "c", "data": "x", "message": ours,
    });
    let say = |text: &str, chat: &Value| message(json!({ "text": text }), chat);
    let all = [
        ("message", say("208 V", &chat)),
        ("message", say("/start ABCDEFGH", &chat)),
        ("message", say("/hurt@bench_bot", &group)),
        (
            "message",
            message(json!({ "text": "208 V", "reply_to_message": ours }), &chat),
        ),
        (
            "message",
            message(json!({ "photo": [size, size], "caption": "plate" }), &chat),
        ),
        (
            "message",
            message(json!({ "document": document, "caption": "/flow" }), &group),
        ),
        (
            "message",
            message(
                json!({ "location": { "latitude": 1.5, "longitude": 2.5 } }),
                &chat,
            ),
        ),
        ("edited_message", say("209 V", &chat)),
        ("callback_query", press),
        (
            "inline_query",
            json!({ "id": "q", "from": from, "query": "corner", "offset": "20" }),
        ),
        (
            "my_chat_member",
            json!({
                "chat": group, "from": from, "date": 1_900_000_000,
                "old_chat_member": { "status": "left", "user": ours["from"] },
                "new_chat_member": { "status": "member", "user": ours["from"] },
            }),
        ),
    ];
    let update = |(kind, content): &(&str, Value)| {
        let update = json!({ "update_id": 501, *kind: content });
        update.to_string().into_bytes()
    };
    all.iter().map(update).collect()
}

/// A record with a hand-in, a seal and a photo.
static RECORD: LazyLock<String> = LazyLock::new(|| {
    let key = SigningKey::from_seed(&[1; SEED_BYTES]).unwrap();
    let job = StreamId::new(StreamKind::Job, Uuid::from_u128(7));
    let ada = PersonId(Uuid::from_u128(1));
    let at = Timestamp::from_second(1_900_000_000).unwrap();
    let picture = b"as good as any picture".to_vec();
    let stored = Hash::of(&picture);
    let mut head = Head::NONE;
    let mut entries = Vec::new();
    let mut says = |head: &mut Head, what: What| {
        let entry = Entry {
            v: ENTRY_FORMAT,
            at,
            who: Some(ada),
            channel: Channel::Browser,
            what,
        };
        let kept = Stored::after(job, *head, serde_json::to_vec(&entry).unwrap());
        *head = kept.head();
        entries.push(kept);
    };
    let why = format!("No ladder: \"{stored}\"");
    says(&mut head, What::StopExplained { why });
    says(&mut head, What::HandedIn);
    let statement = Statement {
        subject: Subject::Record,
        stream: job,
        head,
        at,
    };
    let seal = key.seal(&statement);
    let sealed = head;
    says(&mut head, What::Sealed { head: sealed, seal });
    let export = Export {
        job,
        checklist: format!(r#"{{"format":1,"job":"{}","title":"A fan"}}"#, job.id),
        entries: &entries,
        people: vec![(ada, Some("Ada".to_owned()))],
        photos: vec![Photo {
            stored,
            entry: Seq(1),
            bytes: Some(picture),
        }],
        keys: vec![(key.public(), at)],
        at,
    };
    export.write(&key).unwrap()
});

fn photos() -> Vec<Vec<u8>> {
    let light = |x: u32, y: u32| image::Rgb([(x * 8) as u8, (y * 9) as u8, 90]);
    let picture = DynamicImage::ImageRgb8(image::RgbImage::from_fn(24, 18, light));
    let written = |format| {
        let mut bytes = Cursor::new(Vec::new());
        picture.write_to(&mut bytes, format).unwrap();
        bytes.into_inner()
    };
    let jpeg = written(ImageFormat::Jpeg);
    let located = crate::security::photos::with_exif(&jpeg);
    vec![
        jpeg,
        located,
        written(ImageFormat::Png),
        written(ImageFormat::WebP),
    ]
}
