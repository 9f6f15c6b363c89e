//! Who stands at the desk, and how the channels name them.

use std::collections::BTreeSet;
use std::fmt;
use std::str::FromStr;

use uuid::Uuid;

use crate::flow::model::Role;
use crate::record::chain::Hash;
use crate::record::entry::Channel;
use crate::record::person::PersonId;

use super::id::CrewId;

/// A person of a crew, as recognised by their address at a channel.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Actor {
    /// Who.
    pub person: PersonId,
    /// Their crew.
    pub crew: CrewId,
    /// Their roles when they were recognised.
    pub roles: BTreeSet<Role>,
    /// Their name to show.
    pub name: String,
    /// The channel that they speak through.
    pub channel: Channel,
    /// The chat that they speak from, if it is one.
    pub chat: Option<i64>,
    /// The token of the program that acts in their name, if it is not they themselves.
    pub token: Option<Uuid>,
}

impl Actor {
    /// Whether the person has this role.
    pub fn is(&self, role: Role) -> bool {
        self.roles.contains(&role)
    }
}

/// Where a person speaks from, as a channel knows it.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub enum ChannelAddress {
    /// A Telegram user in a chat. Who it is follows from the user alone.
    Telegram {
        /// Where answers go.
        chat: i64,
        /// Who speaks.
        user: i64,
    },
    /// A signed-in browser.
    Browser {
        /// The token in its cookie.
        session: SessionToken,
    },
    /// The terminal of the machine itself, under this account name.
    Terminal {
        /// The account.
        account: String,
    },
}

impl ChannelAddress {
    /// The channel.
    pub fn channel(&self) -> Channel {
        match self {
            ChannelAddress::Telegram { .. } => Channel::Telegram,
            ChannelAddress::Browser { .. } => Channel::Browser,
            ChannelAddress::Terminal { .. } => Channel::Terminal,
        }
    }

    /// The chat, if it is one.
    pub(super) fn chat(&self) -> Option<i64> {
        match self {
            ChannelAddress::Telegram { chat, .. } => Some(*chat),
            ChannelAddress::Browser { .. } | ChannelAddress::Terminal { .. } => None,
        }
    }

    /// The key under which the desk finds the person.
    pub(super) fn key(&self) -> String {
        match self {
            ChannelAddress::Telegram { user, .. } => format!("telegram:{user}"),
            ChannelAddress::Browser { session } => format!("browser:{}", session.hash()),
            ChannelAddress::Terminal { account } => format!("terminal:{account}"),
        }
    }
}

/// The secret that a signed-in browser shows with every request: 256 random bits. Only its hash
/// is kept.
#[derive(Clone, Copy, PartialEq, Eq, Hash)]
pub struct SessionToken(pub(super) [u8; 32]);

impl SessionToken {
    /// The text for the cookie: 64 hexadecimal digits.
    pub fn reveal(&self) -> String {
        Hash(self.0).to_string()
    }

    /// What may be kept of it.
    pub fn hash(&self) -> Hash {
        Hash::of(&self.0)
    }
}

impl fmt::Debug for SessionToken {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("SessionToken(…)")
    }
}

impl FromStr for SessionToken {
    type Err = super::error::DeskError;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let hash: Hash = text
            .parse()
            .map_err(|_| super::error::DeskError::NotSignedIn)?;
        Ok(Self(hash.0))
    }
}

/// A one-time code to join a crew or to sign in at another channel. Shown once; only its hash is
/// kept. Its letters fit a chat's start link and are read out easily.
#[derive(Clone, PartialEq, Eq)]
pub struct Code(String);

/// Crockford's base 32: no letter that looks like a digit.
pub(super) const LETTERS: &[u8; 32] = b"0123456789ABCDEFGHJKMNPQRSTVWXYZ";

impl Code {
    /// The code of these 80 random bits: 16 letters and digits.
    pub(super) fn of(bits: [u8; 10]) -> Code {
        let all = bits
            .iter()
            .fold(0u128, |all, byte| (all << 8) | u128::from(*byte));
        let letter = |at: u32| LETTERS[((all >> (5 * at)) & 31) as usize] as char;
        Code((0..16).rev().map(letter).collect())
    }

    /// Reads a code as a person typed it: small letters, spaces and dashes are forgiven, and O,
    /// I and L are read as the digits that they look like.
    pub fn typed(text: &str) -> Code {
        let kept = text.chars().filter(char::is_ascii_alphanumeric);
        let read = kept.map(|letter| match letter.to_ascii_uppercase() {
            'O' => '0',
            'I' | 'L' => '1',
            other => other,
        });
        Code(read.take(64).collect())
    }

    /// The code as text, for the one place that shows it.
    pub fn reveal(&self) -> &str {
        &self.0
    }

    /// What may be kept of it.
    pub(super) fn hash(&self) -> Hash {
        Hash::of(self.0.as_bytes())
    }
}

impl fmt::Debug for Code {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Code(…)")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_code_reads_back_however_it_is_typed() {
        let code = Code::of([0xff, 0, 1, 2, 3, 4, 5, 6, 7, 8]);
        assert_eq!(code.reveal().len(), 16);
        assert_eq!(Code::typed(code.reveal()), code);
        let (front, back) = code.reveal().split_at(4);
        let sloppy = format!(" {}-{} ", front.to_lowercase(), back.replace('0', "o"));
        assert_eq!(Code::typed(&sloppy), code);
        assert_eq!(Code::of([0; 10]).reveal(), "0000000000000000");
        assert_eq!(Code::of([0xff; 10]).reveal(), "ZZZZZZZZZZZZZZZZ");
    }

    #[test]
    fn secrets_do_not_show_in_debug_text() {
        let token = SessionToken([7; 32]);
        assert!(!format!("{token:?}").contains("07"));
        assert_eq!(token.reveal().parse::<SessionToken>().unwrap(), token);
        assert!(!format!("{:?}", Code::of([9; 10])).contains("28"));
    }
}
