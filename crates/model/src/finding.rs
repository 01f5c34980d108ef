//! What is wrong and how to mend it. Knows no files and no places.

/// One thing wrong with a value, and how to mend it.
///
/// The place (file, line, column) is added by the caller that knows it, through `key`.
#[derive(Clone, Debug, PartialEq)]
pub struct Finding {
    /// Short stable code, such as `gap-too-wide`; documented in `docs/problems.md`.
    pub code: &'static str,
    /// Dotted key of the value at fault, such as `launcher.squeeze` or `spot[1].distance`.
    pub key: String,
    /// What is wrong: the value found and the value allowed, in the user's units.
    pub what: String,
    /// How to mend it; never empty.
    pub fix: String,
}
