//! What a button about steps to be done again does, as a button carries it.

/// What a button about steps to be done again does.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum AgainPress {
    /// Ask in which part of the walk they are.
    Parts,
    /// Ask for a remark alone.
    Whole,
    /// Show the steps of this part, these ticked.
    Tick {
        /// Which part, from 0.
        part: u8,
        /// A bit for each of its steps.
        ticked: u64,
    },
    /// Send these back: ask for the remark.
    Send {
        /// Which part, from 0.
        part: u8,
        /// A bit for each of its steps.
        ticked: u64,
    },
}

impl AgainPress {
    /// Its bytes.
    pub fn bytes(self) -> Vec<u8> {
        let some = |what: u8, part: u8, ticked: u64| {
            let mut bytes = vec![what, part];
            bytes.extend(ticked.to_be_bytes());
            bytes
        };
        match self {
            AgainPress::Parts => vec![1],
            AgainPress::Whole => vec![2],
            AgainPress::Tick { part, ticked } => some(3, part, ticked),
            AgainPress::Send { part, ticked } => some(4, part, ticked),
        }
    }

    /// Reads [`AgainPress::bytes`] back; `None` if they are none of them.
    pub fn from_bytes(bytes: &[u8]) -> Option<AgainPress> {
        let (what, rest) = bytes.split_first()?;
        let some = || {
            let (part, ticked) = rest.split_first()?;
            Some((*part, u64::from_be_bytes(ticked.try_into().ok()?)))
        };
        match (what, rest.is_empty()) {
            (1, true) => Some(AgainPress::Parts),
            (2, true) => Some(AgainPress::Whole),
            (3, false) => some().map(|(part, ticked)| AgainPress::Tick { part, ticked }),
            (4, false) => some().map(|(part, ticked)| AgainPress::Send { part, ticked }),
            _ => None,
        }
    }
}
