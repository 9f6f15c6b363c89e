//! What the platform checks of a request before it takes it. Limits: the Bot API's own reference.

use serde_json::{Value, json};

/// How the platform answers an edit that changes nothing.
pub(crate) const NOT_MODIFIED: &str = "Bad Request: message is not modified: specified new message content \
    and reply markup are exactly the same as a current content and reply markup of the message";

/// The buttons of a keyboard: label and what they carry.
pub(crate) fn buttons(markup: &Value) -> Vec<(String, String)> {
    let rows = markup["inline_keyboard"].as_array().cloned();
    let all = rows.unwrap_or_default().into_iter();
    let all = all.flat_map(|row| row.as_array().cloned().unwrap_or_default());
    let text = |value: &Value| value.as_str().unwrap_or_default().to_owned();
    let carries = |button: &Value| match button["url"].as_str() {
        Some(url) => url.to_owned(),
        None => text(&button["callback_data"]),
    };
    all.map(|button| (text(&button["text"]), carries(&button)))
        .collect()
}

/// The answer to methods that need no memory.
pub(crate) fn plain_answer(method: &str) -> Option<Value> {
    match method {
        "getme" => Some(json!({
            "id": 77, "is_bot": true, "first_name": "Bench bot", "username": "bench_bot",
            "can_join_groups": true, "can_read_all_group_messages": false,
            "supports_inline_queries": false, "can_connect_to_business": false,
            "has_main_web_app": false,
        })),
        "setmycommands" | "setwebhook" | "deletewebhook" | "setmessagereaction"
        | "answerinlinequery" | "closeforumtopic" => Some(json!(true)),
        _ => None,
    }
}

/// Why the platform would refuse the request.
pub(crate) fn violation(method: &str, body: &Value) -> Option<String> {
    let text = |name: &str| body[name].as_str().map(str::to_owned);
    match method {
        "sendmessage" | "editmessagetext" => {
            if let Some(why) = text_violation(&text("text").unwrap_or_default(), body, 4096) {
                return Some(format!("text: {why}"));
            }
        }
        "sendphoto" | "senddocument" => {
            if let Some(caption) = text("caption")
                && let Some(why) = text_violation(&caption, body, 1024)
            {
                return Some(format!("caption: {why}"));
            }
        }
        "sendmediagroup" => return album_violation(body),
        "answercallbackquery" => {
            let length = text("text").unwrap_or_default().encode_utf16().count();
            return (length > 200).then(|| format!("answer of {length} characters"));
        }
        "createforumtopic" => {
            let length = text("name").unwrap_or_default().chars().count();
            return (!(1..=128).contains(&length)).then(|| format!("a name of {length}"));
        }
        "answerinlinequery" => return found_violation(body),
        "setmycommands" => return commands_violation(&body["commands"]),
        _ => {}
    }
    markup_violation(&body["reply_markup"])
}

fn text_violation(text: &str, body: &Value, max: usize) -> Option<String> {
    let shown = if body["parse_mode"] == "HTML" {
        match read_html(text) {
            Ok(shown) => shown,
            Err(why) => return Some(why),
        }
    } else {
        text.to_owned()
    };
    let units = shown.trim().encode_utf16().count();
    if units == 0 {
        return Some("message text is empty".to_owned());
    }
    (units > max).then(|| format!("{units} characters"))
}

/// The text that the HTML shows.
pub(crate) fn read_html(html: &str) -> Result<String, String> {
    let mut open: Vec<&str> = Vec::new();
    let mut shown = String::new();
    let mut rest = html;
    while let Some(letter) = rest.chars().next() {
        match letter {
            '<' => {
                let end = rest.find('>').ok_or("a tag that never ends")?;
                let tag = &rest[1..end];
                match tag.strip_prefix('/') {
                    Some(name) if open.last() == Some(&name) => drop(open.pop()),
                    Some(name) => return Err(format!("</{name}> ends nothing")),
                    None if ["b", "i", "u", "s", "code", "pre"].contains(&tag) => open.push(tag),
                    None => return Err(format!("<{tag}> is not supported")),
                }
                rest = &rest[end + 1..];
            }
            '>' => return Err("a bare >".to_owned()),
            '&' => {
                let end = rest.find(';').ok_or("a bare &")?;
                shown.push(match &rest[1..end] {
                    "lt" => '<',
                    "gt" => '>',
                    "amp" => '&',
                    "quot" => '"',
                    other => return Err(format!("&{other}; is not supported")),
                });
                rest = &rest[end + 1..];
            }
            other => {
                shown.push(other);
                rest = &rest[other.len_utf8()..];
            }
        }
    }
    if open.is_empty() {
        Ok(shown)
    } else {
        Err(format!("{open:?} never end"))
    }
}

fn markup_violation(markup: &Value) -> Option<String> {
    let rows = markup["inline_keyboard"].as_array()?;
    let buttons: Vec<&Value> = rows.iter().filter_map(Value::as_array).flatten().collect();
    if buttons.len() > 100 {
        return Some(format!("{} buttons", buttons.len()));
    }
    buttons.iter().find_map(|button| {
        let data = button["callback_data"].as_str().unwrap_or_default();
        let label = button["text"].as_str().unwrap_or_default();
        let url = button["url"].as_str();
        if let Some(url) = url {
            let is_one = url.starts_with("https://") && data.is_empty();
            return (!is_one).then(|| format!("a button leads to {url}"));
        }
        if !(1..=64).contains(&data.len()) {
            return Some(format!("a button carries {} bytes", data.len()));
        }
        label
            .trim()
            .is_empty()
            .then(|| "a button says nothing".to_owned())
    })
}

fn commands_violation(commands: &Value) -> Option<String> {
    let commands = commands.as_array()?;
    commands.iter().find_map(|command| {
        let word = command["command"].as_str().unwrap_or_default();
        let says = command["description"].as_str().unwrap_or_default();
        let word_is_well = (1..=32).contains(&word.len())
            && word.bytes().all(|b| b.is_ascii_lowercase() || b == b'_');
        let says_well = (1..=256).contains(&says.chars().count());
        (!word_is_well || !says_well).then(|| format!("command {word}: {says}"))
    })
}

fn album_violation(body: &Value) -> Option<String> {
    let media = body["media"].as_array().cloned().unwrap_or_default();
    if !(2..=10).contains(&media.len()) {
        return Some(format!("an album of {}", media.len()));
    }
    if !body["reply_markup"].is_null() {
        return Some("an album has no buttons".to_owned());
    }
    media.iter().find_map(|photo| {
        let caption = photo["caption"].as_str().unwrap_or_default();
        let wrong = text_violation(caption, photo, 1024);
        wrong.or_else(|| (photo["type"] != "photo").then(|| format!("{}", photo["type"])))
    })
}

fn found_violation(body: &Value) -> Option<String> {
    let results = body["results"].as_array()?;
    if results.len() > 50 {
        return Some(format!("{} results", results.len()));
    }
    let ids: std::collections::BTreeSet<&str> =
        results.iter().filter_map(|it| it["id"].as_str()).collect();
    if ids.len() < results.len() || ids.iter().any(|id| !(1..=64).contains(&id.len())) {
        return Some(format!("results called {ids:?}"));
    }
    results
        .iter()
        .find_map(|it| markup_violation(&it["reply_markup"]))
}
