//! Which drain openings of a motor to open, by the position of its shaft.

use std::collections::BTreeMap;

/// How the shaft lies in the evaporator.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum ShaftPosition {
    /// Level.
    Horizontal,
    /// Blade above the motor.
    Up,
    /// Blade below the motor.
    Down,
    /// Anything between.
    Tilted,
}

impl ShaftPosition {
    /// Words of a file or flow with their values.
    pub const WORDS: &'static [(&'static str, Self)] = &[
        ("horizontal", Self::Horizontal),
        ("up", Self::Up),
        ("down", Self::Down),
        ("tilted", Self::Tilted),
    ];

    /// The word of this position.
    pub fn word(self) -> &'static str {
        Self::WORDS
            .iter()
            .find(|(_, value)| *value == self)
            .map_or("", |(word, _)| word)
    }
}

/// The drain openings of an assembly, by its sheet.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Drain {
    /// What the openings are called.
    pub openings: Vec<String>,
    /// Which of them are open in a position; a position that is not here is not on the sheet.
    pub open: BTreeMap<ShaftPosition, Vec<String>>,
}

/// What to do with the drain openings.
#[derive(Clone, Debug, PartialEq)]
pub enum DrainSetting<'a> {
    /// Open these, close the others.
    Open {
        /// The openings to open.
        open: &'a [String],
        /// The openings to close.
        close: Vec<&'a String>,
    },
    /// The assembly has no openings.
    None,
    /// The sheet does not tell for this position: stop and ask.
    NotOnSheet,
}

impl Drain {
    /// What to do in `position`.
    pub fn in_position(&self, position: ShaftPosition) -> DrainSetting<'_> {
        if self.openings.is_empty() {
            return DrainSetting::None;
        }
        match self.open.get(&position) {
            Some(open) => DrainSetting::Open {
                open,
                close: self
                    .openings
                    .iter()
                    .filter(|one| !open.contains(one))
                    .collect(),
            },
            None => DrainSetting::NotOnSheet,
        }
    }

    /// One sentence for the technician.
    pub fn sentence(&self, position: ShaftPosition) -> String {
        let list = |names: Vec<&str>| names.join(", ");
        match self.in_position(position) {
            DrainSetting::None => "This assembly has no drain openings.".into(),
            DrainSetting::NotOnSheet => format!(
                "The sheet does not say which drain opening to use with the shaft {}: stop and \
                 ask your supervisor.",
                position.word()
            ),
            DrainSetting::Open { open, close } => {
                let open = list(open.iter().map(String::as_str).collect());
                let close = list(close.into_iter().map(String::as_str).collect());
                match (open.is_empty(), close.is_empty()) {
                    (true, _) => format!("Close every drain opening: {close}."),
                    (false, true) => format!("Open the drain opening {open}."),
                    (false, false) => format!("Open the drain opening {open}; close {close}."),
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn drain() -> Drain {
        Drain {
            openings: vec!["lead end".into(), "bottom".into()],
            open: BTreeMap::from([(ShaftPosition::Horizontal, vec!["bottom".into()])]),
        }
    }

    #[test]
    fn the_openings_to_open_and_close_follow_the_position() {
        assert_eq!(
            drain().sentence(ShaftPosition::Horizontal),
            "Open the drain opening bottom; close lead end."
        );
    }

    #[test]
    fn a_position_that_is_not_on_the_sheet_stops_the_work() {
        assert!(
            drain()
                .sentence(ShaftPosition::Tilted)
                .contains("stop and ask")
        );
    }
}
