//! A press in a private chat, read by itself: by far the most of what comes, and the library reads
//! the whole message under the button for it.

use std::borrow::Cow;

use serde::Deserialize;

use super::decode::{Arrived, Came, Inbound, Place, Press, Somebody};

#[derive(Deserialize)]
struct Update<'a> {
    update_id: u32,
    #[serde(borrow)]
    callback_query: Query<'a>,
}

#[derive(Deserialize)]
struct Query<'a> {
    #[serde(borrow)]
    id: Cow<'a, str>,
    #[serde(borrow)]
    from: User<'a>,
    #[serde(borrow)]
    message: Message<'a>,
    #[serde(borrow)]
    data: Cow<'a, str>,
}

#[derive(Deserialize)]
struct User<'a> {
    id: i64,
    is_bot: bool,
    #[serde(borrow)]
    first_name: Cow<'a, str>,
}

#[derive(Deserialize)]
struct Message<'a> {
    message_id: i32,
    /// 0 where the message is too old to be seen.
    date: i64,
    message_thread_id: Option<i32>,
    #[serde(borrow)]
    chat: Chat<'a>,
    #[serde(borrow)]
    text: Option<Cow<'a, str>>,
}

#[derive(Deserialize)]
struct Chat<'a> {
    id: i64,
    #[serde(borrow, rename = "type")]
    kind: Cow<'a, str>,
}

/// The number of an update that is written as the platform writes it, with the number first.
pub(super) fn number(update: &str) -> Option<u32> {
    let rest = update.strip_prefix(r#"{"update_id":"#)?;
    let end = rest.find(|letter: char| !letter.is_ascii_digit())?;
    rest.get(..end)?.parse().ok()
}

/// The press and the number of its update; nothing for whatever else came.
pub(super) fn press(update: &str) -> Option<(u32, Arrived)> {
    let Update {
        update_id,
        callback_query: query,
    } = serde_json::from_str(update).ok()?;
    let Message { chat, text, .. } = query.message;
    let is_own = chat.kind == "private" && chat.id == query.from.id;
    if !is_own || query.from.is_bot || query.message.date == 0 {
        return None;
    }
    let press = Press {
        query: query.id.clone().into_owned(),
        message: Some(query.message.message_id),
        under: text.map(Cow::into_owned),
        data: query.data.into_owned(),
    };
    let somebody = Somebody {
        user: query.from.id,
        first_name: query.from.first_name.into_owned(),
    };
    let arrived = Arrived {
        place: Place {
            chat: chat.id,
            thread: query.message.message_thread_id,
        },
        is_forum: false,
        native: format!("press:{}", query.id),
        came: Came::Private(somebody, Inbound::Press(press)),
    };
    Some((update_id, arrived))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::channel::telegram::decode::decode;
    use serde_json::{Value, json};

    fn update() -> Value {
        let chat = json!({ "id": 5, "type": "private", "first_name": "Toni" });
        let bot = json!({ "id": 77, "is_bot": true, "first_name": "Bot", "username": "b_bot" });
        json!({ "update_id": 9, "callback_query": {
            "id": "4711", "chat_instance": "c", "data": "EQA\u{e4}",
            "from": { "id": 5, "is_bot": false, "first_name": "T\u{f6}ni \"T\"" },
            "message": {
                "message_id": 12, "date": 1_900_000_000, "chat": chat, "from": bot,
                "text": "Does the fan turn?\nLook.",
                "reply_markup": { "inline_keyboard": [[{ "text": "Yes", "callback_data": "a" }]] },
            },
        } })
    }

    fn by_the_library(update: &Value) -> Option<Arrived> {
        decode(&serde_json::from_str(&update.to_string()).unwrap(), None)
    }

    #[test]
    fn the_number_is_read_without_the_rest_or_not_at_all() {
        assert_eq!(number(r#"{"update_id":9,"message":{"#), Some(9));
        assert_eq!(number(r#"{"update_id":9}"#), Some(9));
        for other in [
            r#"{"message":{},"update_id":9}"#,
            r#"{"update_id": 9}"#,
            r#"{"update_id":"9"}"#,
            r#"{"update_id":99999999999}"#,
            r#"{"update_id":9"#,
        ] {
            assert_eq!(number(other), None, "{other}");
        }
    }

    #[test]
    fn a_press_is_read_as_the_library_reads_it() {
        let plain = update();
        let mut pictured = update();
        pictured["callback_query"]["message"]["photo"] = json!([{ "file_id": "f",
            "file_unique_id": "f", "file_size": 1, "width": 1, "height": 1 }]);
        let message = pictured["callback_query"]["message"].as_object_mut();
        message.unwrap().remove("text");
        for update in [plain, pictured] {
            let (id, arrived) = press(&update.to_string()).unwrap();
            assert_eq!(id, 9);
            let whole = by_the_library(&update).unwrap();
            assert_eq!(format!("{arrived:?}"), format!("{whole:?}"));
        }
    }

    #[test]
    fn whatever_else_comes_is_left_to_the_library() {
        let mut in_group = update();
        in_group["callback_query"]["message"]["chat"]["type"] = json!("group");
        let mut of_another = update();
        of_another["callback_query"]["from"]["id"] = json!(6);
        let mut too_old = update();
        too_old["callback_query"]["message"]["date"] = json!(0);
        let message = json!({ "update_id": 9, "message": { "message_id": 1 } });
        for update in [
            in_group,
            of_another,
            too_old,
            message,
            json!({ "update_id": 9 }),
        ] {
            assert!(press(&update.to_string()).is_none());
        }
    }
}
