//! Messages of the bot as the platform shows them.

use serde_json::{Value, json};

use super::bot_api::Sent;
use super::bot_api_limits::{NOT_MODIFIED, buttons, read_html};

impl Sent {
    /// What a request shows: its words stand under this name.
    pub(crate) fn of(id: i32, words: &str, fields: &Value) -> Sent {
        let html = fields[words].as_str().unwrap_or_default().to_owned();
        Sent {
            id,
            text: read_html(&html).unwrap_or_else(|_| html.clone()),
            html,
            buttons: buttons(&fields["reply_markup"]),
            ..Sent::default()
        }
    }

    /// Changes it as a request asks for; the platform refuses what changes nothing.
    pub(crate) fn edited(&mut self, fields: &Value) -> Result<(), String> {
        let before = self.clone();
        self.buttons = buttons(&fields["reply_markup"]);
        if let Some(html) = fields["text"].as_str() {
            html.clone_into(&mut self.html);
            self.text = read_html(html).unwrap_or_else(|_| html.to_owned());
        }
        match *self == before {
            true => Err(NOT_MODIFIED.to_owned()),
            false => Ok(()),
        }
    }
}

/// A message of the bot as the platform shows it.
pub(crate) fn bot_message(chat: i64, sent: &Sent) -> Value {
    let rows: Vec<Value> = sent
        .buttons
        .iter()
        .map(|(text, data)| match data.starts_with("https://") {
            true => json!([{ "text": text, "url": data }]),
            false => json!([{ "text": text, "callback_data": data }]),
        })
        .collect();
    let of = match chat {
        // The platform's numbers: people above, groups below nothing, large groups far below.
        0.. => json!({ "id": chat, "type": "private", "first_name": "Somebody" }),
        -999_999_999_999..0 => json!({ "id": chat, "type": "group", "title": "Crew talk" }),
        _ => json!({ "id": chat, "type": "supergroup", "title": "Crew talk" }),
    };
    let mut message = json!({
        "message_id": sent.id, "date": 1_900_000_000, "chat": of,
        "from": {
            "id": 77, "is_bot": true, "first_name": "Bench bot", "username": "bench_bot",
        },
    });
    if let Some(topic) = sent.topic {
        message["message_thread_id"] = json!(topic);
        message["is_topic_message"] = json!(true);
    }
    if !rows.is_empty() {
        message["reply_markup"] = json!({ "inline_keyboard": rows });
    }
    if let Some(album) = sent.album {
        message["media_group_id"] = json!(album.to_string());
    }
    if sent.picture.is_some() {
        message["photo"] = json!([{
            "file_id": format!("shown-{}", sent.id), "file_unique_id": "u",
            "file_size": 10, "width": 10, "height": 10,
        }]);
        message["caption"] = json!(sent.text);
    } else if let Some(bytes) = sent.file {
        message["document"] = json!({
            "file_id": format!("file-{}", sent.id), "file_unique_id": "u", "file_size": bytes,
        });
        message["caption"] = json!(sent.text);
    } else {
        message["text"] = json!(sent.text);
    }
    message
}
