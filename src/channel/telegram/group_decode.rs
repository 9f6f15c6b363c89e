//! What arrives from groups, turned once into a closed set of things that can be meant.
//!
//! A group talks among itself. In privacy mode a bot gets only commands, replies to its own
//! messages and what mentions it; as an administrator, or with privacy mode off, it gets
//! everything. Both give the same here: what is not for the bot is `None`.

use teloxide::types::{
    Chat, ChatKind, ChatMemberKind, ChatMemberUpdated, ChatMigration, MediaKind, Message,
    MessageCommon, MessageKind, MessageOrigin, PublicChatKind,
};

use super::decode::{
    Arrived, Came, Command, Photo, Place, Press, Somebody, Unusable, command, is_picture, native,
    photo, somebody,
};

/// How the line of a card begins that names the edition, so that a card that was sent on can be
/// known again.
pub(super) const EDITION: &str = "Edition ";

/// What somebody can mean in a group.
#[derive(Clone, Debug, PartialEq)]
pub enum InGroup {
    /// One of the commands that groups have, with what follows it.
    Command(GroupCommand, String),
    /// A command that only works in a private chat.
    PrivateCommand(Command),
    /// An answer to a message of the bot.
    Reply(Reply),
    /// A file, or the card that the bot made of one.
    Posted(Posted),
    /// A photo that answers a message of the bot.
    Photo(Photo, Answered),
    /// A pressed button.
    Press(Press),
    /// The bot's name and nothing that it could do.
    Mention,
    /// Something for the bot that has no effect.
    Unusable(Unusable),
}

/// The message of the bot that is answered.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Answered {
    /// Its number.
    pub message: i32,
    /// Its text, where the platform still has it.
    pub text: Option<String>,
}

/// A typed answer to a message of the bot.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Reply {
    /// The words.
    pub text: String,
    /// The number of the message with the words.
    pub message: i32,
    /// What they answer.
    pub to: Answered,
}

/// What somebody posted that may be a flow, a kit or a speed book.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Posted {
    /// It.
    pub what: PostedWhat,
    /// Whether it is for the bot: posted with `/flow` or its name above it, as an answer to it,
    /// or answered with `/flow`. What is not gets an answer only if it is one of a crew's files.
    pub is_for_us: bool,
    /// Whether it was posted elsewhere first.
    pub is_forwarded: bool,
}

/// What was posted.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum PostedWhat {
    /// A file to fetch, with how many bytes it is said to have.
    File(String, u32),
    /// A card of the bot from elsewhere, by the beginning of the edition that stands on it.
    Card(String),
}

/// The commands of groups.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum GroupCommand {
    /// Make the group the crew's.
    Bind,
    /// End that it is.
    Unbind,
    /// The crew's flows.
    Flow,
    /// Who walks which edition.
    Who,
    /// Run a job here.
    Here,
    /// The emergency screen.
    Hurt,
    /// What the bot does in groups.
    Help,
}

/// What the platform tells of a group.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum GroupNews {
    /// How the bot stands in it from then on.
    Stands {
        /// So.
        standing: Standing,
        /// What the group is called.
        title: String,
        /// Whether the bot was not in it before.
        is_new: bool,
    },
    /// It has another number from then on.
    Moved {
        /// The number that it had.
        from: i64,
        /// The number that it has.
        to: i64,
    },
}

/// How the bot stands in a group.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Standing {
    /// As anybody, or as an administrator.
    In {
        /// Whether it may make topics where the group has them.
        makes_topics: bool,
    },
    /// It is in it and may not write.
    Mute,
    /// It is in it and may write, but post no photos or files.
    NoFiles,
    /// It is not in it.
    Out,
}

/// What a message in a group means; `None` for what people say to each other.
pub(super) fn said(message: &Message, edited: bool, me: Option<&str>) -> Option<Arrived> {
    let MessageKind::Common(common) = &message.kind else {
        return None;
    };
    let arrived = |came| Arrived {
        place: Place {
            chat: message.chat.id.0,
            thread: topic(message),
        },
        is_forum: is_forum(&message.chat),
        native: native(message, edited),
        came,
    };
    if let MediaKind::Migration(migration) = &common.media_kind {
        return Some(arrived(Came::News(moved_to(message, migration))));
    }
    // An edited message was for the bot before, or was not; either way it changes nothing here.
    // Nor does a line that somebody picked from what a bot found.
    if edited || message.via_bot.is_some() {
        return None;
    }
    let meant = meant(message, common, me)?;
    if let Some(chat) = &message.sender_chat {
        // An administrator without a name; the posts of a linked channel are for nobody.
        let is_the_group = chat.id == message.chat.id;
        return is_the_group.then(|| arrived(Came::Nameless(meant)));
    }
    let somebody: Somebody = message.from.as_ref().and_then(somebody)?;
    Some(arrived(Came::InGroup(somebody, meant)))
}

/// Whether a chat is a group with topics.
pub(super) fn is_forum(chat: &Chat) -> bool {
    let ChatKind::Public(chat) = &chat.kind else {
        return false;
    };
    matches!(&chat.kind, PublicChatKind::Supergroup(group) if group.is_forum)
}

/// The forum topic of a message. Without topics a thread is only a row of replies, and what is
/// sent to it as to a topic is refused.
pub(super) fn topic(message: &Message) -> Option<i32> {
    let thread = message.thread_id.filter(|_| message.is_topic_message);
    thread.map(|thread| thread.0.0)
}

fn moved_to(message: &Message, migration: &ChatMigration) -> GroupNews {
    let here = message.chat.id.0;
    match migration {
        ChatMigration::To { chat_id } => GroupNews::Moved {
            from: here,
            to: chat_id.0,
        },
        ChatMigration::From { chat_id } => GroupNews::Moved {
            from: chat_id.0,
            to: here,
        },
    }
}

fn meant(message: &Message, common: &MessageCommon, me: Option<&str>) -> Option<InGroup> {
    let answered = answered(message, common, me);
    let words = message.text().or(message.caption()).unwrap_or_default();
    let call = call(words, me);
    if let Some(posted) = posted(message, common, &call, (answered.is_some(), me)) {
        return Some(InGroup::Posted(posted));
    }
    match &common.media_kind {
        MediaKind::Document(document) if is_picture(&document.document) => {
            let to = answered?;
            if document.media_group_id.is_some() {
                return Some(InGroup::Unusable(Unusable::Album));
            }
            if common.forward_origin.is_some() {
                return Some(InGroup::Unusable(Unusable::Forwarded));
            }
            let photo = photo(&document.document.file, document.caption.is_some(), message);
            Some(InGroup::Photo(photo, to))
        }
        MediaKind::Photo(sizes) => {
            let to = answered?;
            if sizes.media_group_id.is_some() {
                return Some(InGroup::Unusable(Unusable::Album));
            }
            if common.forward_origin.is_some() {
                return Some(InGroup::Unusable(Unusable::Forwarded));
            }
            let largest = sizes
                .photo
                .iter()
                .max_by_key(|size| u64::from(size.width) * u64::from(size.height))?;
            let photo = photo(&largest.file, sizes.caption.is_some(), message);
            Some(InGroup::Photo(photo, to))
        }
        MediaKind::Text(text) => match (call, answered) {
            (Call::Command(command, rest), _) => Some(InGroup::Command(command, rest)),
            (Call::Private(command), _) => Some(InGroup::PrivateCommand(command)),
            (Call::Unknown, _) => Some(InGroup::Unusable(Unusable::Command)),
            (Call::None | Call::Name, Some(_)) if common.forward_origin.is_some() => {
                Some(InGroup::Unusable(Unusable::Forwarded))
            }
            (Call::None | Call::Name, Some(to)) => Some(InGroup::Reply(Reply {
                text: text.text.clone(),
                message: message.id.0,
                to,
            })),
            (Call::Name, None) => Some(InGroup::Mention),
            (Call::None, None) => None,
        },
        _ => answered.map(|_| InGroup::Unusable(Unusable::Something)),
    }
}

/// What a message posts, or what it answers with `/flow`.
fn posted(
    message: &Message,
    common: &MessageCommon,
    call: &Call,
    (answers_us, me): (bool, Option<&str>),
) -> Option<Posted> {
    let is_flow = matches!(call, Call::Command(GroupCommand::Flow, _));
    let here = what_is_posted(message, me).map(|what| Posted {
        what,
        is_for_us: is_flow || answers_us || matches!(call, Call::Name),
        is_forwarded: common.forward_origin.is_some(),
    });
    let answered = common.reply_to_message.as_deref().filter(|_| is_flow);
    here.or_else(|| {
        let answered = answered?;
        Some(Posted {
            what: what_is_posted(answered, me)?,
            is_for_us: true,
            is_forwarded: answered.forward_origin().is_some(),
        })
    })
}

fn what_is_posted(message: &Message, me: Option<&str>) -> Option<PostedWhat> {
    if let Some(document) = message.document().filter(|document| !is_picture(document)) {
        let file = &document.file;
        return Some(PostedWhat::File(file.id.0.clone(), file.size));
    }
    let MessageOrigin::User { sender_user, .. } = message.forward_origin()? else {
        return None;
    };
    let name = sender_user.username.as_deref();
    let is_ours = sender_user.is_bot && name.zip(me).is_some_and(|(name, me)| is_same(name, me));
    let words = message.text().or(message.caption()).filter(|_| is_ours)?;
    let edition = words.lines().find_map(|line| line.strip_prefix(EDITION))?;
    Some(PostedWhat::Card(edition.trim().to_owned()))
}

/// The bot's own message that a message replies to.
fn answered(message: &Message, common: &MessageCommon, me: Option<&str>) -> Option<Answered> {
    let to = common.reply_to_message.as_ref()?;
    // In a topic every message hangs on the one that made the topic, which may be the bot's.
    if topic(message) == Some(to.id.0) {
        return None;
    }
    let from = to.from.as_ref().filter(|from| from.is_bot)?;
    // Other bots may be in the group too.
    let named = |me| {
        from.username
            .as_deref()
            .is_none_or(|name| is_same(name, me))
    };
    me.is_none_or(named).then(|| Answered {
        message: to.id.0,
        text: to.text().or(to.caption()).map(str::to_owned),
    })
}

/// How words begin, or that they name the bot.
enum Call {
    Command(GroupCommand, String),
    Private(Command),
    /// A command of ours by its name, and none that we know.
    Unknown,
    /// They hold the bot's name.
    Name,
    /// They are for nobody or another bot.
    None,
}

fn call(words: &str, me: Option<&str>) -> Call {
    let Some(said) = words.strip_prefix('/') else {
        let named = |word: &str| {
            let name = word.strip_prefix('@');
            let name = name.map(|name| name.trim_end_matches(|c: char| !c.is_alphanumeric()));
            name.is_some_and(|name| me.is_some_and(|me| is_same(name, me)))
        };
        return match words.split_whitespace().any(named) {
            true => Call::Name,
            false => Call::None,
        };
    };
    let (word, rest) = said.split_once(char::is_whitespace).unwrap_or((said, ""));
    let (word, to) = match word.split_once('@') {
        Some((word, to)) => (word, Some(to)),
        None => (word, None),
    };
    if let (Some(to), Some(me)) = (to, me)
        && !is_same(to, me)
    {
        return Call::None;
    }
    match (group_command(word), command(word)) {
        (Some(command), _) => Call::Command(command, rest.trim().to_owned()),
        (None, Some(command)) => Call::Private(command),
        // Without a name it may be for another bot.
        (None, None) if to.is_some() => Call::Unknown,
        (None, None) => Call::None,
    }
}

fn group_command(word: &str) -> Option<GroupCommand> {
    Some(match word.to_ascii_lowercase().as_str() {
        "bind" => GroupCommand::Bind,
        "unbind" => GroupCommand::Unbind,
        "flow" => GroupCommand::Flow,
        "who" => GroupCommand::Who,
        "here" => GroupCommand::Here,
        "hurt" => GroupCommand::Hurt,
        "help" | "start" => GroupCommand::Help,
        _ => return None,
    })
}

/// The platform takes names in small and large letters for the same.
fn is_same(name: &str, other: &str) -> bool {
    name.eq_ignore_ascii_case(other)
}

/// The bot stands otherwise in a group than before.
pub(super) fn moved(moved: &ChatMemberUpdated, update: u32) -> Option<Arrived> {
    let ChatKind::Public(chat) = &moved.chat.kind else {
        // Somebody blocked the bot in their private chat, or let it in again.
        return None;
    };
    if matches!(chat.kind, PublicChatKind::Channel(_)) {
        return None;
    }
    let standing = standing(&moved.new_chat_member.kind);
    let was_in = standing_in(&moved.old_chat_member.kind);
    let title = chat.title.clone().unwrap_or_default();
    Some(Arrived {
        place: Place {
            chat: moved.chat.id.0,
            thread: None,
        },
        is_forum: is_forum(&moved.chat),
        native: format!("stands:{}:{update}", moved.chat.id.0),
        came: Came::News(GroupNews::Stands {
            standing,
            title,
            is_new: !was_in && standing != Standing::Out,
        }),
    })
}

fn standing_in(kind: &ChatMemberKind) -> bool {
    standing(kind) != Standing::Out
}

fn standing(kind: &ChatMemberKind) -> Standing {
    match kind {
        ChatMemberKind::Owner(_) => Standing::In { makes_topics: true },
        ChatMemberKind::Administrator(may) => Standing::In {
            makes_topics: may.can_manage_topics,
        },
        ChatMemberKind::Member(_) => Standing::In {
            makes_topics: false,
        },
        ChatMemberKind::Restricted(may) if !may.is_member => Standing::Out,
        ChatMemberKind::Restricted(may) if !may.can_send_messages => Standing::Mute,
        ChatMemberKind::Restricted(may) if !may.can_send_photos || !may.can_send_documents => {
            Standing::NoFiles
        }
        ChatMemberKind::Restricted(may) => Standing::In {
            makes_topics: may.can_manage_topics,
        },
        ChatMemberKind::Left | ChatMemberKind::Banned(_) => Standing::Out,
    }
}
