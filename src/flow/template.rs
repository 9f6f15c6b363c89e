//! Texts with expressions in braces.

/// A text whose braces are typed expressions.
#[derive(Clone, Debug)]
pub struct Template {
    /// As the file says it.
    pub source: String,
}
