//! What a button about what somebody has shown does, as a button carries it.

use crate::flow::name::CompetenceName;

/// What a button about what somebody has shown does.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ShownPress {
    /// Ask what was shown, or by whom.
    Ask,
    /// Sign for it, for a year.
    Sign(CompetenceMark),
    /// Take the sign-off back.
    TakeBack(CompetenceMark),
}

/// Something to be shown, by the check sum of its name.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct CompetenceMark(pub u32);

impl CompetenceMark {
    /// The mark of this name.
    pub fn of(name: &CompetenceName) -> CompetenceMark {
        CompetenceMark(crc32fast::hash(name.as_str().as_bytes()))
    }

    /// The name among these that it means.
    pub fn find<'n>(
        self,
        names: impl IntoIterator<Item = &'n CompetenceName>,
    ) -> Option<&'n CompetenceName> {
        names
            .into_iter()
            .find(|name| CompetenceMark::of(name) == self)
    }
}

impl ShownPress {
    /// Its bytes.
    pub fn bytes(self) -> Vec<u8> {
        let some = |what: u8, mark: CompetenceMark| {
            let mut bytes = vec![what];
            bytes.extend(mark.0.to_be_bytes());
            bytes
        };
        match self {
            ShownPress::Ask => vec![1],
            ShownPress::Sign(mark) => some(2, mark),
            ShownPress::TakeBack(mark) => some(3, mark),
        }
    }

    /// Reads what [`ShownPress::bytes`] gave, and what is left after it.
    pub fn from_bytes(bytes: &[u8]) -> Option<(ShownPress, &[u8])> {
        let (what, rest) = bytes.split_first()?;
        let mark = || {
            let (mark, rest) = rest.split_first_chunk::<4>()?;
            Some((CompetenceMark(u32::from_be_bytes(*mark)), rest))
        };
        match what {
            1 => Some((ShownPress::Ask, rest)),
            2 => mark().map(|(mark, rest)| (ShownPress::Sign(mark), rest)),
            3 => mark().map(|(mark, rest)| (ShownPress::TakeBack(mark), rest)),
            _ => None,
        }
    }
}
