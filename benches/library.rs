//! The flows of a bench.

use fanwright::flow::library::{Library, Sources};

/// The library of these flows: the name of each file, and its text.
pub(crate) fn library(files: impl IntoIterator<Item = (String, String)>) -> Library {
    let mut sources = Sources::default();
    sources.files.extend(files);
    let library = Library::load(sources);
    library.map_err(|problems| problems[0].to_string()).unwrap()
}
