//! Checking a record that was written out: a page for anybody, who need not be signed in.

use axum::extract::multipart::{Multipart, MultipartError};
use axum::extract::{DefaultBodyLimit, Query};
use axum::http::StatusCode;
use axum::response::Response;
use serde::{Deserialize, Serialize};
use tokio::sync::Semaphore;

use super::page::{Frame, render};
use super::trouble::Trouble;
use crate::desk::id::JobId;
use crate::record::chain::Hash;
use crate::record::seal::Fingerprint;
use crate::record::verify::{Verdict, verify};

/// A record with its photos fits into so many bytes.
const BYTES_MAX: usize = 32 * 1024 * 1024;

/// So many files are taken in at once: whoever sends them need not be known.
static AT_ONCE: Semaphore = Semaphore::const_new(4);

/// Records are larger than other forms.
pub(super) fn limit() -> DefaultBodyLimit {
    DefaultBodyLimit::max(BYTES_MAX)
}

#[derive(Default, Serialize)]
struct Page {
    /// What was found, the verdict first.
    found: Vec<String>,
    /// Whether nothing was changed.
    intact: bool,
    /// What was typed as the key.
    key: String,
    /// What stands on the report that led here.
    paper: OnPaper,
    mebibytes: usize,
}

impl Page {
    fn show(self) -> Response {
        let page = Page {
            mebibytes: BYTES_MAX / (1024 * 1024),
            ..self
        };
        render("verify.html", &Frame::of_nobody("Check a record"), &page)
    }
}

/// What the square code on a report says; each is empty where nothing is on paper.
#[derive(Default, Deserialize, Serialize)]
#[serde(default)]
pub(super) struct OnPaper {
    job: String,
    entry: String,
    hash: String,
    key: String,
}

impl OnPaper {
    /// Whether an intact file holds the entry that the paper names; none where it names none.
    /// What an intact file looks like is settled to the last sign, so its text can be searched.
    fn line(&self, file: &str) -> Option<String> {
        if self.hash.is_empty() {
            return None;
        }
        let known = self
            .hash
            .parse::<Hash>()
            .ok()
            .zip(self.entry.parse::<u64>().ok());
        let known = known.zip(self.job.parse::<JobId>().ok());
        let holds = known.is_some_and(|((hash, entry), job)| {
            file.contains(&format!("\"job\":\"{}\"", job.stream()))
                && file.contains(&format!("{{\"entry\":{entry},\"hash\":\"{hash}\""))
        });
        Some(if holds {
            format!(
                "It is the record on paper: its entry {} has the hash that the paper names.",
                self.entry
            )
        } else {
            "It is not the record on paper: it has no such job with such an entry and hash."
                .to_owned()
        })
    }
}

/// The form; whoever comes from a report brings what stands on it.
pub(super) async fn ask(Query(paper): Query<OnPaper>) -> Response {
    let page = Page {
        key: paper.key.clone(),
        paper,
        ..Page::default()
    };
    page.show()
}

/// What became of the file that was sent.
pub(super) async fn check(form: Multipart) -> Result<Response, Trouble> {
    let Ok(_place) = AT_ONCE.try_acquire() else {
        return Err(Trouble::told(
            StatusCode::SERVICE_UNAVAILABLE,
            "Others are checking records just now. Try again in a minute.",
        ));
    };
    let (file, key, paper) = read(form).await?;
    let known: Vec<Fingerprint> = match key.trim() {
        "" => Vec::new(),
        typed => vec![typed.parse().map_err(|told| unusable(&told))?],
    };
    if file.is_empty() {
        return Err(unusable(
            &"No file was sent. Choose the file, then check it.",
        ));
    }
    let checked = tokio::task::spawn_blocking(move || {
        let checked = verify(&file).map(|report| {
            let (verdict, mut lines) = (report.verdict(&known), report.lines(&known));
            if verdict != Verdict::Changed {
                lines.extend(paper.line(&String::from_utf8_lossy(&file)));
            }
            (verdict, lines)
        });
        (checked, paper)
    });
    let (checked, paper) = checked.await.map_err(|error| {
        tracing::error!(%error, "checking a record panicked");
        Trouble::fault()
    })?;
    let (intact, found) = match checked {
        Ok((verdict, lines)) => {
            let intact = matches!(verdict, Verdict::Intact | Verdict::Confirmed);
            (intact, lines)
        }
        Err(told) => (false, vec![told.to_string()]),
    };
    let page = Page {
        found,
        intact,
        key,
        paper,
        ..Page::default()
    };
    Ok(page.show())
}

fn unusable(told: &dyn std::fmt::Display) -> Trouble {
    Trouble::told(StatusCode::UNPROCESSABLE_ENTITY, told.to_string())
}

/// The file, the key, and what stands on paper.
async fn read(mut form: Multipart) -> Result<(Vec<u8>, String, OnPaper), Trouble> {
    let (mut file, mut key, mut paper) = (Vec::new(), String::new(), OnPaper::default());
    while let Some(field) = form.next_field().await.map_err(unreadable)? {
        let name = field.name().unwrap_or_default().to_owned();
        let bytes = field.bytes().await.map_err(unreadable)?;
        let text = || String::from_utf8_lossy(&bytes).into_owned();
        match name.as_str() {
            "file" => file = bytes.to_vec(),
            "key" => key = text(),
            "job" => paper.job = text(),
            "entry" => paper.entry = text(),
            "hash" => paper.hash = text(),
            _ => {}
        }
    }
    Ok((file, key, paper))
}

fn unreadable(error: MultipartError) -> Trouble {
    let status = error.status();
    if status == StatusCode::PAYLOAD_TOO_LARGE {
        let mebibytes = BYTES_MAX / (1024 * 1024);
        let sentence = format!(
            "That file is larger than {mebibytes} MB. Check it with `fanwright verify` instead."
        );
        return Trouble::told(status, sentence);
    }
    Trouble::told(status, "The file did not arrive whole. Send it again.")
}
