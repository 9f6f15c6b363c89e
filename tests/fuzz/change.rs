//! Changing what is read well into what is not.

use serde_json::{Map, Value, json};

use super::chance::Chance;

/// Numbers at the edges of what machines count.
const EDGES: [&[u8]; 8] = [
    &[0],
    &[0xff],
    &[0x7f],
    &[0x80],
    &[0xff, 0xff],
    &[0x7f, 0xff, 0xff, 0xff],
    &[0xff, 0xff, 0xff, 0xff],
    &[0, 0, 0, 0, 0, 0, 0, 0],
];

/// Texts that programs trip over; the right-to-left mark and the combining letters are from
/// Unicode TR36.
const TEXTS: [&str; 24] = [
    "",
    "\u{0}",
    "\u{feff}",
    "\u{202e}abc",
    "e\u{301}\u{301}\u{301}",
    "\u{1F9CA}\u{200d}\u{fe0f}",
    "../../etc/passwd",
    "{{7*7}}",
    "{% raw %}",
    "<b>x</b>&amp;",
    "=1+1",
    "'; --",
    "$(id)",
    "%s%n%x",
    "1e999",
    "-0",
    "NaN",
    "9223372036854775808",
    "0x1",
    "\u{ff12}\u{ff10}\u{ff18}",
    "\r\nX: y",
    "/start",
    "/people@bench_bot",
    "null",
];

/// One of the inputs, changed in a few places.
pub(crate) fn bytes(corpus: &[Vec<u8>], pieces: &[&str], chance: &mut Chance) -> Vec<u8> {
    let mut input = chance.of(corpus).clone();
    for _ in 0..=chance.below(8) {
        let at = chance.below(input.len() + 1);
        let end = (at + 1 + chance.below(16)).min(input.len());
        match chance.below(9) {
            0 => drop(input.drain(at..end)),
            1 => {
                let part = input[at..end].to_vec();
                let times = 1 + chance.below(40);
                input.splice(at..at, part.repeat(times));
            }
            2 if at < input.len() => input[at] ^= 1 << chance.below(8),
            3 if at < input.len() => input[at] = chance.next().to_le_bytes()[0],
            4 => {
                let edge = chance.of(&EDGES);
                let end = (at + edge.len()).min(input.len());
                input.splice(at..end, edge.iter().copied());
            }
            5 => {
                let other = chance.of(corpus);
                let from = chance.below(other.len() + 1);
                let to = (from + chance.below(64)).min(other.len());
                input.splice(at..at, other[from..to].iter().copied());
            }
            6 => input.truncate(at),
            7 => {
                let text = chance.of(&TEXTS);
                input.splice(at..at, text.bytes());
            }
            _ if pieces.is_empty() => {}
            _ => {
                let piece = chance.of(pieces);
                let end = (at + chance.below(4)).min(input.len());
                input.splice(at..end, piece.bytes());
            }
        }
    }
    input
}

/// Changes a JSON value in one place.
pub(crate) fn json(value: &mut Value, chance: &mut Chance) {
    let goes_in = chance.below(8) > 0;
    match value {
        Value::Object(map) if goes_in && !map.is_empty() => {
            let names: Vec<String> = map.keys().cloned().collect();
            let name = chance.of(&names);
            if chance.below(12) == 0 {
                map.remove(name);
            } else if let Some(inner) = map.get_mut(name) {
                json(inner, chance);
            }
        }
        Value::Array(list) if goes_in && !list.is_empty() => {
            let at = chance.below(list.len());
            if chance.below(6) == 0 {
                let again = list[at].clone();
                list.extend(vec![again; chance.below(50)]);
            } else {
                json(&mut list[at], chance);
            }
        }
        Value::String(text) if goes_in => {
            let changed = bytes(&[text.clone().into_bytes()], &TEXTS, chance);
            *text = String::from_utf8_lossy(&changed).into_owned();
        }
        other => *other = scalar(chance),
    }
}

/// A value that nobody expects.
fn scalar(chance: &mut Chance) -> Value {
    match chance.below(14) {
        0 => Value::Null,
        1 => json!(true),
        2 => json!(-1),
        3 => json!(0),
        4 => json!(u64::MAX),
        5 => json!(i64::MIN),
        6 => json!(i32::MAX),
        7 => json!(f64::MAX),
        8 => json!([]),
        9 => Value::Object(Map::new()),
        10 => json!("x".repeat(5_000)),
        11 => (0..100).fold(Value::Null, |inner, _| json!([inner])),
        12 => json!({ "id": 1, "type": "private" }),
        _ => json!(chance.of(&TEXTS)),
    }
}
