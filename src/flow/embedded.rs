//! The flows that come with the program.

use include_dir::{Dir, include_dir};

use super::library::{Library, Sources};
use super::name::FlowName;
use super::problem::Problem;

static FLOWS: Dir<'_> = include_dir!("$CARGO_MANIFEST_DIR/flows");

/// The flow of a whole job.
pub fn main_flow() -> FlowName {
    FlowName::from("dead-fan")
}

/// The sources of the shipped flows.
pub fn sources() -> Sources {
    let mut sources = Sources::default();
    for file in FLOWS.files() {
        let name = file.path().to_string_lossy().into_owned();
        if let (true, Some(text)) = (name.ends_with(".yaml"), file.contents_utf8()) {
            sources.files.insert(name, text.to_owned());
        }
    }
    for file in FLOWS.get_dir("pictures").into_iter().flat_map(Dir::files) {
        let name = file
            .path()
            .file_stem()
            .map(|stem| stem.to_string_lossy().into_owned());
        let is_svg = file
            .path()
            .extension()
            .is_some_and(|ending| ending == "svg");
        if let (Some(name), true, Some(svg)) = (name, is_svg, file.contents_utf8()) {
            sources.pictures.insert(name, svg.to_owned());
        }
    }
    sources
}

/// The shipped flows, loaded.
///
/// # Errors
/// What is wrong with them; a test sees to it that nothing is.
pub fn library() -> Result<Library, Vec<Problem>> {
    Library::load(sources())
}
