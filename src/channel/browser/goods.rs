//! The kit and speed book of the crew: to look at, to share as files, and for a supervisor to
//! change.

use axum::extract::multipart::{Multipart, MultipartError};
use axum::extract::{DefaultBodyLimit, Path, State};
use axum::http::StatusCode;
use axum::http::header::{CONTENT_DISPOSITION, CONTENT_TYPE};
use axum::response::{IntoResponse, Redirect, Response};
use serde::Serialize;

use super::Browser;
use super::form::{Fields, new_token};
use super::page::{Frame, render};
use super::session::SignedIn;
use super::trouble::Trouble;
use crate::desk::DeskError;
use crate::desk::goods::{Replaced, Which as Goods};
use crate::flow::model::Role;
use crate::record::chain::Hash;

/// A file of goods may have so many bytes: 20,000 rows and more.
const BYTES_MAX: usize = 8 * 1024 * 1024;

/// Goods are larger than any other form but a photo.
pub(super) fn limit() -> DefaultBodyLimit {
    DefaultBodyLimit::max(BYTES_MAX)
}

/// One of the two files.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Which {
    Kit,
    SpeedBook,
}

impl Which {
    const ALL: [Which; 2] = [Which::Kit, Which::SpeedBook];

    /// The word in addresses and the name of the file.
    fn word(self) -> &'static str {
        match self {
            Which::Kit => "kit",
            Which::SpeedBook => "speed-book",
        }
    }

    fn title(self) -> &'static str {
        match self {
            Which::Kit => "Kit",
            Which::SpeedBook => "Speed book",
        }
    }

    fn about(self) -> &'static str {
        match self {
            Which::Kit => "The assemblies on the truck: speeds, power, curve, volts, mounting.",
            Which::SpeedBook => "Evaporator models, and the speed or air that each fan needs.",
        }
    }

    fn named(word: &str) -> Result<Which, Trouble> {
        let found = Which::ALL.into_iter().find(|one| one.word() == word);
        found.ok_or_else(|| Trouble::not_found("page"))
    }

    fn goods(self) -> Goods {
        match self {
            Which::Kit => Goods::Kit,
            Which::SpeedBook => Goods::SpeedBook,
        }
    }
}

#[derive(Serialize)]
struct Page {
    token: String,
    supervises: bool,
    files: Vec<FileView>,
}

#[derive(Serialize)]
struct FileView {
    word: &'static str,
    title: &'static str,
    about: &'static str,
    text: String,
    /// The revision that a change takes the place of.
    revision: String,
    is_there: bool,
    /// Why nothing was changed.
    refused: Option<String>,
}

/// A text that was refused, to be mended.
struct Refused {
    which: Which,
    text: String,
    why: String,
}

/// Both files.
pub(super) async fn show(
    State(browser): State<Browser>,
    signed_in: SignedIn,
) -> Result<Response, Trouble> {
    page(&browser, &signed_in, None).await
}

async fn page(
    browser: &Browser,
    SignedIn { actor, session }: &SignedIn,
    refused: Option<Refused>,
) -> Result<Response, Trouble> {
    let mut files = Vec::new();
    for which in Which::ALL {
        let found = browser.desk().goods_revision(actor, which.goods()).await?;
        let (revision, kept) = found.unzip();
        let of_it = refused.as_ref().filter(|refused| refused.which == which);
        files.push(FileView {
            word: which.word(),
            title: which.title(),
            about: which.about(),
            text: match of_it {
                Some(refused) => refused.text.clone(),
                None => kept.unwrap_or_default(),
            },
            is_there: revision.is_some(),
            revision: revision.map_or_else(|| NONE_YET.to_owned(), |hash| hash.to_string()),
            refused: of_it.map(|refused| refused.why.clone()),
        });
    }
    let page = Page {
        token: new_token(browser, session)?,
        supervises: actor.is(Role::Supervisor),
        files,
    };
    let frame = Frame::of("Kit and speed book", actor).with_token(&page.token);
    let shown = render("goods.html", &frame, &page);
    Ok(match refused {
        Some(_) => (StatusCode::UNPROCESSABLE_ENTITY, shown).into_response(),
        None => shown,
    })
}

/// One of them as a file, to keep or to give to another crew.
pub(super) async fn file(
    State(browser): State<Browser>,
    SignedIn { actor, .. }: SignedIn,
    Path(name): Path<String>,
) -> Result<Response, Trouble> {
    let which = Which::named(name.trim_end_matches(".yaml"))?;
    let found = browser.desk().goods_revision(&actor, which.goods()).await?;
    let (_, text) = found.ok_or_else(|| Trouble::not_found("file"))?;
    let as_file = format!("attachment; filename=\"{}.yaml\"", which.word());
    let headers = [
        (CONTENT_TYPE, "application/yaml; charset=utf-8".to_owned()),
        (CONTENT_DISPOSITION, as_file),
    ];
    Ok((headers, text).into_response())
}

/// Takes another text in, typed or as a file.
pub(super) async fn set(
    State(browser): State<Browser>,
    signed_in: SignedIn,
    Path(name): Path<String>,
    form: Multipart,
) -> Result<Response, Trouble> {
    let which = Which::named(&name)?;
    let fields = read(form).await?;
    let key = fields.key(&signed_in.session)?;
    let sent = fields.get("file").filter(|text| !text.trim().is_empty());
    let text = sent.unwrap_or(fields.text("text")).replace("\r\n", "\n");
    let seen = seen(&fields)?;
    let desk = browser.desk();
    let replaced = desk.replace_goods(key, &signed_in.actor, (which.goods(), seen), &text);
    let why = match replaced.await {
        Ok(Replaced::Kept) => return Ok(Redirect::to("/goods").into_response()),
        Ok(Replaced::HasChanged) => HAS_CHANGED.to_owned(),
        Err(DeskError::NotUnderstood(why)) => format!("Line {why}"),
        Err(error) => return Err(error.into()),
    };
    let refused = Refused { which, text, why };
    page(&browser, &signed_in, Some(refused)).await
}

/// What stands for a revision where there is none.
const NONE_YET: &str = "none";

const HAS_CHANGED: &str = "\
Somebody else changed it since you opened this page. Save what is there now as a file to see it, \
put your change into it, and send that. What you sent stands below.";

/// The revision that the form was opened over.
fn seen(fields: &Fields) -> Result<Option<Hash>, Trouble> {
    match fields.text("revision") {
        NONE_YET => Ok(None),
        text => text.parse().map(Some).map_err(|_| Trouble::stale_form()),
    }
}

async fn read(mut form: Multipart) -> Result<Fields, Trouble> {
    let mut fields = Fields::default();
    while let Some(field) = form.next_field().await.map_err(unreadable)? {
        let name = field.name().unwrap_or_default().to_owned();
        let bytes = field.bytes().await.map_err(unreadable)?;
        let text = String::from_utf8(bytes.to_vec()).map_err(|_| {
            Trouble::told(
                StatusCode::UNPROCESSABLE_ENTITY,
                "That file is no text. Send a YAML file.",
            )
        })?;
        fields.0.push((name, text));
        if fields.0.len() > 5 {
            return Err(Trouble::stale_form());
        }
    }
    Ok(fields)
}

fn unreadable(error: MultipartError) -> Trouble {
    let status = error.status();
    if status == StatusCode::PAYLOAD_TOO_LARGE {
        let mebibytes = BYTES_MAX / (1024 * 1024);
        let sentence = format!("That file is larger than {mebibytes} MB. Send a smaller one.");
        return Trouble::told(status, sentence);
    }
    Trouble::told(status, "The file did not arrive whole. Send it again.")
}
