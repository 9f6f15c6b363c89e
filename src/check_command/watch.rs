//! Checking again whenever a file changes.
//!
//! The folder is looked at twice a second: that needs no help of the system and sees changes on
//! every kind of disk.

use std::io::Write;
use std::path::Path;
use std::time::{Duration, SystemTime};

use super::{CheckArgs, Checked, told};

const LOOK_EVERY: Duration = Duration::from_millis(500);

/// Checks until the output can no longer be written.
pub(super) fn run(args: &CheckArgs, output: &mut dyn Write) -> Result<u8, String> {
    let Some(folder) = args.folder.as_deref() else {
        return Err("Name the folder to watch.".to_owned());
    };
    let mut seen = None;
    loop {
        let now = stamps(folder);
        if seen.as_ref() != Some(&now) {
            seen = Some(now);
            // While an editor saves, a file may be gone for a moment: told, and looked at again.
            let text = match Checked::of(Some(folder)) {
                Ok(checked) => told(&checked, args.format)?,
                Err(unreadable) => unreadable,
            };
            writeln!(output, "{text}\n")
                .and_then(|()| output.flush())
                .map_err(|why| format!("The findings cannot be written: {why}."))?;
        }
        std::thread::sleep(LOOK_EVERY);
    }
}

/// When each file of the folder was changed last, and how long it is.
fn stamps(folder: &Path) -> Vec<(std::path::PathBuf, Option<SystemTime>, u64)> {
    let folders = [folder.to_owned(), folder.join("pictures")];
    let entries = folders.iter().filter_map(|it| std::fs::read_dir(it).ok());
    let mut stamps: Vec<_> = entries
        .flatten()
        .filter_map(Result::ok)
        .filter_map(|entry| {
            let about = entry.metadata().ok()?;
            Some((entry.path(), about.modified().ok(), about.len()))
        })
        .collect();
    stamps.sort();
    stamps
}
