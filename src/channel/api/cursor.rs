//! Where a list goes on, as other programs carry it: it fits only the question that it came from.

use std::fmt::Display;
use std::str::FromStr;

use crate::desk::id::CrewId;

use super::problem::{Kind, Problem};

/// How many letters of the hash go before the cursor.
const MARK: usize = 16;

/// The text of a cursor of this question of a crew.
pub(super) fn written(question: &str, crew: CrewId, cursor: &impl Display) -> String {
    let cursor = cursor.to_string();
    format!("{}{cursor}", mark(question, crew, &cursor))
}

/// The cursor that [`written`] wrote for the same question.
pub(super) fn read<C: FromStr>(question: &str, crew: CrewId, text: &str) -> Result<C, Problem> {
    let foreign = || {
        Problem::new(
            Kind::NotUnderstood,
            "This cursor is not of this list with these filters. Begin again without a cursor.",
        )
    };
    let (marked, cursor) = text.split_at_checked(MARK).ok_or_else(foreign)?;
    if marked != mark(question, crew, cursor) {
        return Err(foreign());
    }
    cursor.parse().map_err(|_| foreign())
}

fn mark(question: &str, crew: CrewId, cursor: &str) -> String {
    let mut hasher = blake3::Hasher::new_derive_key("fanwright api cursor");
    for part in [question, &crew.to_string(), cursor] {
        hasher.update(&(part.len() as u64).to_le_bytes());
        hasher.update(part.as_bytes());
    }
    let hash = hasher.finalize().to_hex();
    hash.as_str()[..MARK].to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::store::Cursor;

    #[test]
    fn a_cursor_fits_only_its_own_question() {
        let crew = CrewId(uuid::Uuid::from_u128(1));
        let read = super::read::<Cursor>;
        let cursor: Cursor = "00ff".parse().unwrap();
        let text = written("jobs", crew, &cursor);
        assert_eq!(read("jobs", crew, &text).unwrap(), cursor);
        let other = CrewId(uuid::Uuid::from_u128(2));
        let changed = format!("{}01", &text[..text.len() - 2]);
        assert!(read("jobs?phase=open", crew, &text).is_err());
        assert!(read("jobs", other, &text).is_err());
        assert!(read("jobs", crew, &changed).is_err());
        for text in ["", "é", "0123456789abcdef", "0123456789abcdefzz"] {
            assert!(read("jobs", crew, text).is_err(), "{text}");
        }
    }
}
