//! The crew's own table of evaporator models and the speed or air flow they need.

/// A crew's speed book, as its file lists it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct SpeedBook {}

impl SpeedBook {
    /// Reads the text of a speed book file.
    ///
    /// # Errors
    /// When the text is not a speed book.
    pub fn read(_text: &str) -> Result<Self, String> {
        Err("files of this kind cannot be read yet".into())
    }
}
