//! Flow files on disk: read for `check` and for `serve --flows`, as the language wants them.

use std::collections::BTreeMap;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use crate::flow::embedded;
use crate::flow::library::{Library, Sources};

/// Arguments of `check`.
#[derive(Debug, clap::Args)]
pub struct CheckArgs {
    /// A folder with flow files; without it, the flows that come with the program.
    pub folder: Option<PathBuf>,
}

/// Loads the flows of a folder and tells what is wrong with them.
///
/// Ends with 0 when nothing is, with 1 when something is, with 2 when the folder cannot be read.
pub fn check(args: &CheckArgs, output: &mut dyn Write) -> ExitCode {
    let sources = match &args.folder {
        Some(folder) => match read(folder) {
            Ok(sources) => sources,
            Err(told) => return tell(output, &told, 2),
        },
        None => embedded::sources(),
    };
    match Library::load(sources) {
        Ok(library) => {
            let steps: usize = library.flows().values().map(|flow| flow.steps.len()).sum();
            let told = format!(
                "{} flows, {steps} steps: nothing wrong.",
                library.flows().len()
            );
            tell(output, &told, 0)
        }
        Err(problems) => {
            let told: Vec<String> = problems.iter().map(ToString::to_string).collect();
            tell(output, &told.join("\n"), 1)
        }
    }
}

fn tell(output: &mut dyn Write, told: &str, status: u8) -> ExitCode {
    match writeln!(output, "{told}") {
        Ok(()) => ExitCode::from(status),
        Err(_) => ExitCode::from(2),
    }
}

/// Reads `*.yaml` of a folder, and `pictures/*.svg` in it.
///
/// # Errors
/// One sentence naming what cannot be read.
pub fn read(folder: &Path) -> Result<Sources, String> {
    let pictures = folder.join("pictures");
    Ok(Sources {
        files: texts(folder, "yaml", |path| file_name(path, Path::file_name))?,
        pictures: if pictures.is_dir() {
            texts(&pictures, "svg", |path| file_name(path, Path::file_stem))?
        } else {
            BTreeMap::new()
        },
    })
}

fn file_name(path: &Path, part: fn(&Path) -> Option<&std::ffi::OsStr>) -> String {
    part(path)
        .map(|name| name.to_string_lossy().into_owned())
        .unwrap_or_default()
}

fn texts(
    folder: &Path,
    ending: &str,
    name: impl Fn(&Path) -> String,
) -> Result<BTreeMap<String, String>, String> {
    let unreadable = |path: &Path, why: std::io::Error| {
        format!(
            "{} cannot be read: {why}. Check that it is there and is text.",
            path.display()
        )
    };
    let mut texts = BTreeMap::new();
    for entry in std::fs::read_dir(folder).map_err(|why| unreadable(folder, why))? {
        let path = entry.map_err(|why| unreadable(folder, why))?.path();
        if path.extension().is_some_and(|found| found == ending) {
            let text = std::fs::read_to_string(&path).map_err(|why| unreadable(&path, why))?;
            texts.insert(name(&path), text);
        }
    }
    Ok(texts)
}
