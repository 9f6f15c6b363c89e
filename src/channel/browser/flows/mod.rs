//! The crew's flows: the list, what is changed, uploading a file, publishing.

mod editor;
mod looked;
mod see;
mod trial;

use axum::extract::{DefaultBodyLimit, Form, Multipart, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use serde::Serialize;

use super::Browser;
use super::form::{Fields, new_token};
use super::page::{Frame, Moment, render};
use super::routes::Routes;
use super::session::SignedIn;
use super::trouble::Trouble;
use crate::desk::DeskError;
use crate::desk::drafts::{Draft, FILE_BYTES_MAX, Publication};
use crate::desk::shared_flows::edition_in_short;
use crate::record::chain::Hash;
use looked::Looked;

/// A file as a form sends it, every byte written as three.
const FORM_BYTES_MAX: usize = 3 * FILE_BYTES_MAX + 16 * 1024;

/// The addresses of these pages.
pub(super) fn routes() -> Routes {
    let large = || DefaultBodyLimit::max(FORM_BYTES_MAX);
    Routes::default()
        .get("/flows", show)
        .post("/flows/publish", publish)
        .post("/flows/drop", drop_all)
        .post_up_to(large(), "/flows/upload", upload)
        .post_up_to(large(), "/flows/look", editor::look)
        .post_up_to(large(), "/flows/draw", see::while_typed)
        .get("/flows/see/{flow}", see::show)
        .get("/flows/see/{flow}/diagram.svg", see::diagram)
        .get("/flows/edit/{file}/diagram.svg", see::draft)
        .get("/flows/try/{trial}", trial::show)
        .post("/flows/try/{trial}", trial::act)
        .get("/flows/try/{trial}/picture/{name}", trial::picture)
        .get("/flows/edit/{file}", editor::show)
        .post_up_to(large(), "/flows/edit/{file}", editor::act)
}

#[derive(Serialize)]
struct Page {
    token: String,
    sentence: Option<String>,
    base: String,
    note: String,
    files: Vec<File>,
    looked: Looked,
    publications: Vec<PublicationView>,
}

#[derive(Serialize)]
struct File {
    name: String,
    title: String,
    about: String,
    is_changed: bool,
    findings: usize,
}

#[derive(Serialize)]
struct PublicationView {
    at: Moment,
    who: String,
    note: String,
    changed: String,
    /// The other crew's edition, in short.
    from: Option<String>,
}

impl From<Publication> for PublicationView {
    fn from(publication: Publication) -> Self {
        let who = publication.who.map(|named| named.name);
        PublicationView {
            at: Moment::of(publication.at),
            who: who.unwrap_or_else(|| "the server".to_owned()),
            note: publication.note,
            changed: publication.changed.join(", "),
            from: publication
                .from_edition
                .map(|edition| edition_in_short(&edition).to_owned()),
        }
    }
}

/// The list.
async fn show(State(browser): State<Browser>, signed_in: SignedIn) -> Result<Response, Trouble> {
    page(&browser, &signed_in, None, String::new()).await
}

async fn page(
    browser: &Browser,
    SignedIn { actor, session }: &SignedIn,
    sentence: Option<String>,
    note: String,
) -> Result<Response, Trouble> {
    let draft = browser.desk().draft(actor).await?;
    let publications = browser.desk().publications(actor).await?;
    let base = base_text(draft.base);
    let (draft, looked) = looked::at(draft).await?;
    let page = Page {
        token: new_token(browser, session)?,
        sentence,
        base,
        note,
        files: files(&draft, &looked),
        looked,
        publications: publications.into_iter().map(Into::into).collect(),
    };
    let frame = Frame::of("Flows", actor)
        .with_token(&page.token)
        .with_bench();
    Ok(render("flows.html", &frame, &page))
}

fn base_text(base: Option<Hash>) -> String {
    base.map(|hash| hash.to_string()).unwrap_or_default()
}

fn files(draft: &Draft, looked: &Looked) -> Vec<File> {
    let flows = draft.published.flows();
    let file = |name: &String| {
        let flow = flows.values().find(|flow| flow.file == *name);
        File {
            name: name.clone(),
            title: flow.map_or_else(|| "A new flow".to_owned(), |flow| flow.title.clone()),
            about: flow.map_or_else(
                || "not published".to_owned(),
                |flow| format!("{} steps", flow.steps.len()),
            ),
            is_changed: draft.changed.contains(name),
            findings: looked.findings.iter().filter(|it| it.file == *name).count(),
        }
    };
    let mut files: Vec<File> = draft.sources.files.keys().map(file).collect();
    files.sort_by_key(|file| !file.is_changed);
    files
}

/// Publishes the draft.
async fn publish(
    State(browser): State<Browser>,
    signed_in: SignedIn,
    Form(fields): Form<Vec<(String, String)>>,
) -> Result<Response, Trouble> {
    let fields = Fields(fields);
    let key = fields.key(&signed_in.session)?;
    let base = match fields.text("base") {
        "" => None,
        text => Some(text.parse().map_err(|_| Trouble::stale_form())?),
    };
    let note = fields.text("note");
    let desk = browser.desk();
    match desk.publish_draft(key, &signed_in.actor, base, note).await {
        Ok(()) => Ok(Redirect::to("/flows").into_response()),
        Err(DeskError::NotUnderstood(sentence)) => {
            let shown = page(&browser, &signed_in, Some(sentence), note.to_owned()).await?;
            Ok((StatusCode::UNPROCESSABLE_ENTITY, shown).into_response())
        }
        Err(error) => Err(error.into()),
    }
}

/// Forgets every change of the draft.
async fn drop_all(
    State(browser): State<Browser>,
    signed_in: SignedIn,
    Form(fields): Form<Vec<(String, String)>>,
) -> Result<Redirect, Trouble> {
    Fields(fields).key(&signed_in.session)?;
    let desk = browser.desk();
    desk.drop_draft(&signed_in.actor, None).await?;
    Ok(Redirect::to("/flows"))
}

/// Takes a flow file into the draft and shows it.
async fn upload(
    State(browser): State<Browser>,
    signed_in: SignedIn,
    mut form: Multipart,
) -> Result<Response, Trouble> {
    let mut fields = Fields::default();
    while let Ok(Some(field)) = form.next_field().await {
        let name = field.name().unwrap_or_default().to_owned();
        if name != "file" {
            let text = field.text().await.map_err(|_| Trouble::stale_form())?;
            fields.0.push((name, text));
            continue;
        }
        // The token comes before the file, so that nobody's file is read in vain.
        fields.key(&signed_in.session)?;
        let file = field.file_name().unwrap_or_default().to_owned();
        let told = match field
            .bytes()
            .await
            .map(|bytes| String::from_utf8(bytes.to_vec()))
        {
            Ok(Ok(text)) => {
                let desk = browser.desk();
                match desk.keep_draft(&signed_in.actor, &file, &text).await {
                    Ok(()) => {
                        let address = format!("/flows/edit/{file}");
                        return Ok(Redirect::to(&address).into_response());
                    }
                    Err(DeskError::NotUnderstood(sentence)) => sentence,
                    Err(error) => return Err(error.into()),
                }
            }
            Ok(Err(_)) => "This is no text file. Send a flow file in UTF-8.".to_owned(),
            Err(_) => "The file did not arrive whole. Send it again.".to_owned(),
        };
        let shown = page(&browser, &signed_in, Some(told), String::new()).await?;
        return Ok((StatusCode::UNPROCESSABLE_ENTITY, shown).into_response());
    }
    Err(Trouble::stale_form())
}
