//! One attempt to send something, and what its answer means.

use std::time::Duration;

use serde::Deserialize;
use serde::de::IgnoredAny;
use teloxide::payloads::{
    EditMessageReplyMarkupSetters, EditMessageTextSetters, SendDocumentSetters,
    SendMediaGroupSetters, SendMessageSetters, SendPhotoSetters,
};
use teloxide::requests::Requester;
use teloxide::types::{
    ChatId, FileId, InlineKeyboardMarkup, InputFile, InputMedia, InputMediaPhoto,
    LinkPreviewOptions, Message, MessageId, ParseMode, ReplyMarkup, ThreadId,
};
use teloxide::{ApiError, RequestError};

use super::decode::Place;
use super::line::{Attached, Line};

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

impl<T> Verdict<T> {
    /// Its word, where it is counted.
    pub(super) fn word(&self) -> &'static str {
        match self {
            Verdict::Done(_) => "delivered",
            Verdict::Wait(_) => "wait",
            Verdict::Again(_) => "again",
            Verdict::Moved(_) => "moved",
            Verdict::Never(_) => "refused",
        }
    }
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
        // Nothing is wrong with the message: the operator takes another token and starts again.
        RequestError::Api(ApiError::InvalidToken) => Verdict::Again(error.to_string()),
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

/// A message that was sent, as far as it matters.
#[derive(Deserialize)]
struct Numbered {
    message_id: i32,
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
    let Numbered { message_id } = line.send_for(send).await?;
    Ok(Some(message_id))
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
    line.send_for::<IgnoredAny, _>(edit).await.map(drop)
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
    line.send_for::<IgnoredAny, _>(edit).await.map(drop)
}

/// A picture to be sent: by the name that the platform gave it, or with its bytes.
pub(super) enum Shown {
    Known(FileId),
    Bytes(Attached),
}

impl Shown {
    /// What stands for it in a request, and the file that comes along.
    fn parted(self) -> (InputFile, Option<Attached>) {
        match self {
            Shown::Known(name) => (InputFile::file_id(name), None),
            Shown::Bytes(file) => (stands_for_it(), Some(file)),
        }
    }
}

/// What stands in a request for a file that comes along.
fn stands_for_it() -> InputFile {
    InputFile::memory(Vec::new())
}

/// What the platform says of pictures that it took.
#[derive(Default)]
pub(super) struct Pictured {
    /// The name that it gives each, by which it can be sent again.
    pub(super) names: Vec<Option<FileId>>,
    /// The number of the message, if it is one picture.
    pub(super) message: Option<i32>,
}

/// Sends a picture.
pub(super) async fn picture(
    line: &Line,
    place: Place,
    shown: Shown,
    (caption, markup): (Option<&str>, Option<&ReplyMarkup>),
) -> Result<Pictured, RequestError> {
    let (file, attached) = shown.parted();
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
    let attached = attached.into_iter().collect();
    let message = line.send_with(send, attached).await?;
    Ok(Pictured {
        names: vec![name(&message)],
        message: Some(message.id.0),
    })
}

/// Sends pictures as one album, each with its words.
pub(super) async fn album(
    line: &Line,
    place: Place,
    all: Vec<(Shown, &str)>,
) -> Result<Pictured, RequestError> {
    let (mut media, mut attached) = (Vec::new(), Vec::new());
    for (shown, caption) in all {
        let (file, bytes) = shown.parted();
        let photo = InputMediaPhoto::new(file).caption(caption);
        media.push(InputMedia::Photo(photo.parse_mode(ParseMode::Html)));
        attached.extend(bytes);
    }
    let mut send = line.bot().send_media_group(ChatId(place.chat), media);
    if let Some(thread) = thread(place) {
        send = send.message_thread_id(thread);
    }
    let messages = line.send_with(send, attached).await?;
    Ok(Pictured {
        names: messages.iter().map(name).collect(),
        message: None,
    })
}

/// The name of the picture that a message shows, in its full size.
fn name(message: &Message) -> Option<FileId> {
    let largest = message.photo().and_then(<[_]>::last);
    largest.map(|size| size.file.id.clone())
}

/// Sends a file with plain words under it.
pub(super) async fn file(
    line: &Line,
    place: Place,
    (bytes, name): (Vec<u8>, String),
    caption: &str,
) -> Result<(), RequestError> {
    let bot = line.bot();
    let mut send = bot
        .send_document(ChatId(place.chat), stands_for_it())
        .caption(caption);
    if let Some(thread) = thread(place) {
        send = send.message_thread_id(thread);
    }
    let attached = vec![Attached { name, bytes }];
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
        let revoked = of(RequestError::Api(ApiError::InvalidToken));
        assert!(matches!(revoked, Verdict::Again(_)), "kept for a new token");
        let same = of(RequestError::Api(ApiError::MessageNotModified));
        assert_eq!(same, Verdict::Done(()));
    }
}
