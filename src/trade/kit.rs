//! The replacement assemblies that a crew carries.

/// A crew's replacement assemblies, as its kit file lists them.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Kit {}

impl Kit {
    /// Reads the text of a kit file.
    ///
    /// # Errors
    /// When the text is not a kit.
    pub fn read(_text: &str) -> Result<Self, String> {
        Err("files of this kind cannot be read yet".into())
    }
}
