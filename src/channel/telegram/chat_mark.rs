//! A chat as the log names it: a mark by which lines of one run belong together, and nothing else.

use std::fmt;
use std::sync::LazyLock;

use crate::desk::chance::{Chance, SystemChance};

/// A chat in the log.
///
/// The number of a private chat is that of its person, so it does not go into the log. What goes
/// there is made with a secret of this process: nobody finds the number by trying all of them, and
/// after a restart the same chat has another mark.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct ChatMark(pub(super) i64);

impl fmt::Display for ChatMark {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        static SECRET: LazyLock<Option<[u8; 32]>> = LazyLock::new(|| {
            let mut secret = [0; 32];
            SystemChance.fill(&mut secret).ok().map(|()| secret)
        });
        let Some(secret) = &*SECRET else {
            return f.write_str("…");
        };
        let hash = blake3::keyed_hash(secret, &self.0.to_be_bytes());
        let mark = hash.as_bytes().iter().take(4);
        mark.copied().try_for_each(|byte| write!(f, "{byte:02x}"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_mark_tells_chats_apart_and_does_not_name_them() {
        let mark = |chat| ChatMark(chat).to_string();
        assert_eq!(mark(1_234_567), mark(1_234_567));
        assert_ne!(mark(1_234_567), mark(1_234_568));
        assert_ne!(mark(7), mark(-7));
        assert_eq!(mark(1_234_567).len(), 8);
    }
}
