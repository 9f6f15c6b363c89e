//! What arrives, turned once into a closed set of things that can be meant.

use super::group_decode;
pub use super::group_decode::{
    GroupCommand, GroupNews, InGroup, Posted, PostedWhat, Reply, Standing,
};
use teloxide::types::{
    CallbackQuery, Document, FileMeta, InlineQuery, Location, MaybeInaccessibleMessage, MediaKind,
    Message, MessageKind, Update, UpdateKind, User,
};

use super::token::Token;
use crate::walk::prompt::Action;

use crate::desk::whereabouts::Near;

/// Where somebody speaks: answers go there, and what comes from there is handled in order.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Place {
    /// The chat.
    pub chat: i64,
    /// The thread within it.
    pub thread: Option<i32>,
}

/// Somebody who did something, as the platform names them.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Somebody {
    /// Their number, which is that of their private chat with the bot too.
    pub user: i64,
    /// The first name that the person shows there.
    pub first_name: String,
}

/// One thing that arrived.
#[derive(Clone, Debug, PartialEq)]
pub struct Arrived {
    /// Where.
    pub place: Place,
    /// Whether that is a group with topics.
    pub is_forum: bool,
    /// What tells it from everything else that this bot gets, and stays the same when it is
    /// delivered again.
    pub native: String,
    /// What.
    pub came: Came,
}

impl Arrived {
    /// Somebody may be hurt: it is handled whatever else waits.
    pub(super) fn is_urgent(&self) -> bool {
        let pressed = |press: &Press| {
            let token = Token::decode(&press.data);
            matches!(token, Some(Token::Do(_, Action::Emergency)))
        };
        match &self.came {
            Came::Private(_, Inbound::Command(Command::Hurt, _))
            | Came::InGroup(_, InGroup::Command(GroupCommand::Hurt, _))
            | Came::Nameless(InGroup::Command(GroupCommand::Hurt, _)) => true,
            Came::Private(_, Inbound::Press(press)) | Came::InGroup(_, InGroup::Press(press)) => {
                pressed(press)
            }
            _ => false,
        }
    }
}

/// What can arrive.
#[derive(Clone, Debug, PartialEq)]
pub enum Came {
    /// Somebody did something in their private chat.
    Private(Somebody, Inbound),
    /// Somebody did something in a group that is for the bot.
    InGroup(Somebody, InGroup),
    /// The same by somebody who writes in the group's own name, so that nobody can tell who.
    Nameless(InGroup),
    /// The platform tells of a group.
    News(GroupNews),
    /// Somebody types the bot's name in any chat, and words after it, to find something.
    Seeks(Somebody, Sought),
}

/// What somebody looks for from any chat.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Sought {
    /// What to answer the platform with.
    pub query: String,
    /// The words.
    pub words: String,
    /// How many were shown already.
    pub from: usize,
}

/// What can be meant in a private chat.
#[derive(Clone, Debug, PartialEq)]
pub enum Inbound {
    /// Typed words.
    Text {
        /// The words.
        text: String,
        /// The bot's message that they reply to: its number, and its text if it has one.
        replies_to: Option<(i32, Option<String>)>,
        /// The number of the message with the words.
        message: i32,
    },
    /// A pressed button.
    Press(Press),
    /// A photo, or a picture sent as a file.
    Photo(Photo),
    /// A place on earth; none if there is no such place.
    Location(Option<Near>),
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
    /// The number of the message with it.
    pub message: i32,
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
    /// What is known of an evaporator.
    Evaporator,
    /// Labels for evaporators.
    Labels,
    /// Show a flow as a diagram.
    Flow,
    /// The report of the job at hand.
    Report,
    /// The photos of the job at hand.
    Photos,
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
    /// In which way the person is asked.
    Way,
    /// The locks of people who are away.
    Locks,
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
    /// Anything else.
    Something,
}

/// What an update means; `None` for what needs no answer: what people of a group say to each
/// other, other bots, channels, and kinds that were not asked for. `me` is the bot's name, once
/// the platform told it.
pub fn decode(update: &Update, me: Option<&str>) -> Option<Arrived> {
    match &update.kind {
        UpdateKind::Message(message) => said(message, false, me),
        UpdateKind::EditedMessage(message) => said(message, true, me),
        UpdateKind::CallbackQuery(query) => pressed(query),
        UpdateKind::InlineQuery(query) => sought(query),
        UpdateKind::MyChatMember(moved) => group_decode::moved(moved, update.id.0),
        _ => None,
    }
}

fn said(message: &Message, edited: bool, me: Option<&str>) -> Option<Arrived> {
    if message.chat.is_channel() {
        return None;
    }
    if !message.chat.is_private() {
        return group_decode::said(message, edited, me);
    }
    let somebody = message.from.as_ref().and_then(somebody)?;
    if somebody.user != message.chat.id.0 {
        // A private chat has its person's number: an answer anywhere else would tell others.
        return None;
    }
    let inbound = meant(message, edited)?;
    Some(Arrived {
        native: native(message, edited),
        place: Place {
            chat: message.chat.id.0,
            thread: message.thread_id.map(|thread| thread.0.0),
        },
        is_forum: false,
        came: Came::Private(somebody, inbound),
    })
}

/// What tells a message from every other.
pub(super) fn native(message: &Message, edited: bool) -> String {
    let (chat, number) = (message.chat.id.0, message.id.0);
    match message.media_group_id() {
        // The photos of an album get one answer together.
        Some(group) => format!("album:{chat}:{}", group.0),
        None if edited => format!("edited:{chat}:{number}"),
        None => format!("message:{chat}:{number}"),
    }
}

/// A person; none if it is a bot.
pub(super) fn somebody(user: &User) -> Option<Somebody> {
    if user.is_bot {
        return None;
    }
    Some(Somebody {
        user: i64::try_from(user.id.0).ok()?,
        first_name: user.first_name.clone(),
    })
}

fn meant(message: &Message, edited: bool) -> Option<Inbound> {
    let MessageKind::Common(common) = &message.kind else {
        // News about the chat: a pinned message, a new title.
        return None;
    };
    let unusable = |what| Some(Inbound::Unusable(what));
    if edited {
        // A location that is followed changes by itself, again and again.
        let is_followed = matches!(common.media_kind, MediaKind::Location(_));
        return unusable(Unusable::Edited).filter(|_| !is_followed);
    }
    if message.via_bot.is_some() {
        // A line that somebody picked from what a bot found: nobody typed it as an answer.
        return None;
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
                .max_by_key(|size| u64::from(size.width) * u64::from(size.height));
            let has_caption = photo.caption.is_some();
            largest.map(|size| picture(&size.file, has_caption, message))
        }
        MediaKind::Document(document) if document.media_group_id.is_some() => {
            unusable(Unusable::Album)
        }
        MediaKind::Document(document) => {
            if is_picture(&document.document) {
                let has_caption = document.caption.is_some();
                Some(picture(&document.document.file, has_caption, message))
            } else {
                unusable(Unusable::File)
            }
        }
        MediaKind::Sticker(_) | MediaKind::Animation(_) | MediaKind::Game(_) => {
            unusable(Unusable::Sticker)
        }
        MediaKind::Location(place) => Some(location(&place.location)),
        MediaKind::Venue(place) => Some(location(&place.venue.location)),
        MediaKind::Voice(_) | MediaKind::Audio(_) => unusable(Unusable::Sound),
        MediaKind::Video(_) | MediaKind::VideoNote(_) => unusable(Unusable::Video),
        _ => unusable(Unusable::Something),
    }
}

fn location(location: &Location) -> Inbound {
    Inbound::Location(Near::of(location.latitude, location.longitude))
}

/// Whether a file is a picture.
pub(super) fn is_picture(document: &Document) -> bool {
    let kind = document.mime_type.as_ref();
    kind.is_some_and(|kind| kind.type_() == "image")
}

fn picture(file: &FileMeta, has_caption: bool, message: &Message) -> Inbound {
    Inbound::Photo(photo(file, has_caption, message))
}

pub(super) fn photo(file: &FileMeta, has_caption: bool, message: &Message) -> Photo {
    Photo {
        file: file.id.0.clone(),
        bytes: file.size,
        has_caption,
        message: message.id.0,
    }
}

fn words(text: &str, message: &Message) -> Inbound {
    if let Some(command) = text.strip_prefix('/') {
        return commanded(command);
    }
    let replied = message.reply_to_message();
    let ours = replied.filter(|replied| replied.from.as_ref().is_some_and(|from| from.is_bot));
    Inbound::Text {
        text: text.to_owned(),
        replies_to: ours.map(|replied| (replied.id.0, replied.text().map(str::to_owned))),
        message: message.id.0,
    }
}

fn commanded(text: &str) -> Inbound {
    let (word, rest) = text.split_once(char::is_whitespace).unwrap_or((text, ""));
    // `/job@bot` is how a command from the menu of a group looks.
    let word = word.split('@').next().unwrap_or_default();
    match command(word) {
        Some(command) => Inbound::Command(command, rest.trim().to_owned()),
        None => Inbound::Unusable(Unusable::Command),
    }
}

/// The command for a private chat that this word is.
pub(super) fn command(word: &str) -> Option<Command> {
    Some(match word.to_ascii_lowercase().as_str() {
        "start" => Command::Start,
        "job" => Command::Job,
        "new" => Command::New,
        "jobs" => Command::Jobs,
        "evaporator" => Command::Evaporator,
        "labels" => Command::Labels,
        "flow" => Command::Flow,
        "report" => Command::Report,
        "photos" => Command::Photos,
        "training" => Command::Training,
        "hurt" => Command::Hurt,
        "page" => Command::Page,
        "people" => Command::People,
        "quiet" => Command::Quiet,
        "way" => Command::Way,
        "locks" => Command::Locks,
        "invite" => Command::Invite,
        "help" => Command::Help,
        _ => return None,
    })
}

fn sought(query: &InlineQuery) -> Option<Arrived> {
    let somebody = somebody(&query.from)?;
    Some(Arrived {
        place: Place {
            chat: somebody.user,
            thread: None,
        },
        is_forum: false,
        native: format!("seeks:{}", query.id.0),
        came: Came::Seeks(
            somebody,
            Sought {
                query: query.id.0.clone(),
                words: query.query.clone(),
                from: query.offset.parse().unwrap_or_default(),
            },
        ),
    })
}

fn pressed(query: &CallbackQuery) -> Option<Arrived> {
    let somebody = somebody(&query.from)?;
    let message = query.message.as_ref();
    let chat = message.map(MaybeInaccessibleMessage::chat);
    let regular = message.and_then(MaybeInaccessibleMessage::regular_message);
    let press = Press {
        query: query.id.0.clone(),
        message: message.map(|message| message.id().0),
        under: regular.and_then(Message::text).map(str::to_owned),
        data: query.data.clone().unwrap_or_default(),
    };
    let is_private = chat.is_none_or(|chat| chat.is_private());
    if is_private && chat.is_some_and(|chat| chat.id.0 != somebody.user) {
        return None;
    }
    let thread = regular.and_then(|message| message.thread_id);
    let place = Place {
        chat: chat.map_or(somebody.user, |chat| chat.id.0),
        thread: match (is_private, regular) {
            (true, _) => thread.map(|thread| thread.0.0),
            (false, regular) => regular.and_then(group_decode::topic),
        },
    };
    Some(Arrived {
        place,
        is_forum: chat.is_some_and(group_decode::is_forum),
        native: format!("press:{}", query.id.0),
        came: match is_private {
            true => Came::Private(somebody, Inbound::Press(press)),
            false => Came::InGroup(somebody, InGroup::Press(press)),
        },
    })
}
