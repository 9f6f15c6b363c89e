//! A record from hand-in to check, as a supervisor and an auditor meet it: with the built program.

mod backup;
mod schema;

use std::io::{BufRead, BufReader};
use std::os::unix::fs::PermissionsExt;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Output, Stdio};

use fanwright::record::seal::Fingerprint;
use fanwright::record::verify::{Verdict, verify};
use fanwright::store::Journal;
use reqwest::multipart::{Form, Part};

use crate::support::page::Page;

fn fanwright(args: &[&str]) -> Output {
    let run = Command::new(env!("CARGO_BIN_EXE_fanwright"))
        .args(args)
        .output();
    run.unwrap()
}

fn told(bytes: &[u8]) -> String {
    String::from_utf8(bytes.to_vec()).unwrap()
}

/// A folder with a server over it; the server is killed with this, the hard way.
struct Place {
    folder: tempfile::TempDir,
    server: Option<Child>,
    page: Page,
    base: String,
    job: String,
}

impl Drop for Place {
    fn drop(&mut self) {
        self.kill();
    }
}

impl Place {
    /// Somebody walked a job to its end and handed it in.
    async fn with_a_job() -> Place {
        let folder = tempfile::tempdir().unwrap();
        let flows = folder.path().join("flows");
        std::fs::create_dir(&flows).unwrap();
        let flow = include_str!("read.yaml");
        std::fs::write(flows.join("read-the-fan.yaml"), flow).unwrap();
        let mut child = Command::new(env!("CARGO_BIN_EXE_fanwright"))
            .args(["serve", "--listen", "127.0.0.1:0", "--data"])
            .arg(folder.path().join("data"))
            .arg("--flows")
            .arg(&flows)
            .env_remove("TELOXIDE_TOKEN")
            .stdout(Stdio::piped())
            .spawn()
            .unwrap();
        let lines = BufReader::new(child.stdout.take().unwrap()).lines();
        let mut base = String::new();
        let mut code = String::new();
        for line in lines.map_while(Result::ok) {
            if let Some(told) = line.strip_prefix("Listening on ") {
                base = told.to_owned();
            }
            if let Some((_, rest)) = line.split_once("/join/") {
                code = rest.split(' ').next().unwrap().to_owned();
                break;
            }
        }
        let page = Page::joined(&base, &code, "Ada").await;
        let mut place = Place {
            folder,
            server: Some(child),
            page,
            base,
            job: String::new(),
        };
        place.walk().await;
        place
    }

    async fn walk(&mut self) {
        let page = &mut self.page;
        page.open("/new-job").await;
        let fields = [
            ("site", "Corner Market"),
            ("tag", "EV-3"),
            ("hangs", "left"),
        ];
        page.fill_and_press(&fields, "Add this evaporator").await;
        page.press("Begin the job").await;
        self.job = page.path.strip_prefix("/job/").unwrap().to_owned();
        page.press("Go on").await;
        page.say("208 V").await;
        page.photo().await;
        page.press("Hand the job in").await;
        assert!(
            page.shows("Handed in") || page.shows("handed in"),
            "{}",
            page.text
        );
    }

    fn kill(&mut self) {
        if let Some(mut server) = self.server.take() {
            // It may have ended by itself.
            drop(server.kill());
            drop(server.wait());
        }
    }

    fn data(&self) -> String {
        self.folder.path().join("data").display().to_string()
    }

    fn file(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    /// Writes the record out and gives the file's path.
    fn record(&self, option: &str, name: &str, more: &[&str]) -> String {
        let file = self.file(name).display().to_string();
        let data = self.data();
        let mut args = vec!["record", &self.job, option, &file, "--data", &data];
        args.extend(more);
        let ran = fanwright(&args);
        assert!(ran.status.success(), "{}", told(&ran.stderr));
        assert_eq!(told(&ran.stdout), format!("Written: {file}\n"));
        file
    }

    /// The keys that the program tells, the one in use last.
    fn keys(&self, more: &[&str]) -> Vec<String> {
        let data = self.data();
        let mut args = vec!["seal-key", "--data", &data];
        args.extend(more);
        let ran = fanwright(&args);
        assert!(ran.status.success(), "{}", told(&ran.stderr));
        told(&ran.stdout).lines().map(str::to_owned).collect()
    }
}

/// Checks a file with the program: exit status, and what it says.
fn check(file: &str, keys: &[&str]) -> (i32, String) {
    let mut args = vec!["verify", file];
    for key in keys {
        args.extend(["--key", key]);
    }
    let ran = fanwright(&args);
    let said = told(&ran.stdout) + &told(&ran.stderr);
    (ran.status.code().unwrap(), said)
}

fn print_of(line: &str) -> &str {
    line.split(' ').next().unwrap()
}

#[tokio::test]
async fn a_record_is_written_out_and_checked_while_the_server_runs() {
    let place = Place::with_a_job().await;
    let file = place.record("--json", "job.json", &[]);
    let (status, said) = check(&file, &[]);
    assert_eq!(status, 0, "{said}");
    assert!(said.starts_with("Intact, signer not confirmed"), "{said}");
    assert!(said.contains("Photos: 1, named by their hash"), "{said}");
    let keys = place.keys(&[]);
    assert_eq!(keys.len(), 1);
    let key = print_of(&keys[0]);
    assert!(said.contains(&format!("Key: {key}")), "{said}");
    assert!(said.contains("Sealed up to entry "), "{said}");
    let (status, said) = check(&file, &[key]);
    assert_eq!(status, 0, "{said}");
    assert!(said.starts_with("Intact, and sealed with the key that you named."));
    let with_photos = place.record("--json", "photos.json", &["--photos"]);
    let (status, said) = check(&with_photos, &[key]);
    assert_eq!(status, 0, "{said}");
    assert!(said.contains("Photos: 1, each as its hash says"), "{said}");
    let socket = std::fs::metadata(place.file("data/fanwright.socket")).unwrap();
    assert_eq!(socket.permissions().mode() & 0o777, 0o600);
    schema::holds(&std::fs::read_to_string(&with_photos).unwrap());
}

#[tokio::test]
async fn what_was_changed_is_said_in_words() {
    let place = Place::with_a_job().await;
    let file = place.record("--json", "job.json", &[]);
    let whole = std::fs::read_to_string(&file).unwrap();
    let changed = place.file("changed.json");
    for (old, new, named) in [
        ("\"name\":\"Ada\"", "\"name\":\"Bob\"", "Name 1, line "),
        (
            "\\\"typed\\\":\\\"208 V\\\"",
            "\\\"typed\\\":\\\"230 V\\\"",
            " (answered, 20",
        ),
        (
            "\"said\":\"208 V\"",
            "\"said\":\"230 V\"",
            "Summary, line 4",
        ),
        ("\"people\": [", "\"people\":  [", "Layout, line "),
    ] {
        assert_eq!(whole.matches(old).count(), 1, "{old}");
        std::fs::write(&changed, whole.replace(old, new)).unwrap();
        let (status, said) = check(changed.to_str().unwrap(), &[]);
        assert_eq!(status, 1, "{said}");
        assert!(said.starts_with("Changed after it was sealed."), "{said}");
        assert!(said.contains(named), "no {named}: {said}");
        assert_eq!(said.lines().count(), 2, "{said}");
    }
    std::fs::write(&changed, "A letter.\n").unwrap();
    let (status, said) = check(changed.to_str().unwrap(), &[]);
    assert_eq!((status, said.lines().count()), (2, 1), "{said}");
    let (status, said) = check("no/such/file.json", &[]);
    assert_eq!((status, said.lines().count()), (2, 1), "{said}");
}

#[tokio::test]
async fn a_new_key_seals_from_then_on_and_the_old_one_stays_known() {
    let place = Place::with_a_job().await;
    let before = place.record("--json", "before.json", &[]);
    let keys = place.keys(&["--rotate"]);
    assert_eq!(keys.len(), 2);
    let (old, new) = (print_of(&keys[0]), print_of(&keys[1]));
    let after = place.record("--json", "after.json", &[]);
    assert_eq!(check(&before, &[old]).0, 0);
    let (status, said) = check(&before, &[new]);
    assert_eq!(status, 1);
    assert!(said.starts_with("Not confirmed"), "{said}");
    let (status, said) = check(&after, &[new]);
    assert_eq!(status, 0, "{said}");
    assert!(
        said.contains(&format!("key {old}, which is none of yours")),
        "{said}"
    );
    let list = place.file("keys.txt");
    std::fs::write(&list, keys.join("\n")).unwrap();
    let (status, said) = check(&after, &[list.to_str().unwrap()]);
    assert_eq!(status, 0, "{said}");
    assert!(!said.contains("none of yours"), "{said}");
}

#[tokio::test]
async fn without_a_server_the_folder_itself_is_asked() {
    let mut place = Place::with_a_job().await;
    let key = print_of(&place.keys(&[])[0]).to_owned();
    place.kill();
    assert!(place.file("data/fanwright.socket").exists());
    let file = place.record("--json", "job.json", &[]);
    assert_eq!(check(&file, &[&key]).0, 0);
    let csv = std::fs::read_to_string(place.record("--csv", "job.csv", &[])).unwrap();
    let lines: Vec<&str> = csv.lines().collect();
    assert_eq!(lines.len(), 2, "{csv}");
    let (_, reading) = lines[1].split_once("Z,").unwrap();
    let expected = "Read the fan,\"'=What does the meter read, at the leads?\",208,V,\
                    187 V to 253 V,yes,Ada,browser";
    assert_eq!(reading, expected);
    let html = std::fs::read_to_string(place.record("--html", "job.html", &[])).unwrap();
    assert!(html.contains(&format!("key {key}")), "{html}");

    // Another process has the folder, and answers nothing.
    let held = Journal::open(Path::new(&place.data())).unwrap();
    let ran = fanwright(&[
        "record",
        &place.job,
        "--csv",
        "unused.csv",
        "--data",
        &place.data(),
    ]);
    let said = told(&ran.stderr);
    assert!(!ran.status.success());
    assert!(said.contains("in use by another process"), "{said}");
    assert_eq!(said.lines().count(), 1, "{said}");
    drop(held);
    let nowhere = place.file("nowhere").display().to_string();
    let ran = fanwright(&[
        "record",
        &place.job,
        "--csv",
        "unused.csv",
        "--data",
        &nowhere,
    ]);
    assert!(told(&ran.stderr).starts_with("There is no data folder"));
    assert!(!Path::new(&nowhere).exists());
    let nobody = "00000000-0000-0000-0000-000000000000";
    let ran = fanwright(&[
        "record",
        nobody,
        "--csv",
        "unused.csv",
        "--data",
        &place.data(),
    ]);
    assert!(
        told(&ran.stderr).starts_with("There is no such job"),
        "{}",
        told(&ran.stderr)
    );
}

#[tokio::test]
async fn the_pages_give_the_files_and_check_them_for_anybody() {
    let mut place = Place::with_a_job().await;
    place
        .page
        .open(&format!("/job/{}/checklist", place.job))
        .await;
    assert!(
        place.page.shows("Sealed up to entry "),
        "{}",
        place.page.text
    );
    place
        .page
        .press("Save the record with its photos (JSON)")
        .await;
    let file = place.page.source.clone();
    let report = verify(file.as_bytes()).unwrap();
    assert_eq!(report.verdict(&[]), Verdict::Intact);
    assert_eq!(report.pictures, 1);
    let key: Fingerprint = report.sealed_by.unwrap().fingerprint();
    let readings = format!("{}/job/{}/readings.csv", place.base, place.job);
    let answered = place.page.client.get(&readings).send().await.unwrap();
    assert_eq!(
        answered.headers()["content-type"],
        "text/csv; charset=utf-8"
    );
    let stranger = reqwest::Client::builder()
        .redirect(reqwest::redirect::Policy::none())
        .build()
        .unwrap();
    let refused = stranger.get(&readings).send().await.unwrap();
    assert_eq!(refused.status(), 303, "who is not signed in gets no record");

    let address = format!("{}/verify", place.base);
    let asks = async |file: String, key: &str| {
        let part = Part::text(file).file_name("job.json");
        let form = Form::new().part("file", part).text("key", key.to_owned());
        let sent = stranger
            .post(&address)
            .multipart(form)
            .send()
            .await
            .unwrap();
        (sent.status().as_u16(), sent.text().await.unwrap())
    };
    let (status, page) = asks(file.clone(), "").await;
    assert_eq!(status, 200);
    assert!(page.contains("Intact, signer not confirmed"), "{page}");
    let (_, page) = asks(file.clone(), &key.to_string().to_lowercase()).await;
    assert!(
        page.contains("Intact, and sealed with the key that you named."),
        "{page}"
    );
    let (_, page) = asks(file.replace("Ada", "Eve"), "").await;
    assert!(page.contains("Changed after it was sealed."), "{page}");
    assert!(page.contains("Name 1, line "), "{page}");
    let (status, page) = asks(file, "no key").await;
    assert_eq!(status, 422, "{page}");
    let (status, page) = asks(" ".repeat(33 * 1024 * 1024), "").await;
    assert_eq!(status, 413, "{page}");
    assert!(page.contains("larger than 32 MB"), "{page}");
}

#[cfg(feature = "pdf")]
#[tokio::test]
async fn the_report_is_written_by_the_command_and_saved_from_the_page() {
    let mut place = Place::with_a_job().await;
    let file = place.record("--pdf", "job.pdf", &["--paper", "a4"]);
    let pdf = std::fs::read(&file).unwrap();
    assert!(pdf.starts_with(b"%PDF-1.7"));
    let address = format!("{}/job/{}/report.pdf?paper=a4", place.base, place.job);
    let saved = place.page.client.get(address).send().await.unwrap();
    assert_eq!(saved.headers()["content-type"], "application/pdf");
    let saved = saved.bytes().await.unwrap();
    // The same record on the same paper: the same bytes, from the page or by the command.
    assert!(saved == pdf[..], "{} and {} bytes", saved.len(), pdf.len());
    let checklist = format!("/job/{}/checklist", place.job);
    place.page.open(&checklist).await;
    assert!(place.page.source.contains("report.pdf?paper=letter"));
    let other = place.record(
        "--pdf",
        "other.pdf",
        &["--public-url", "https://fans.example.org"],
    );
    assert_ne!(std::fs::read(other).unwrap(), pdf);
    let ran = fanwright(&[
        "record",
        &place.job,
        "--pdf",
        "x.pdf",
        "--public-url",
        "nowhere",
    ]);
    assert!(
        told(&ran.stderr).contains("no address for --public-url"),
        "{}",
        told(&ran.stderr)
    );
}

#[tokio::test]
async fn the_page_compares_a_file_with_what_stands_on_paper() {
    let place = Place::with_a_job().await;
    let file = place.record("--json", "job.json", &[]);
    let text = std::fs::read_to_string(&file).unwrap();
    let last = text
        .split("\"last\":\"")
        .nth(1)
        .unwrap()
        .split('"')
        .next()
        .unwrap();
    let entries = text
        .split("\"entries\":")
        .nth(1)
        .unwrap()
        .split(',')
        .next()
        .unwrap();
    for (hash, says) in [
        (last.to_owned(), "It is the record on paper"),
        ("0".repeat(64), "It is not the record on paper"),
    ] {
        let form = Form::new()
            .part(
                "file",
                Part::bytes(text.clone().into_bytes()).file_name("job.json"),
            )
            .text("key", "")
            .text("job", place.job.clone())
            .text("entry", entries.to_owned())
            .text("hash", hash);
        let sent = reqwest::Client::new()
            .post(format!("{}/verify", place.base))
            .multipart(form)
            .send()
            .await;
        let page = sent.unwrap().text().await.unwrap();
        assert!(page.contains(says), "{says}: {page}");
        assert!(page.contains("Intact, signer not confirmed"), "{page}");
    }
}
