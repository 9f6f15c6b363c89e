//! What arrives, turned once into a closed set of things that can be meant.

use teloxide::types::{
    CallbackQuery, FileMeta, MaybeInaccessibleMessage, MediaKind, Message, MessageKind, Update,
    UpdateKind, User,
};

/// Where somebody speaks: answers go there, and what comes from there is handled in order.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Place {
    /// The chat.
    pub chat: i64,
    /// The thread within it.
    pub thread: Option<i32>,
}

/// One thing that somebody did.
#[derive(Clone, Debug, PartialEq)]
pub struct Arrived {
    /// Where.
    pub place: Place,
    /// Who.
    pub user: i64,
    /// The first name that the person shows there.
    pub first_name: String,
    /// What tells it from everything else that this bot gets, and stays the same when it is
    /// delivered again.
    pub native: String,
    /// What.
    pub inbound: Inbound,
}

/// What can be meant.
#[derive(Clone, Debug, PartialEq)]
pub enum Inbound {
    /// Typed words.
    Text {
        /// The words.
        text: String,
        /// The text of the bot's message that they reply to.
        replies_to: Option<String>,
    },
    /// A pressed button.
    Press(Press),
    /// A photo, or a picture sent as a file.
    Photo(Photo),
    /// One of the commands with what follows it.
    Command(Command, String),
    /// Something that has no effect but gets an answer.
    Unusable(Unusable),
}

/// A pressed button.
#[derive(Clone, Debug, PartialEq)]
pub struct Press {
    /// What to answer the platform with.
    pub query: String,
    /// The message that the button stands under.
    pub message: Option<i32>,
    /// The text of that message, where the platform still has it.
    pub under: Option<String>,
    /// What the button carries.
    pub data: String,
    /// In a group, where nothing is shown.
    pub private: bool,
}

/// A photo.
#[derive(Clone, Debug, PartialEq)]
pub struct Photo {
    /// What to fetch.
    pub file: String,
    /// How large it is said to be.
    pub bytes: u32,
    /// Words stand under it.
    pub has_caption: bool,
}

/// The commands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Command {
    /// Join, or say what this is.
    Start,
    /// Show the job at hand.
    Job,
    /// Begin a job.
    New,
    /// List jobs.
    Jobs,
    /// Show a flow as a diagram.
    Flow,
    /// The report of the job at hand.
    Report,
    /// Begin a training walk.
    Training,
    /// The emergency screen.
    Hurt,
    /// A code to sign in on the page.
    Page,
    /// The crew and its roles.
    People,
    /// A code for somebody new.
    Invite,
    /// When the person is not to be reminded of anything.
    Quiet,
    /// What the bot can do.
    Help,
}

/// What has no effect.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Unusable {
    /// A sticker, an animation or a die.
    Sticker,
    /// A voice message or other sound.
    Sound,
    /// A video.
    Video,
    /// A file that is no picture.
    File,
    /// A message that was changed after it was sent.
    Edited,
    /// Somebody else's message.
    Forwarded,
    /// One of several photos sent together.
    Album,
    /// A command that is not known.
    Command,
    /// A message to a group.
    Group,
    /// Anything else.
    Something,
}

/// What an update means; `None` for what needs no answer: news about the chat itself, other
/// bots, channels, and kinds that were not asked for.
pub fn decode(update: &Update) -> Option<Arrived> {
    match &update.kind {
        UpdateKind::Message(message) => said(message, false),
        UpdateKind::EditedMessage(message) => said(message, true),
        UpdateKind::CallbackQuery(query) => pressed(query),
        _ => None,
    }
}

fn said(message: &Message, edited: bool) -> Option<Arrived> {
    let from = message.from.as_ref().filter(|user| !user.is_bot)?;
    if message.chat.is_channel() || message.sender_chat.is_some() {
        return None;
    }
    let inbound = meant(message, edited)?;
    let place = Place {
        chat: message.chat.id.0,
        thread: message.thread_id.map(|thread| thread.0.0),
    };
    let native = match message.media_group_id() {
        // The photos of an album get one answer together.
        Some(group) => format!("album:{}:{}", place.chat, group.0),
        None if edited => format!("edited:{}:{}", place.chat, message.id.0),
        None => format!("message:{}:{}", place.chat, message.id.0),
    };
    Some(Arrived {
        native,
        place,
        user: number(from)?,
        first_name: from.first_name.clone(),
        inbound,
    })
}

fn meant(message: &Message, edited: bool) -> Option<Inbound> {
    let MessageKind::Common(common) = &message.kind else {
        // News about the chat: a pinned message, a new title.
        return None;
    };
    if !message.chat.is_private() {
        // A group talks among itself; only what is said to the bot gets an answer.
        let to_us = message.text().is_some_and(|text| text.starts_with('/'));
        return to_us.then_some(Inbound::Unusable(Unusable::Group));
    }
    let unusable = |what| Some(Inbound::Unusable(what));
    if edited {
        return unusable(Unusable::Edited);
    }
    if common.forward_origin.is_some() {
        return unusable(Unusable::Forwarded);
    }
    match &common.media_kind {
        MediaKind::Text(text) => Some(words(&text.text, message)),
        MediaKind::Photo(photo) if photo.media_group_id.is_some() => unusable(Unusable::Album),
        MediaKind::Photo(photo) => {
            let largest = photo
                .photo
                .iter()
                .max_by_key(|size| size.width * size.height);
            let has_caption = photo.caption.is_some();
            largest.map(|size| picture(&size.file, has_caption))
        }
        MediaKind::Document(document) if document.media_group_id.is_some() => {
            unusable(Unusable::Album)
        }
        MediaKind::Document(document) => {
            let kind = document.document.mime_type.as_ref();
            let is_picture = kind.is_some_and(|kind| kind.type_() == "image");
            if is_picture {
                Some(picture(&document.document.file, document.caption.is_some()))
            } else {
                unusable(Unusable::File)
            }
        }
        MediaKind::Sticker(_) | MediaKind::Animation(_) | MediaKind::Game(_) => {
            unusable(Unusable::Sticker)
        }
        MediaKind::Voice(_) | MediaKind::Audio(_) => unusable(Unusable::Sound),
        MediaKind::Video(_) | MediaKind::VideoNote(_) => unusable(Unusable::Video),
        _ => unusable(Unusable::Something),
    }
}

fn picture(file: &FileMeta, has_caption: bool) -> Inbound {
    Inbound::Photo(Photo {
        file: file.id.0.clone(),
        bytes: file.size,
        has_caption,
    })
}

fn words(text: &str, message: &Message) -> Inbound {
    if let Some(command) = text.strip_prefix('/') {
        return commanded(command);
    }
    let replied = message.reply_to_message();
    let ours = replied.filter(|replied| replied.from.as_ref().is_some_and(|from| from.is_bot));
    Inbound::Text {
        text: text.to_owned(),
        replies_to: ours.and_then(Message::text).map(str::to_owned),
    }
}

fn commanded(text: &str) -> Inbound {
    let (word, rest) = text.split_once(char::is_whitespace).unwrap_or((text, ""));
    // `/job@bot` is how a command from the menu of a group looks.
    let word = word.split('@').next().unwrap_or_default();
    let command = match word.to_ascii_lowercase().as_str() {
        "start" => Command::Start,
        "job" => Command::Job,
        "new" => Command::New,
        "jobs" => Command::Jobs,
        "flow" => Command::Flow,
        "report" => Command::Report,
        "training" => Command::Training,
        "hurt" => Command::Hurt,
        "page" => Command::Page,
        "people" => Command::People,
        "quiet" => Command::Quiet,
        "invite" => Command::Invite,
        "help" => Command::Help,
        _ => return Inbound::Unusable(Unusable::Command),
    };
    Inbound::Command(command, rest.trim().to_owned())
}

fn pressed(query: &CallbackQuery) -> Option<Arrived> {
    let user = number(&query.from)?;
    let message = query.message.as_ref();
    let chat = message.map(MaybeInaccessibleMessage::chat);
    let regular = message.and_then(MaybeInaccessibleMessage::regular_message);
    let thread = regular.and_then(|message| message.thread_id);
    Some(Arrived {
        place: Place {
            chat: chat.map_or(user, |chat| chat.id.0),
            thread: thread.map(|thread| thread.0.0),
        },
        user,
        first_name: query.from.first_name.clone(),
        native: format!("press:{}", query.id.0),
        inbound: Inbound::Press(Press {
            query: query.id.0.clone(),
            message: message.map(|message| message.id().0),
            under: regular.and_then(Message::text).map(str::to_owned),
            data: query.data.clone().unwrap_or_default(),
            private: chat.is_none_or(|chat| chat.is_private()),
        }),
    })
}

fn number(user: &User) -> Option<i64> {
    i64::try_from(user.id.0).ok()
}
