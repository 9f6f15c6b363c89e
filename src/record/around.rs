//! Entries of the streams around jobs: crews, people, evaporators, flows, the server.
//!
//! They hold ids and hashes only: a name is in a table that can be erased, and of a code or a
//! token nothing but its hash is written.

use std::collections::BTreeSet;

use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::chain::Hash;
use super::entry::Channel;
use super::person::PersonId;
use super::scope::Scope;
use super::seal::PublicKey;
use crate::flow::model::Role;
use crate::flow::name::{CompetenceName, FlowName};

/// The version of the format of these entries.
///
/// Since 2 a crew's stream also says what became of proposed rows of the speed book; since 3 the
/// server's stream names the keys that seal records; since 4 a crew's stream says its time zone,
/// which codes were withdrawn, and of the tokens and addresses of other programs, and a person's
/// tells of passwords, of ended sessions, and of what the person looked at; since then an entry
/// names the token through which it came. Since 5 a look may be at an evaporator or at the list of
/// all jobs, and a crew's stream tells of looks of the operator, which groups of a chat are the
/// crew's, who has shown what, and which flows were taken over from another crew, and an
/// evaporator's where it is.
pub const AROUND_FORMAT: u16 = 5;

/// One entry of a stream that is not a job's.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Happening<W> {
    /// The format, [`AROUND_FORMAT`] when written.
    pub v: u16,
    /// When it happened.
    pub at: Timestamp,
    /// Who did it; nobody for the server or its operator.
    pub who: Option<PersonId>,
    /// The channel it came through.
    pub channel: Channel,
    /// The token of the program that did it in the person's name.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub token: Option<Uuid>,
    /// What happened.
    pub what: W,
}

/// What happened to a crew.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "what", rename_all = "snake_case")]
pub enum CrewWhat {
    /// It was founded.
    Founded,
    /// A code to join was given out.
    Invited {
        /// The hash of the code.
        code: Hash,
        /// What whoever uses it becomes.
        roles: BTreeSet<Role>,
        /// It works until then.
        until: Timestamp,
    },
    /// A code to join was withdrawn before anybody used it.
    InvitationWithdrawn {
        /// The hash of the code.
        code: Hash,
    },
    /// A person joined.
    Joined {
        /// Who.
        person: PersonId,
        /// In which roles.
        roles: BTreeSet<Role>,
        /// The hash of the code used; none through an open door.
        code: Option<Hash>,
    },
    /// A person was given other roles; none at all means that they left.
    RolesSet {
        /// Who.
        person: PersonId,
        /// All roles from then on.
        roles: BTreeSet<Role>,
    },
    /// A supervisor signed that a person has shown something.
    SignedOff {
        /// Who has shown it.
        person: PersonId,
        /// What.
        competence: CompetenceName,
        /// What people called it then.
        label: String,
        /// It counts until then; none if it has no end.
        until: Option<Timestamp>,
    },
    /// A sign-off was taken back.
    SignOffWithdrawn {
        /// Whose.
        person: PersonId,
        /// What it was for.
        competence: CompetenceName,
    },
    /// An evaporator was added.
    EvaporatorAdded {
        /// Which.
        evaporator: Uuid,
    },
    /// The crew's kit was changed.
    KitSet {
        /// The hash of its text.
        revision: Hash,
        /// The other crew that it was taken over from.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        origin: Option<Uuid>,
    },
    /// The crew's speed book was changed.
    SpeedBookSet {
        /// The hash of its text.
        revision: Hash,
        /// The other crew that it was taken over from.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        origin: Option<Uuid>,
    },
    /// The row that a job proposed went into the speed book.
    RowAccepted {
        /// The job.
        job: Uuid,
        /// The hash of the speed book's text with the row.
        revision: Hash,
    },
    /// The row that a job proposed was not wanted.
    RowDeclined {
        /// The job.
        job: Uuid,
    },
    /// The crew was given a time zone, by its name in the IANA's database.
    ZoneSet {
        /// The name.
        zone: String,
    },
    /// Flows of the crew's own were published; from then on its new jobs walk them.
    FlowsPublished {
        /// The hash of all their sources.
        sources: Hash,
        /// The files that differ from those before.
        changed: Vec<String>,
        /// What whoever published them wrote about it.
        note: String,
        /// The edition of another crew that they were taken over from.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        origin: Option<FlowOrigin>,
    },
    /// A token for another program was made.
    TokenMade {
        /// Its number.
        token: Uuid,
        /// The hash of its secret.
        secret: Hash,
        /// What it is for, in words.
        what_for: String,
        /// What it is good for.
        scopes: BTreeSet<Scope>,
        /// It works until then.
        until: Timestamp,
    },
    /// A token was taken back.
    TokenRevoked {
        /// Its number.
        token: Uuid,
    },
    /// An address is called from then on when something happens to a job.
    WebhookSet {
        /// Its number.
        webhook: Uuid,
        /// The address.
        url: String,
        /// When it is called.
        events: BTreeSet<WebhookEvent>,
    },
    /// An address is not called any more.
    WebhookRemoved {
        /// Its number.
        webhook: Uuid,
    },
    /// Calls to an address are signed with a new secret.
    WebhookSecretRenewed {
        /// Its number.
        webhook: Uuid,
    },
    /// A call was tried for days in vain and given up.
    WebhookGivenUp {
        /// The number of the address.
        webhook: Uuid,
        /// What the call was about.
        event: String,
    },
    /// The operator looked at what names people of the crew; once for an hour of looking at the
    /// same.
    OperatorLooked {
        /// At what.
        at: LookedAt,
    },
    /// A group of a chat is the crew's from then on.
    GroupBound {
        /// Its number at the chat.
        group: i64,
    },
    /// The chat gave a group of the crew another number.
    GroupMoved {
        /// The number that it had.
        from: i64,
        /// The number that it has.
        to: i64,
    },
    /// A group is not the crew's any more.
    GroupUnbound {
        /// Its number.
        group: i64,
        /// Why.
        why: GroupEnd,
    },
}

/// Where flows were taken over from.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct FlowOrigin {
    /// The other crew.
    pub crew: Uuid,
    /// Its edition's hash, hexadecimal.
    pub edition: String,
}

/// Why a group is not a crew's any more.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum GroupEnd {
    /// A supervisor said so.
    Unbound,
    /// The bot was taken out of it.
    BotRemoved,
}

/// What another program can be told of.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum WebhookEvent {
    /// A job was handed in.
    HandedIn,
    /// A job was sent back.
    SentBack,
    /// A job was accepted.
    Accepted,
    /// A job was left locked out.
    LeftLockedOut,
}

impl WebhookEvent {
    /// Every event.
    pub const ALL: [WebhookEvent; 4] = [
        WebhookEvent::HandedIn,
        WebhookEvent::SentBack,
        WebhookEvent::Accepted,
        WebhookEvent::LeftLockedOut,
    ];

    /// Its stable name.
    pub const fn word(self) -> &'static str {
        match self {
            WebhookEvent::HandedIn => "handed-in",
            WebhookEvent::SentBack => "sent-back",
            WebhookEvent::Accepted => "accepted",
            WebhookEvent::LeftLockedOut => "left-locked-out",
        }
    }
}

/// What happened to a person.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "what", rename_all = "snake_case")]
pub enum PersonWhat {
    /// A code to sign in at another channel was given out.
    CodeGiven {
        /// The hash of the code.
        code: Hash,
        /// It works until then.
        until: Timestamp,
    },
    /// The person signed in at another channel.
    SignedIn {
        /// The hash of the code used.
        code: Hash,
    },
    /// The person set a password, or another one; nothing that follows from it is written here.
    PasswordSet,
    /// The person signs in without a password from then on.
    PasswordRemoved,
    /// The person signed in with the password.
    PasswordUsed,
    /// A session was ended before its time.
    SessionEnded {
        /// The hash of its token.
        session: Hash,
    },
    /// The person looked at what names people; once for an hour of looking at the same.
    Looked {
        /// At what.
        at: LookedAt,
    },
}

/// What names people, and is not what the person works on just now.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "thing", rename_all = "snake_case")]
pub enum LookedAt {
    /// The list of the crew's people.
    People,
    /// The record of a job: its checklist, readings, photos, or the file of it.
    Record {
        /// The job.
        job: Uuid,
    },
    /// The list of who looked at what.
    Looks,
    /// The page of an evaporator, whose jobs name people.
    Evaporator {
        /// The evaporator.
        evaporator: Uuid,
    },
    /// The list of all jobs, which names people and is searched by their names.
    Jobs,
}

/// What happened to an evaporator.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "what", rename_all = "snake_case")]
pub enum EvaporatorWhat {
    /// It was added.
    Added {
        /// To which crew's list.
        crew: Uuid,
        /// Where: the shop, the building.
        site: String,
        /// What is written on it.
        tag: String,
        /// Where it hangs.
        hangs: String,
    },
    /// Somebody said where it is, roughly: in thousandths of a degree, north and east above zero.
    Located {
        /// How far north.
        latitude: i32,
        /// How far east.
        longitude: i32,
    },
    /// A job began on it.
    JobBegun {
        /// Which.
        job: Uuid,
    },
}

/// What happened to a flow.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "what", rename_all = "snake_case")]
pub enum FlowWhat {
    /// An edition of it was published.
    Published {
        /// The flow.
        flow: FlowName,
        /// The edition's hash, hexadecimal.
        edition: String,
        /// The hash of its kept sources.
        sources: Hash,
    },
}

/// What happened to the server as a whole.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "what", rename_all = "snake_case")]
pub enum ServerWhat {
    /// A code that founds a crew was given out.
    FoundingCodeGiven {
        /// The hash of the code.
        code: Hash,
        /// It works until then.
        until: Timestamp,
    },
    /// A crew was founded.
    CrewFounded {
        /// Which.
        crew: Uuid,
        /// The hash of the code used; none through an open door.
        code: Option<Hash>,
    },
    /// A code that founds a crew was used for one that had no supervisor.
    FoundingCodeUsed {
        /// Which crew.
        crew: Uuid,
    },
    /// From then on this key seals records; those before it stay known.
    SealKeyTaken {
        /// The public half of it.
        key: PublicKey,
    },
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_entry_of_the_third_format_still_reads() {
        let text = r#"{"v":3,"at":"2026-03-04T10:00:00Z","who":"01890000-0000-7000-8000-000000000000",
            "channel":"browser","what":{"what":"signed_in","code":
            "0000000000000000000000000000000000000000000000000000000000000000"}}"#;
        let read: Happening<PersonWhat> = serde_json::from_str(text).unwrap();
        assert_eq!(
            read.what,
            PersonWhat::SignedIn {
                code: Hash([0; 32])
            }
        );
    }

    #[test]
    fn an_entry_of_the_fourth_format_still_reads() {
        let text = r#"{"v":4,"at":"2026-09-04T10:00:00Z","who":"01890000-0000-7000-8000-000000000000",
            "channel":"telegram","what":{"what":"zone_set","zone":"America/Chicago"}}"#;
        let read: Happening<CrewWhat> = serde_json::from_str(text).unwrap();
        let zone = "America/Chicago".to_owned();
        assert_eq!((read.v, read.what), (4, CrewWhat::ZoneSet { zone }));
    }

    #[test]
    fn a_group_of_the_fifth_format_reads_back() {
        let what = CrewWhat::GroupUnbound {
            group: -1_001_234,
            why: GroupEnd::BotRemoved,
        };
        let text = serde_json::to_string(&what).unwrap();
        let kept = r#"{"what":"group_unbound","group":-1001234,"why":"bot_removed"}"#;
        assert_eq!(text, kept);
        assert_eq!(serde_json::from_str::<CrewWhat>(kept).unwrap(), what);
    }
}
