//! Backing up and restoring with the built program, as an operator does.

use std::path::{Path, PathBuf};
use std::process::Output;

use fanwright::operator::{Question, ask};

use super::{Place, fanwright, print_of, told};

fn text(path: &Path) -> &str {
    path.to_str().unwrap()
}

/// What a run said, both ways, and how it ended.
fn said(ran: &Output) -> (i32, String) {
    let said = told(&ran.stdout) + &told(&ran.stderr);
    (ran.status.code().unwrap(), said)
}

fn backed_up(place: &Place, more: &[&str]) -> String {
    let (to, data) = (place.file("backup"), place.data());
    let mut args = vec!["backup", text(&to), "--data", &data];
    args.extend(more);
    let (status, said) = said(&fanwright(&args));
    assert_eq!(status, 0, "{said}");
    said
}

fn verified(folder: &Path, more: &[&str]) -> (i32, String) {
    let mut args = vec!["backup", "--verify", text(folder)];
    args.extend(more);
    said(&fanwright(&args))
}

/// A piece of the backup that is longer than this.
fn piece(backup: &Path, bytes: u64) -> PathBuf {
    let shelves = std::fs::read_dir(backup.join("pieces")).unwrap();
    let shelves = shelves.map(|shelf| shelf.unwrap().path());
    let files = shelves.flat_map(|shelf| std::fs::read_dir(shelf).unwrap());
    let mut paths = files.map(|file| file.unwrap().path());
    let long = |path: &PathBuf| std::fs::metadata(path).unwrap().len() > bytes;
    paths.find(long).unwrap()
}

impl Place {
    /// Another job on the evaporator that is there, as far as the first step.
    async fn another_job(&mut self) -> String {
        let page = &mut self.page;
        page.open("/new-job").await;
        let (_, rest) = page
            .source
            .split_once("name=\"evaporator\" value=\"")
            .unwrap();
        let evaporator = rest.split('"').next().unwrap().to_owned();
        page.fill_and_press(&[("evaporator", &evaporator)], "Begin the job")
            .await;
        page.press("Go on").await;
        page.path.strip_prefix("/job/").unwrap().to_owned()
    }

    async fn walk_to_its_end(&mut self) {
        self.page.say("212 V").await;
        self.page.photo().await;
        self.page.press("Hand the job in").await;
    }

    /// The record of a job of this folder as a page.
    fn html(&self, job: &str, data: &Path) -> String {
        let file = self.file("seen.html");
        let args = ["record", job, "--html", text(&file), "--data", text(data)];
        let (status, said) = said(&fanwright(&args));
        assert_eq!(status, 0, "{said}");
        std::fs::read_to_string(file).unwrap()
    }
}

#[tokio::test]
async fn a_running_server_is_backed_up_and_the_copy_carries_on() {
    let mut place = Place::with_a_job().await;
    let key = print_of(&place.keys(&[])[0]).to_owned();
    let first = backed_up(&place, &[]);
    assert!(first.contains("snapshot 1: "), "{first}");
    assert!(
        first.contains("The key that seals records is not in it."),
        "{first}"
    );
    let second = backed_up(&place, &[]);
    assert!(second.contains("snapshot 2: "), "{second}");
    let backup = place.file("backup");
    let (status, good) = verified(&backup, &[]);
    assert_eq!(status, 0, "{good}");
    assert!(
        good.starts_with("Good: 2 snapshots, the last one with "),
        "{good}"
    );
    assert!(good.contains(&key), "{good}");
    assert_eq!(good.lines().count(), 1, "{good}");
    let looked = fanwright(&["backup", "--check-data", "--data", &place.data()]);
    assert_eq!(looked.status.code(), Some(0));
    assert!(told(&looked.stdout).starts_with("The data folder is whole: "));
    // With no server it is done by the program itself.
    place.kill();
    assert!(backed_up(&place, &[]).contains("snapshot 3: "));
    let again = place.file("again");
    let ran = fanwright(&["restore", text(&backup), "--data", text(&again)]);
    let (status, restored) = said(&ran);
    assert_eq!(status, 0, "{restored}");
    assert!(restored.contains("Names are as they were"), "{restored}");
    assert!(place.html(&place.job, &again).contains("208 V"));
    // A new key seals from now on, and the old one stays known.
    let keys = told(&fanwright(&["seal-key", "--data", text(&again)]).stdout);
    assert_eq!(keys.lines().count(), 2, "{keys}");
    assert_eq!(print_of(keys.lines().next().unwrap()), key);
    let mark = std::fs::read_to_string(again.join("format")).unwrap();
    assert!(mark.starts_with("fanwright data "), "{mark}");
}

#[tokio::test]
async fn a_backup_that_the_server_does_not_see_is_not_made_elsewhere() {
    let place = Place::with_a_job().await;
    let to = place.file("backup");
    let data = PathBuf::from(place.data());
    let refused = ask(&data, &Question::BackUp { to: to.clone() }).await;
    let told = refused.unwrap_err();
    assert!(
        told.contains("The server does not see the backup"),
        "{told}"
    );
    assert!(!to.exists());
}

#[tokio::test]
async fn a_restore_goes_up_to_one_entry() {
    let place = Place::with_a_job().await;
    backed_up(&place, &[]);
    let (backup, again) = (place.file("backup"), place.file("again"));
    let point = format!("job:{}/1", place.job);
    let args = [
        "restore",
        text(&backup),
        "--data",
        text(&again),
        "--up-to",
        &point,
    ];
    let (status, restored) = said(&fanwright(&args));
    assert_eq!(status, 0, "{restored}");
    assert!(restored.contains("Left out: "), "{restored}");
    let seen = place.html(&place.job, &again);
    assert!(seen.contains("EV-3") && !seen.contains("208 V"));
    let ran = fanwright(&[
        "restore",
        text(&backup),
        "--data",
        "x",
        "--up-to",
        "yesterday",
    ]);
    assert!(told(&ran.stderr).contains("is no point to restore up to"));
}

#[tokio::test]
async fn a_passphrase_keeps_the_key_and_opens_the_backup() {
    let mut place = Place::with_a_job().await;
    let keys = place.keys(&[]);
    let words = place.file("words");
    std::fs::write(&words, "a cold box\n").unwrap();
    let opens = ["--passphrase-file", text(&words)];
    let first = backed_up(&place, &opens);
    assert!(
        first.contains("The key that seals records is in it, too."),
        "{first}"
    );
    // Later ones need no passphrase.
    backed_up(&place, &[]);
    place.kill();
    let (backup, again) = (place.file("backup"), place.file("again"));
    let (status, refused) = verified(&backup, &[]);
    assert_eq!(status, 2, "{refused}");
    assert!(
        refused.starts_with("This backup is encrypted."),
        "{refused}"
    );
    let (status, good) = verified(&backup, &opens);
    assert_eq!(status, 0, "{good}");
    let mut args = vec!["restore", text(&backup), "--data", text(&again)];
    args.extend(opens);
    let (status, restored) = said(&fanwright(&args));
    assert_eq!(status, 0, "{restored}");
    assert!(
        restored.contains("The key that seals records came with it."),
        "{restored}"
    );
    let kept = told(&fanwright(&["seal-key", "--data", text(&again)]).stdout);
    assert_eq!(kept.lines().collect::<Vec<_>>(), keys);
    let to = [
        "backup",
        text(&backup),
        "--data",
        text(&again),
        "--encrypt-to",
        "age1no",
    ];
    let (status, refused) = said(&fanwright(&to));
    assert_eq!(status, 1, "{refused}");
    assert!(refused.contains("is no recipient"), "{refused}");
}

#[tokio::test]
async fn a_damaged_backup_is_told_from_a_good_one_and_from_none() {
    let place = Place::with_a_job().await;
    backed_up(&place, &[]);
    let backup = place.file("backup");
    let path = piece(&backup, 1000);
    let mut bytes = std::fs::read(&path).unwrap();
    bytes[500] ^= 1;
    std::fs::write(&path, bytes).unwrap();
    let (status, damaged) = verified(&backup, &[]);
    assert_eq!(status, 1, "{damaged}");
    assert!(damaged.starts_with("The backup is damaged: "), "{damaged}");
    let (status, none) = verified(&place.file("flows"), &[]);
    assert_eq!(status, 2, "{none}");
    assert!(none.contains("is no backup"), "{none}");
    let again = place.file("again");
    let ran = fanwright(&["restore", text(&backup), "--data", text(&again)]);
    let (status, refused) = said(&ran);
    assert_eq!(status, 1, "{refused}");
    assert!(refused.starts_with("The backup is damaged: "), "{refused}");
}

#[tokio::test]
async fn records_that_are_newer_than_the_backup_are_brought_back() {
    let mut place = Place::with_a_job().await;
    let old = place.record("--json", "old.json", &[]);
    let first = place.job.clone();
    // One job is under way when the backup is taken, one begins later, on a new evaporator too.
    let under_way = place.another_job().await;
    backed_up(&place, &[]);
    place.walk_to_its_end().await;
    place.job = under_way.clone();
    let carried_on = place.record("--json", "carried-on.json", &["--photos"]);
    place.job = place.another_job().await;
    place.walk_to_its_end().await;
    let begun_later = place.record("--json", "begun-later.json", &["--photos"]);
    let later = place.job.clone();
    place.walk().await;
    let elsewhere = place.record("--json", "elsewhere.json", &[]);
    place.kill();
    let (backup, again) = (place.file("backup"), place.file("again"));
    let changed = place.file("changed.json");
    let whole = std::fs::read_to_string(&carried_on).unwrap();
    std::fs::write(&changed, whole.replace("212 V", "230 V")).unwrap();
    let files = [&old, &carried_on, &begun_later, &elsewhere, text(&changed)];
    let mut args = vec![
        "restore",
        text(&backup),
        "--data",
        text(&again),
        "--records",
    ];
    args.extend(files);
    let ran = fanwright(&args);
    let (status, restored) = said(&ran);
    assert_eq!(status, 1, "two of the five are refused: {restored}");
    for told in [
        format!("job {first} is there already"),
        format!("job {under_way} is back: "),
        format!("job {later} is back: "),
    ] {
        assert!(restored.contains(&told), "{restored}");
    }
    let refused = told(&ran.stderr);
    assert_eq!(refused.lines().count(), 2, "{refused}");
    assert!(
        refused.contains("The backup does not know its evaporator"),
        "{refused}"
    );
    assert!(
        refused.contains("It was changed after it was sealed."),
        "{refused}"
    );
    for job in [&under_way, &later] {
        let seen = place.html(job, &again);
        assert!(
            seen.contains("212 V") && seen.contains("anded in"),
            "{seen}"
        );
    }
    place.job = later;
    let data = place.file("data");
    std::fs::rename(&data, place.file("lost")).unwrap();
    std::fs::rename(&again, &data).unwrap();
    let back = place.record("--json", "back.json", &["--photos"]);
    // What was brought back is the same record, entry for entry, with its photo.
    let kept = entries(&begun_later);
    assert!(kept.len() > 5);
    assert_eq!(entries(&back), kept);
    // A second time changes nothing.
    let args = ["restore", "--data", text(&data), "--records", &begun_later];
    let (status, again) = said(&fanwright(&args));
    assert_eq!(status, 0, "{again}");
    assert!(again.contains("is there already"), "{again}");
}

/// The lines of a record's entries.
fn entries(file: &str) -> Vec<String> {
    let text = std::fs::read_to_string(file).unwrap();
    let lines = text.lines().map(str::to_owned);
    lines
        .filter(|line| line.starts_with("{\"entry\":"))
        .collect()
}

#[tokio::test]
async fn a_damaged_folder_says_what_can_be_read_and_is_backed_up_so_far() {
    let mut place = Place::with_a_job().await;
    place.kill();
    let data = PathBuf::from(place.data());
    let file = data.join("journal").join("00000001.journal");
    let mut bytes = std::fs::read(&file).unwrap();
    let middle = bytes.len() / 2;
    bytes[middle] ^= 1;
    std::fs::write(&file, bytes).unwrap();
    std::fs::remove_dir_all(data.join("index")).unwrap();
    let record = [
        "record",
        &place.job,
        "--csv",
        "unused.csv",
        "--data",
        text(&data),
    ];
    for args in [
        &record[..],
        &["backup", text(&place.file("no")), "--data", text(&data)],
    ] {
        let (status, refused) = said(&fanwright(args));
        assert_eq!(status, 1, "{refused}");
        assert!(
            refused.starts_with("The journal is damaged: frame "),
            "{refused}"
        );
        assert!(
            refused.contains(" can be read. Bring back the last backup"),
            "{refused}"
        );
        assert_eq!(refused.lines().count(), 1, "{refused}");
    }
    let readable = backed_up(&place, &["--readable"]);
    assert!(
        readable.contains("It holds what could be read."),
        "{readable}"
    );
    let (backup, again) = (place.file("backup"), place.file("again"));
    let (status, good) = verified(&backup, &[]);
    assert_eq!(status, 0, "{good}");
    let ran = fanwright(&["restore", text(&backup), "--data", text(&again)]);
    assert_eq!(said(&ran).0, 0);
    assert_eq!(
        fanwright(&["seal-key", "--data", text(&again)])
            .status
            .code(),
        Some(0)
    );
}

#[tokio::test]
async fn a_folder_of_a_later_format_is_refused_by_every_command() {
    let mut place = Place::with_a_job().await;
    place.kill();
    let data = place.data();
    let mark = Path::new(&data).join("format");
    std::fs::write(&mark, "fanwright data 999\n").unwrap();
    let backup = place.file("backup");
    let out = place.file("out");
    let commands: [&[&str]; 7] = [
        &["serve", "--listen", "127.0.0.1:0"],
        &["record", &place.job, "--csv", text(&out)],
        &["labels", "--pdf", text(&out)],
        &["seal-key"],
        &["backup", text(&backup)],
        &["backup", text(&backup), "--readable"],
        &["chat"],
    ];
    for command in commands {
        let mut args = command.to_vec();
        args.extend(["--data", &data]);
        let (status, refused) = said(&fanwright(&args));
        assert_eq!(status, 1, "{args:?}: {refused}");
        assert!(
            refused.contains("has format 999, and this program"),
            "{refused}"
        );
    }
}
