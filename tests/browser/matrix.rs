//! Who gets what answer at which address: `matrix/answers.txt`, row by row.
//!
//! Every address of the server stands in the table, with what each role gets for its own crew's
//! things and for another crew's. What belongs to another crew answers byte for byte like what
//! is not there, and whoever is refused has changed nothing.
//! `UPDATE_GOLDEN=1 cargo test --locked --test all matrix` writes the answers anew: read each
//! change of them as carefully as one of the program.

mod forged;
mod table;
mod world;

use std::path::Path;
use std::sync::Arc;

use fanwright::channel::browser::Browser;
use fanwright::desk::id::JobId;
use reqwest::header::{CONTENT_TYPE, LOCATION};

use self::table::{Row, WHO, Whose};
use self::world::World;
use crate::support::heads::Heads;
use crate::support::page::Page;

/// What is in nobody's list.
const NOWHERE: &str = "01890000-0000-7000-8000-000000000000";

/// Whose things one request is about.
#[derive(Clone, Copy, PartialEq, Eq)]
enum About {
    Ours,
    Theirs,
    Nothing,
}

/// An answer, with what it was asked for left out of it.
#[derive(Clone, Debug, PartialEq, Eq)]
struct Answer {
    /// What stands in the table.
    cell: String,
    body: Vec<u8>,
}

fn file() -> std::path::PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/browser/matrix/answers.txt")
}

fn is_updating() -> bool {
    std::env::var_os("UPDATE_GOLDEN").is_some()
}

#[tokio::test]
async fn every_address_gives_every_role_the_answer_of_the_table() {
    let text = std::fs::read_to_string(file()).unwrap();
    let (comment, mut rows) = table::read(&text);
    has_every_address(&mut rows);
    let mut world = World::new().await;
    let mut browsers = Vec::new();
    for who in WHO {
        browsers.push(world.browser(who).await);
    }
    let mut differ = Vec::new();
    for row in &mut rows {
        let found = answers(&mut world, &mut browsers, row).await;
        if found != row.answers {
            differ.push(format!(
                "{}\n{found:?}\nis not\n{:?}",
                row.head(),
                row.answers
            ));
        }
        row.answers = found;
    }
    if is_updating() {
        std::fs::write(file(), table::write(&comment, &rows)).unwrap();
        return;
    }
    assert!(differ.is_empty(), "{}", differ.join("\n\n"));
    assert_eq!(text, table::write(&comment, &rows), "the table is not tidy");
}

/// No address is left out, and no row is about one that there is not.
fn has_every_address(rows: &mut Vec<Row>) {
    let addresses = Browser::addresses();
    for address in &addresses {
        let method = address.method.as_str();
        let has_it = |row: &Row| row.method == method && row.path == address.path;
        if !rows.iter().any(has_it) {
            assert!(
                is_updating(),
                "{method} {} is not in tests/browser/matrix/answers.txt: add a line with the \
                 fields of its form, then write the answers with UPDATE_GOLDEN=1",
                address.path
            );
            rows.push(Row::new(method, address.path));
        }
    }
    for row in rows {
        let is_there = addresses
            .iter()
            .any(|address| address.method.as_str() == row.method && address.path == row.path);
        assert!(is_there, "there is no {} {}", row.method, row.path);
    }
}

/// What everybody gets for an answer.
async fn answers(world: &mut World, browsers: &mut [Page], row: &Row) -> Vec<(Whose, Vec<String>)> {
    let mut own = Vec::new();
    for (at, who) in WHO.iter().enumerate() {
        own.push(
            ask(world, (&browsers[at], who), row, About::Ours)
                .await
                .cell,
        );
        if row.ends_session {
            browsers[at] = world.browser(who).await;
        }
    }
    let mut found = vec![(Whose::Own, own)];
    if !is_about_a_crew(row) {
        return found;
    }
    let mut other = Vec::new();
    for (at, who) in WHO.iter().enumerate() {
        let theirs = ask(world, (&browsers[at], who), row, About::Theirs).await;
        let nothing = ask(world, (&browsers[at], who), row, About::Nothing).await;
        assert_eq!(
            theirs,
            nothing,
            "{} by {who}: another crew's answers otherwise than what is not there: {}",
            row.head(),
            String::from_utf8_lossy(&theirs.body)
        );
        other.push(theirs.cell);
    }
    found.push((Whose::Other, other));
    found
}

/// Whether a row names something that belongs to a crew.
fn is_about_a_crew(row: &Row) -> bool {
    let words = ["evaporator", "person", "trial", "photo"];
    let names = |text: &str| words.iter().any(|word| text == format!("${word}"));
    row.path.contains("{job}") || row.fields.iter().any(|(_, value)| names(value))
}

/// A request that a row describes, with everything filled in but the form token.
struct Asks {
    job: JobId,
    address: String,
    fields: Vec<(String, String)>,
}

impl Asks {
    async fn of(world: &mut World, row: &Row, about: About) -> Asks {
        let is_ours = about == About::Ours;
        let job = match about {
            About::Nothing => NOWHERE.parse().unwrap(),
            _ if !row.path.contains("{job}") => NOWHERE.parse().unwrap(),
            _ if row.method == "GET" => world.kept_job(is_ours, &row.state).await,
            _ => world.new_job(is_ours, &row.state).await,
        };
        let values = Values {
            world,
            about,
            job,
            revision: world.revision(is_ours, job).await,
        };
        let mut path = row.path.clone();
        let mut fields = Vec::new();
        for (name, value) in &row.fields {
            let value = values.of(value);
            let place = format!("{{{name}}}");
            if path.contains(&place) {
                path = path.replace(&place, &value);
            } else {
                fields.push((name.clone(), value));
            }
        }
        path = path.replace("{job}", &job.to_string());
        assert!(!path.contains('{'), "{} leaves a brace empty", row.head());
        let address = format!("{}{path}", world.server.base);
        Asks {
            job,
            address,
            fields,
        }
    }

    /// The form as this browser sends it.
    fn posted(&self, browser: &Page, token: Option<String>) -> reqwest::RequestBuilder {
        let mut fields = self.fields.clone();
        if let Some(token) = token {
            fields.insert(0, ("token".to_owned(), token));
        }
        sent(browser.client.post(&self.address), fields)
    }
}

/// One request.
async fn ask(world: &mut World, (browser, who): (&Page, &str), row: &Row, about: About) -> Answer {
    let asks = Asks::of(world, row, about).await;
    let store = Arc::clone(world.server.store.as_ref().unwrap());
    let before = Heads::of(&*store).await;
    let request = match row.method.as_str() {
        "GET" => browser.client.get(&asks.address).query(&asks.fields),
        _ => asks.posted(browser, Some(token(world, browser, who).await)),
    };
    let response = request.send().await.unwrap();
    let status = response.status();
    let answer = answer(response, asks.job).await;
    let turned_away = status.is_client_error() || answer.cell == ">/join";
    if turned_away {
        let written = before.written_since(&*store).await;
        assert!(
            written.is_empty(),
            "{} by {who} wrote into {written:?}",
            row.head()
        );
    }
    answer
}

/// What words like `$person` stand for.
struct Values<'a> {
    world: &'a World,
    about: About,
    job: JobId,
    revision: u64,
}

impl Values<'_> {
    fn of(&self, value: &str) -> String {
        let Some(word) = value.strip_prefix('$') else {
            return value.to_owned();
        };
        let known = match self.about {
            About::Ours => self.world.ours.named(word),
            About::Theirs => self.world.theirs.named(word),
            About::Nothing if word == "photo" => Some("0".repeat(64)),
            About::Nothing => self.world.ours.named(word).map(|_| NOWHERE.to_owned()),
        };
        match word {
            "revision" => self.revision.to_string(),
            "job" => self.job.to_string(),
            _ => known.unwrap_or_else(|| panic!("nobody knows ${word}")),
        }
    }
}

/// A form; with a file in it where a field begins with an at sign.
fn sent(
    request: reqwest::RequestBuilder,
    fields: Vec<(String, String)>,
) -> reqwest::RequestBuilder {
    if !fields.iter().any(|(_, value)| value.starts_with('@')) {
        return request.form(&fields);
    }
    let mut form = reqwest::multipart::Form::new();
    for (name, value) in fields {
        form = match value.strip_prefix('@') {
            Some("photo") => {
                let photo = reqwest::multipart::Part::bytes(world::png()).file_name("photo.png");
                form.part(name, photo)
            }
            Some(text) => {
                let file = reqwest::multipart::Part::bytes(text.to_owned().into_bytes());
                form.part(name, file.file_name("new.yaml"))
            }
            None => form.text(name, value),
        };
    }
    request.multipart(form)
}

/// A form token of this browser.
async fn token(world: &World, browser: &Page, who: &str) -> String {
    let path = if who == "nobody" {
        "/join/ABC"
    } else {
        "/new-job"
    };
    let page = browser.client.get(format!("{}{path}", world.server.base));
    let page = page.send().await.unwrap().text().await.unwrap();
    let (_, rest) = page.split_once("name=\"token\" value=\"").unwrap();
    rest.split('"').next().unwrap().to_owned()
}

async fn answer(response: reqwest::Response, job: JobId) -> Answer {
    let status = response.status();
    let mask = |text: &str| text.replace(&job.to_string(), "{job}");
    if let Some(to) = response.headers().get(LOCATION) {
        let to = mask(to.to_str().unwrap());
        let cell = format!(">{}", without_ids(&to));
        return Answer {
            cell,
            body: to.into_bytes(),
        };
    }
    let kind = response.headers().get(CONTENT_TYPE);
    let lasts = kind.is_some_and(|kind| kind == "text/event-stream");
    // News never end, so only their beginning is an answer.
    let body = if lasts {
        Vec::new()
    } else {
        response.bytes().await.unwrap().to_vec()
    };
    let body = match String::from_utf8(body) {
        Ok(text) => mask(&without_tokens(&text)).into_bytes(),
        Err(not_text) => not_text.into_bytes(),
    };
    let cell = status.as_str().to_owned();
    Answer { cell, body }
}

/// The same text without one-time tokens.
fn without_tokens(text: &str) -> String {
    let mut parts = text.split("name=\"token\" value=\"");
    let mut kept = parts.next().unwrap_or_default().to_owned();
    for part in parts {
        kept.push_str("name=\"token\" value=\"");
        kept.push_str(part.split_once('"').map_or("", |(_, rest)| rest));
    }
    kept
}

/// An address without the ids that differ from run to run.
fn without_ids(address: &str) -> String {
    let is_id = |word: &str| word.parse::<uuid::Uuid>().is_ok();
    let pieces = address.split_inclusive(['/', '=', '?']);
    let masked = pieces.map(|piece| {
        let word = piece.trim_end_matches(['/', '=', '?']);
        if is_id(word) {
            piece.replace(word, "{id}")
        } else {
            piece.to_owned()
        }
    });
    masked.collect()
}
