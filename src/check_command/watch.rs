//! Checking again whenever a file changes.
//!
//! The folder is looked at twice a second: that needs no help of the system and sees changes on
//! every kind of disk.

use std::io::Write;
use std::path::Path;
use std::time::{Duration, SystemTime};

use super::{CheckArgs, Checked, Format, told};

const LOOK_EVERY: Duration = Duration::from_millis(500);

/// Checks until the output can no longer be written.
pub(super) fn run(args: &CheckArgs, output: &mut dyn Write) -> Result<u8, String> {
    let Some(folder) = args.folder.as_deref() else {
        return Err("Name the folder to watch.".to_owned());
    };
    watch(folder, args.format, output, || {
        std::thread::sleep(LOOK_EVERY);
        true
    })
}

/// Checks at first and after every change, as long as there is a next look.
fn watch(
    folder: &Path,
    format: Format,
    output: &mut dyn Write,
    mut next_look: impl FnMut() -> bool,
) -> Result<u8, String> {
    let mut seen = None;
    loop {
        let now = stamps(folder);
        if seen.as_ref() != Some(&now) {
            seen = Some(now);
            // While an editor saves, a file may be gone for a moment: told, and looked at again.
            let text = match Checked::of(Some(folder)) {
                Ok(checked) => told(&checked, format)?,
                Err(unreadable) => unreadable,
            };
            writeln!(output, "{text}\n")
                .and_then(|()| output.flush())
                .map_err(|why| format!("The findings cannot be written: {why}."))?;
        }
        if !next_look() {
            return Ok(0);
        }
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

#[cfg(test)]
mod tests {
    use super::*;

    const GOOD: &str = "flow: look\ntitle: Look\nlanguage: en\nhands_off: true\n\
        outcomes: { done: Done }\nstart: read\nsteps:\n  read:\n    tell: Go on\n    \
        say: Read this.\n    then: end_done\n  end_done:\n    finish: done\n    \
        say: You have read it.\n";

    /// What is printed when a file is written before each look: one part for each print.
    fn printed(texts: &[&str]) -> Vec<String> {
        let folder = tempfile::tempdir().unwrap();
        let mut looks = texts.iter();
        let mut write_next = || {
            let Some(text) = looks.next() else {
                return false;
            };
            std::fs::write(folder.path().join("look.yaml"), text).unwrap();
            true
        };
        write_next();
        let mut output = Vec::new();
        let status = watch(folder.path(), Format::Json, &mut output, write_next);
        assert_eq!(status, Ok(0));
        let output = String::from_utf8(output).unwrap();
        let parts = output.split_terminator("\n\n");
        parts.map(str::to_owned).collect()
    }

    #[test]
    fn a_change_is_told_and_so_is_its_mend() {
        let bad = GOOD.replace("then: end_done", "then: read");
        let printed = printed(&[GOOD, &bad, GOOD]);
        assert_eq!(printed.len(), 3, "{printed:?}");
        assert!(!printed[0].contains("cannot_finish"), "{}", printed[0]);
        assert!(printed[1].contains("cannot_finish"), "{}", printed[1]);
        assert_eq!(printed[2], printed[0]);
    }

    #[test]
    fn a_folder_that_cannot_be_read_is_told_and_watched_on() {
        let folder = tempfile::tempdir().unwrap();
        let place = folder.path().join("flows");
        let mut looks = 0;
        let mut output = Vec::new();
        let status = watch(&place, Format::Human, &mut output, || {
            looks += 1;
            if looks == 2 {
                std::fs::create_dir(&place).unwrap();
                std::fs::write(place.join("look.yaml"), GOOD).unwrap();
            }
            looks < 4
        });
        assert_eq!(status, Ok(0));
        let output = String::from_utf8(output).unwrap();
        assert_eq!(output.matches("cannot be read").count(), 1, "{output}");
        assert_eq!(output.matches("nothing wrong").count(), 1, "{output}");
    }
}
