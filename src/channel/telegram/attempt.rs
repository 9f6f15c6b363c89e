//! One attempt to send something, and what its answer means.

use std::time::Duration;

use teloxide::payloads::{
    EditMessageReplyMarkupSetters, EditMessageTextSetters, SendDocumentSetters, SendMessageSetters,
    SendPhotoSetters,
};
use teloxide::requests::Requester;
use teloxide::types::{
    ChatId, FileId, InlineKeyboardMarkup, InputFile, LinkPreviewOptions, MessageId, ParseMode,
    ReplyMarkup, ThreadId,
};
use teloxide::{ApiError, RequestError};

use super::decode::Place;
use super::line::{Attached, Line};
use crate::report::picture::Png;

/// What the answer to an attempt means.
#[derive(Debug, PartialEq, Eq)]
pub(super) enum Verdict<T> {
    /// It is done.
    Done(T),
    /// The platform asks to wait exactly so long.
    Wait(Duration),
    /// It cannot be told, or may go better later.
    Again(String),
    /// The group has this number now.
    Moved(i64),
    /// It will never be taken.
    Never(String),
}

/// Reads the answer of the platform.
pub(super) fn verdict<T: Default>(answer: Result<T, RequestError>) -> Verdict<T> {
    let error = match answer {
        Ok(done) => return Verdict::Done(done),
        Err(error) => error,
    };
    match error {
        RequestError::RetryAfter(seconds) => Verdict::Wait(seconds.duration()),
        RequestError::Network(_) | RequestError::Io(_) => Verdict::Again(error.to_string()),
        // The answer cannot be read, but its first word can.
        RequestError::InvalidJson { raw, .. } if raw.contains("\"ok\":true") => {
            Verdict::Done(T::default())
        }
        RequestError::InvalidJson { .. } => {
            Verdict::Again("the answer of the platform cannot be read".to_owned())
        }
        RequestError::Api(ApiError::MessageNotModified) => Verdict::Done(T::default()),
        RequestError::Api(ApiError::Unknown(why)) if !is_for_good(&why) => Verdict::Again(why),
        RequestError::MigrateToChatId(chat) => Verdict::Moved(chat.0),
        RequestError::Api(_) => Verdict::Never(error.to_string()),
    }
}

/// Whether a description is of a fault of ours, not one of the platform.
fn is_for_good(why: &str) -> bool {
    [
        "Bad Request",
        "Forbidden",
        "Unauthorized",
        "Not Found",
        "Conflict",
    ]
    .iter()
    .any(|beginning| why.starts_with(beginning))
}

fn thread(place: Place) -> Option<ThreadId> {
    place.thread.map(|thread| ThreadId(MessageId(thread)))
}

pub(super) async fn text(
    line: &Line,
    place: Place,
    html: &str,
    markup: Option<&ReplyMarkup>,
) -> Result<Option<i32>, RequestError> {
    let mut send = line
        .bot()
        .send_message(ChatId(place.chat), html)
        .parse_mode(ParseMode::Html)
        .link_preview_options(NO_PREVIEW);
    if let Some(thread) = thread(place) {
        send = send.message_thread_id(thread);
    }
    if let Some(markup) = markup {
        send = send.reply_markup(markup.clone());
    }
    let message = line.send(send).await?;
    Ok(Some(message.id.0))
}

/// No link of ours is worth a picture.
const NO_PREVIEW: LinkPreviewOptions = LinkPreviewOptions {
    is_disabled: true,
    url: None,
    prefer_small_media: false,
    prefer_large_media: false,
    show_above_text: false,
};

/// Changes the text of a message and its buttons.
pub(super) async fn edit(
    line: &Line,
    place: Place,
    message: i32,
    (html, markup): (&str, InlineKeyboardMarkup),
) -> Result<(), RequestError> {
    let bot = line.bot();
    let edit = bot
        .edit_message_text(ChatId(place.chat), MessageId(message), html)
        .parse_mode(ParseMode::Html)
        .link_preview_options(NO_PREVIEW)
        .reply_markup(markup);
    line.send(edit).await.map(drop)
}

pub(super) async fn keyboard(
    line: &Line,
    place: Place,
    message: i32,
    markup: InlineKeyboardMarkup,
) -> Result<(), RequestError> {
    let bot = line.bot();
    let edit = bot
        .edit_message_reply_markup(ChatId(place.chat), MessageId(message))
        .reply_markup(markup);
    line.send(edit).await.map(drop)
}

/// Sends a picture, by the name that the platform gave it if it has one, and says the name.
pub(super) async fn picture(
    line: &Line,
    place: Place,
    (png, known): (&Png, Option<FileId>),
    (caption, markup): (Option<&str>, Option<&ReplyMarkup>),
) -> Result<Option<FileId>, RequestError> {
    let (file, attached) = match known {
        Some(known) => (InputFile::file_id(known), None),
        None => with(png.bytes.clone(), "picture.png".to_owned()),
    };
    let mut send = line.bot().send_photo(ChatId(place.chat), file);
    if let Some(caption) = caption {
        send = send.caption(caption).parse_mode(ParseMode::Html);
    }
    if let Some(thread) = thread(place) {
        send = send.message_thread_id(thread);
    }
    if let Some(markup) = markup {
        send = send.reply_markup(markup.clone());
    }
    let message = line.send_with(send, attached).await?;
    let largest = message.photo().and_then(<[_]>::last);
    Ok(largest.map(|size| size.file.id.clone()))
}

/// What stands in a request for a file, and the file.
fn with(bytes: Vec<u8>, name: String) -> (InputFile, Option<Attached>) {
    let stands_for_it = InputFile::memory(Vec::new());
    (stands_for_it, Some(Attached { name, bytes }))
}

/// Sends a file with plain words under it.
pub(super) async fn file(
    line: &Line,
    place: Place,
    (bytes, name): (Vec<u8>, String),
    caption: &str,
) -> Result<(), RequestError> {
    let (file, attached) = with(bytes, name);
    let bot = line.bot();
    let mut send = bot.send_document(ChatId(place.chat), file).caption(caption);
    if let Some(thread) = thread(place) {
        send = send.message_thread_id(thread);
    }
    line.send_with(send, attached).await.map(drop)
}

#[cfg(test)]
mod tests {
    use super::*;
    use teloxide::types::Seconds;

    #[test]
    fn answers_of_the_platform_are_told_apart() {
        let of = |error| verdict::<()>(Err(error));
        let api = |text: &str| of(RequestError::Api(ApiError::Unknown(text.to_owned())));
        let wait = of(RequestError::RetryAfter(Seconds::from_seconds(7)));
        assert_eq!(wait, Verdict::Wait(Duration::from_secs(7)));
        assert!(matches!(api("Internal Server Error"), Verdict::Again(_)));
        assert!(matches!(api("Bad Request: no"), Verdict::Never(_)));
        let moved = of(RequestError::MigrateToChatId(ChatId(-100)));
        assert_eq!(moved, Verdict::Moved(-100));
        let blocked = of(RequestError::Api(ApiError::BotBlocked));
        assert!(matches!(blocked, Verdict::Never(_)));
        let same = of(RequestError::Api(ApiError::MessageNotModified));
        assert_eq!(same, Verdict::Done(()));
    }
}
