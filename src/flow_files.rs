//! Flow files on disk: read for `check` and for `serve --flows`, as the language wants them.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use crate::flow::library::Sources;
use crate::flow::model::At;
use crate::flow::problem::{Family, Problem};

/// A file above this is not even read, bytes: no flow and no picture of one is so large.
const READ_BYTES_MAX: u64 = 16 * 1024 * 1024;

/// Reads `*.yaml` of a folder, and `pictures/*.svg` in it.
///
/// # Errors
/// One sentence naming what cannot be read.
pub fn read(folder: &Path) -> Result<Sources, String> {
    let (sources, problems) = read_leniently(folder)?;
    match problems.first() {
        None => Ok(sources),
        Some(problem) => Err(format!("{}/{problem}", folder.display())),
    }
}

/// As [`read`], but what is no text is left out and told as a problem.
///
/// # Errors
/// One sentence naming what cannot be read.
pub fn read_leniently(folder: &Path) -> Result<(Sources, Vec<Problem>), String> {
    let pictures = folder.join("pictures");
    let mut problems = Vec::new();
    let sources = Sources {
        files: texts(folder, "yaml", Path::file_name, &mut problems)?,
        pictures: if pictures.is_dir() {
            texts(&pictures, "svg", Path::file_stem, &mut problems)?
        } else {
            BTreeMap::new()
        },
    };
    Ok((sources, problems))
}

fn texts(
    folder: &Path,
    ending: &str,
    part: fn(&Path) -> Option<&std::ffi::OsStr>,
    problems: &mut Vec<Problem>,
) -> Result<BTreeMap<String, String>, String> {
    let unreadable = |path: &Path, why: std::io::Error| {
        format!(
            "{} cannot be read: {why}. Check that it is there and may be read.",
            path.display()
        )
    };
    let name = |path: &Path, part: fn(&Path) -> Option<&std::ffi::OsStr>| {
        part(path)
            .map(|name| name.to_string_lossy().into_owned())
            .unwrap_or_default()
    };
    let mut paths: Vec<PathBuf> = Vec::new();
    for entry in std::fs::read_dir(folder).map_err(|why| unreadable(folder, why))? {
        let path = entry.map_err(|why| unreadable(folder, why))?.path();
        if path.extension().is_some_and(|found| found == ending) {
            paths.push(path);
        }
    }
    paths.sort();
    let mut texts = BTreeMap::new();
    for path in paths {
        let about = std::fs::metadata(&path).map_err(|why| unreadable(&path, why))?;
        let file = name(&path, Path::file_name);
        if about.len() > READ_BYTES_MAX {
            problems.push(no_text(file, At { line: 1, column: 1 }, "is far too large"));
            continue;
        }
        let bytes = std::fs::read(&path).map_err(|why| unreadable(&path, why))?;
        match String::from_utf8(bytes) {
            Ok(text) => drop(texts.insert(name(&path, part), text)),
            Err(error) => {
                let good = error.utf8_error().valid_up_to();
                let at = place_after(error.as_bytes().get(..good).unwrap_or_default());
                problems.push(no_text(file, at, "is not UTF-8 text from here on"));
            }
        }
    }
    Ok(texts)
}

fn no_text(file: String, at: At, wrong: &str) -> Problem {
    Problem {
        family: Family::File,
        file,
        at,
        wrong: format!("The file {wrong}."),
        mend: "Save it as UTF-8 text, or take it out of the folder.".to_owned(),
    }
}

/// The place after so much good text.
fn place_after(good: &[u8]) -> At {
    let text = String::from_utf8_lossy(good);
    let last = text.rsplit('\n').next().unwrap_or_default();
    let small = |number: usize| u32::try_from(number).unwrap_or(u32::MAX);
    At {
        line: small(text.matches('\n').count() + 1),
        column: small(last.chars().count() + 1),
    }
}
