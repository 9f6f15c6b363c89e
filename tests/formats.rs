//! Data folders as every released program wrote them: each opens, reads, and goes on.
//!
//! `tests/formats/make` made each with the program of its time: a job that was handed in, and one
//! that stands at its second step.

use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

use fanwright::record::entry::Entry;
use fanwright::record::stream::{Seq, StreamKind};
use fanwright::store::format::FORMATS;
use fanwright::store::{Admitted, DATA_FORMAT, Journal, Store};

fn kept() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("tests")
        .join("formats")
}

fn copy(from: &Path, to: &Path) {
    fs::create_dir_all(to).unwrap();
    for entry in fs::read_dir(from).unwrap() {
        let path = entry.unwrap().path();
        let place = to.join(path.file_name().unwrap());
        if path.is_dir() {
            copy(&path, &place);
        } else {
            fs::copy(&path, &place).unwrap();
        }
    }
}

fn fanwright(args: &[&str], lines: &[&str]) -> Output {
    let mut child = Command::new(env!("CARGO_BIN_EXE_fanwright"))
        .args(args)
        .env("FANWRIGHT_FLOWS", kept().join("flows"))
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut input = child.stdin.take().unwrap();
    for line in lines {
        writeln!(input, "{line}").unwrap();
    }
    drop(input);
    let ran = child.wait_with_output().unwrap();
    assert!(ran.status.success(), "{args:?}: {}", told(&ran.stderr));
    ran
}

fn told(bytes: &[u8]) -> String {
    String::from_utf8(bytes.to_vec()).unwrap()
}

/// The jobs of a folder with their entries and the formats in which these were written.
async fn jobs(folder: &Path) -> Vec<(String, usize, Vec<u16>)> {
    let (journal, _) = Journal::open(folder).unwrap();
    let page = journal.streams(StreamKind::Job, None, 9).await.unwrap();
    let mut jobs = Vec::new();
    for (stream, _) in page.items {
        let stored = journal.read(stream, Seq::FIRST, 99).await.unwrap();
        let read = |bytes: &[u8]| serde_json::from_slice::<Entry>(bytes).unwrap();
        let formats = stored.iter().map(|it| read(&it.bytes).v).collect();
        jobs.push((stream.id.to_string(), stored.len(), formats));
    }
    journal.close().await.unwrap();
    jobs
}

#[test]
fn a_folder_of_every_released_format_is_kept() {
    for format in FORMATS {
        let folder = kept().join(format.number.to_string());
        let journal = folder.join("journal").join("00000001.journal");
        assert!(journal.is_file(), "there is no {}", journal.display());
    }
}

#[tokio::test]
async fn every_released_format_opens_reads_and_goes_on() {
    for format in FORMATS {
        let number = format.number;
        let place = tempfile::tempdir().unwrap();
        let data = place.path().join("data");
        copy(&kept().join(number.to_string()), &data);
        let in_data = ["--data", data.to_str().unwrap()];
        let (journal, report) = Journal::open(&data).unwrap();
        let raised = match number {
            DATA_FORMAT => Admitted::Present,
            marked if marked > 7 => Admitted::Raised { from: marked },
            _ => Admitted::Raised { from: 7 },
        };
        assert_eq!(report.format, raised, "format {number}");
        journal.close().await.unwrap();
        drop(journal);
        let before = jobs(&data).await;
        let [(handed_in, ..), (under_way, entries, formats)] = before.as_slice() else {
            panic!("format {number} has {} jobs", before.len());
        };
        assert!(
            formats.iter().all(|it| *it == format.entry),
            "format {number}"
        );
        // The record reads, with its photo and its people.
        let page = place.path().join("job.html");
        let page_name = page.to_str().unwrap();
        fanwright(
            &[&["record", handed_in, "--html", page_name], &in_data[..]].concat(),
            &[],
        );
        let text = fs::read_to_string(&page).unwrap();
        for shown in ["208 V", "Ada", "EV-3", "Corner Market"] {
            assert!(text.contains(shown), "format {number}: no {shown}");
        }
        let json = place.path().join("job.json");
        let json = json.to_str().unwrap();
        let record = ["record", handed_in, "--json", json, "--photos"];
        fanwright(&[&record, &in_data[..]].concat(), &[]);
        let verified = told(&fanwright(&["verify", json], &[]).stdout);
        assert!(
            verified.contains("Photos: 1, each as its hash says"),
            "{verified}"
        );
        // The other job goes on where it was left, by the present program.
        let talked = fanwright(&[&["chat"], &in_data[..]].concat(), &["212 V", "/quit"]);
        let talked = told(&talked.stdout);
        assert!(
            talked.contains("Send a photo of the nameplate."),
            "format {number}: {talked}"
        );
        let after = jobs(&data).await;
        let (same, more, formats) = &after[1];
        assert_eq!(same, under_way);
        assert!(more > entries, "format {number}: nothing was added");
        assert_eq!(formats.last(), Some(&FORMATS[FORMATS.len() - 1].entry));
        let looked = fanwright(&[&["backup", "--check-data"], &in_data[..]].concat(), &[]);
        assert!(told(&looked.stdout).starts_with("The data folder is whole: "));
    }
}
