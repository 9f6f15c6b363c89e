//! What a button about a shared file does, as a button carries it.

use crate::desk::shared_flows::SharedMark;

/// What pressing it means.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SharedPress {
    /// Make it the crew's.
    Take,
    /// Say what differs from what the crew has.
    Changes,
    /// Say which open jobs walk it.
    Who,
}

impl SharedPress {
    /// Every press.
    pub const ALL: [SharedPress; 3] = [SharedPress::Take, SharedPress::Changes, SharedPress::Who];

    /// Its bytes, with the shared file that it is about.
    pub fn bytes(self, SharedMark(mark): SharedMark) -> Vec<u8> {
        let code = match self {
            SharedPress::Take => 1,
            SharedPress::Changes => 2,
            SharedPress::Who => 3,
        };
        [&[code][..], &mark].concat()
    }

    /// Reads its bytes.
    pub fn from_bytes(bytes: &[u8]) -> Option<(SharedPress, SharedMark)> {
        let (code, mark) = bytes.split_first()?;
        let press = match code {
            1 => SharedPress::Take,
            2 => SharedPress::Changes,
            3 => SharedPress::Who,
            _ => return None,
        };
        Some((press, SharedMark(mark.try_into().ok()?)))
    }
}
