//! Names of streams and places in them.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};
use uuid::Uuid;

/// What a stream is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum StreamKind {
    /// One call-out to one evaporator; its stream is the job's record.
    Job,
    /// One piece of equipment, which outlives its jobs.
    Evaporator,
    /// One team.
    Crew,
    /// One person.
    Person,
    /// One flow and the editions published of it.
    Flow,
    /// The server as a whole.
    Server,
}

impl StreamKind {
    /// Every kind, in the order of their codes.
    pub const ALL: [StreamKind; 6] = [
        StreamKind::Job,
        StreamKind::Evaporator,
        StreamKind::Crew,
        StreamKind::Person,
        StreamKind::Flow,
        StreamKind::Server,
    ];

    /// The word before the colon in a stream's text form.
    pub const fn word(self) -> &'static str {
        match self {
            StreamKind::Job => "job",
            StreamKind::Evaporator => "evaporator",
            StreamKind::Crew => "crew",
            StreamKind::Person => "person",
            StreamKind::Flow => "flow",
            StreamKind::Server => "server",
        }
    }

    /// One stable byte for files and indexes; a code is never given to another kind.
    pub const fn code(self) -> u8 {
        match self {
            StreamKind::Job => 1,
            StreamKind::Evaporator => 2,
            StreamKind::Crew => 3,
            StreamKind::Person => 4,
            StreamKind::Flow => 5,
            StreamKind::Server => 6,
        }
    }

    /// The kind with this code, if there is one.
    pub fn from_code(code: u8) -> Option<StreamKind> {
        StreamKind::ALL.into_iter().find(|kind| kind.code() == code)
    }
}

impl fmt::Display for StreamKind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.word())
    }
}

/// The name of one stream. Its text form, `job:0190a6f2-…`, is stable and goes into hashes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(into = "String", try_from = "String")]
pub struct StreamId {
    /// What it is about.
    pub kind: StreamKind,
    /// Which one.
    pub id: Uuid,
}

impl StreamId {
    /// The one stream about the server as a whole: keys made, crews founded, starts and stops.
    pub const SERVER: StreamId = StreamId {
        kind: StreamKind::Server,
        id: Uuid::nil(),
    };

    /// Bytes of the [binary form](StreamId::to_bytes).
    pub const BYTES: usize = 17;

    /// The stream of this kind and id.
    pub const fn new(kind: StreamKind, id: Uuid) -> StreamId {
        StreamId { kind, id }
    }

    /// The kind's code followed by the 16 bytes of the id.
    pub fn to_bytes(self) -> [u8; StreamId::BYTES] {
        let mut bytes = [self.kind.code(); StreamId::BYTES];
        bytes[1..].copy_from_slice(self.id.as_bytes());
        bytes
    }

    /// Reads [`StreamId::to_bytes`] back; `None` for an unknown kind.
    pub fn from_bytes(bytes: &[u8; StreamId::BYTES]) -> Option<StreamId> {
        let kind = StreamKind::from_code(bytes[0])?;
        let id = Uuid::from_slice(&bytes[1..]).ok()?;
        Some(StreamId { kind, id })
    }
}

impl fmt::Display for StreamId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}:{}", self.kind, self.id.hyphenated())
    }
}

/// A text that is not the name of a stream.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error(
    "“{0}” is not the name of a stream. Write a kind, a colon and an id, such as {example}.",
    example = StreamId::SERVER
)]
pub struct NotAStream(pub String);

impl FromStr for StreamId {
    type Err = NotAStream;

    fn from_str(text: &str) -> Result<StreamId, NotAStream> {
        let wrong = || NotAStream(text.to_owned());
        let (word, id) = text.split_once(':').ok_or_else(wrong)?;
        let kind = StreamKind::ALL.into_iter().find(|kind| kind.word() == word);
        let stream = StreamId {
            kind: kind.ok_or_else(wrong)?,
            id: Uuid::try_parse(id).map_err(|_| wrong())?,
        };
        // One stream has one name: braces, capitals and missing hyphens are refused.
        if stream.to_string() == text {
            Ok(stream)
        } else {
            Err(wrong())
        }
    }
}

impl From<StreamId> for String {
    fn from(stream: StreamId) -> String {
        stream.to_string()
    }
}

impl TryFrom<String> for StreamId {
    type Error = NotAStream;

    fn try_from(text: String) -> Result<StreamId, NotAStream> {
        text.parse()
    }
}

/// The place of an entry in its stream: the first entry is 1.
#[derive(
    Clone, Copy, Debug, Default, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize,
)]
#[serde(transparent)]
pub struct Seq(pub u64);

impl Seq {
    /// The place before the first entry: what a stream without entries has as its last.
    pub const NONE: Seq = Seq(0);
    /// The place of the first entry.
    pub const FIRST: Seq = Seq(1);

    /// The place after this one.
    pub const fn next(self) -> Seq {
        // 2⁶⁴ entries cannot be written, so the end is never reached.
        Seq(self.0.saturating_add(1))
    }
}

impl fmt::Display for Seq {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn text_and_bytes_of_a_stream_read_back() {
        for kind in StreamKind::ALL {
            let stream = StreamId::new(kind, Uuid::from_u128(0x0190_a6f2_7d3c_7c44));
            assert_eq!(stream.to_string().parse(), Ok(stream));
            assert_eq!(StreamId::from_bytes(&stream.to_bytes()), Some(stream));
            let json = serde_json::to_string(&stream).unwrap();
            assert_eq!(json, format!("\"{stream}\""));
            assert_eq!(serde_json::from_str::<StreamId>(&json).unwrap(), stream);
        }
    }

    #[test]
    fn a_stream_has_one_name_only() {
        for text in [
            "",
            "job",
            "job:",
            "van:00000000-0000-0000-0000-000000000001",
            "Job:00000000-0000-0000-0000-000000000001",
            "job:00000000000000000000000000000001",
            "job:{00000000-0000-0000-0000-000000000001}",
            "job:00000000-0000-0000-0000-00000000000A",
        ] {
            assert_eq!(text.parse::<StreamId>(), Err(NotAStream(text.to_owned())));
        }
    }

    #[test]
    fn an_unknown_kind_code_is_no_stream() {
        let mut bytes = StreamId::SERVER.to_bytes();
        bytes[0] = 7;
        assert_eq!(StreamId::from_bytes(&bytes), None);
    }
}
