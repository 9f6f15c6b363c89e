//! One flow file at the bench: its text, what is found in it, what changed, the way to try it.

use axum::Json;
use axum::extract::{Form, Path, State};
use axum::http::header::CONTENT_SECURITY_POLICY;
use axum::http::{HeaderValue, StatusCode};
use axum::response::{IntoResponse, Redirect, Response};
use serde::Serialize;

use super::looked::{self, Looked};
use crate::channel::browser::Browser;
use crate::channel::browser::form::{Fields, new_token};
use crate::channel::browser::page::{Frame, render};
use crate::channel::browser::session::SignedIn;
use crate::channel::browser::trouble::Trouble;
use crate::desk::DeskError;
use crate::desk::drafts::{Draft, is_flow_file_name};
use crate::flow::model::Role;
use crate::flow::name::FlowName;

/// What a new flow begins with.
const NEW_FLOW: &str = include_str!("../../../../templates/new-flow.yaml");

/// The page may hold a trial beside the text, and a diagram that was drawn while it was typed.
const CONTENT_POLICY: &str = "default-src 'none'; img-src 'self' blob:; style-src 'self'; \
    script-src 'self'; connect-src 'self'; frame-src 'self'; form-action 'self'; \
    base-uri 'none'; frame-ancestors 'none'";

#[derive(Serialize)]
struct Page {
    token: String,
    sentence: Option<String>,
    file: String,
    title: String,
    text: String,
    is_changed: bool,
    /// Whether what is kept can be drawn.
    has_diagram: bool,
    looked: Looked,
    /// Findings in other files.
    elsewhere: usize,
}

/// The file.
pub(super) async fn show(
    State(browser): State<Browser>,
    signed_in: SignedIn,
    Path(file): Path<String>,
) -> Result<Response, Trouble> {
    let draft = browser.desk().draft(&signed_in.actor).await?;
    if !draft.sources.files.contains_key(&file) && !is_flow_file_name(&file) {
        return Err(Trouble::not_found("flow file"));
    }
    page(&browser, &signed_in, draft, &file, None).await
}

async fn page(
    browser: &Browser,
    SignedIn { actor, session }: &SignedIn,
    draft: Draft,
    file: &str,
    sentence: Option<String>,
) -> Result<Response, Trouble> {
    let text = draft.sources.files.get(file).cloned();
    let is_new = text.is_none();
    let text = text.unwrap_or_else(|| NEW_FLOW.replace("NAME", stem(file)));
    let (draft, mut looked) = looked::at(draft).await?;
    let all = looked.findings.len();
    looked.findings.retain(|finding| finding.file == file);
    let flow = draft
        .published
        .flows()
        .values()
        .find(|flow| flow.file == file);
    let has_diagram = looked.is_whole && !is_new && sentence.is_none();
    let page = Page {
        token: new_token(browser, session)?,
        sentence,
        file: file.to_owned(),
        title: flow.map_or_else(|| "A new flow".to_owned(), |flow| flow.title.clone()),
        text,
        is_changed: is_new || draft.changed.iter().any(|changed| changed == file),
        has_diagram,
        elsewhere: all - looked.findings.len(),
        looked,
    };
    let frame = Frame::of(&page.title, actor)
        .with_token(&page.token)
        .with_bench();
    let mut response = render("flow.html", &frame, &page);
    response.headers_mut().insert(
        CONTENT_SECURITY_POLICY,
        HeaderValue::from_static(CONTENT_POLICY),
    );
    Ok(response)
}

fn stem(file: &str) -> &str {
    file.strip_suffix(".yaml").unwrap_or(file)
}

/// Keeps the text, forgets the changes, or goes to try the flow.
pub(super) async fn act(
    State(browser): State<Browser>,
    signed_in: SignedIn,
    Path(file): Path<String>,
    Form(fields): Form<Vec<(String, String)>>,
) -> Result<Response, Trouble> {
    let fields = Fields(fields);
    fields.key(&signed_in.session)?;
    let (desk, actor) = (browser.desk(), &signed_in.actor);
    if fields.text("do") == "drop" {
        desk.drop_draft(actor, Some(&file)).await?;
        return Ok(Redirect::to("/flows").into_response());
    }
    let text = typed(&fields);
    match desk.keep_draft(actor, &file, &text).await {
        Ok(()) => {}
        Err(DeskError::NotUnderstood(sentence)) => {
            return refused(&browser, &signed_in, (&file, text), sentence).await;
        }
        Err(error) => return Err(error.into()),
    }
    if fields.text("do") != "try" {
        return Ok(Redirect::to(&format!("/flows/edit/{file}")).into_response());
    }
    let draft = desk.draft(actor).await?;
    let flow = FlowName::from(flow_of(&draft, &file));
    match desk.rehearse(actor, &flow, Role::Apprentice).await {
        Ok(walk) => Ok(Redirect::to(&format!("/flows/try/{}", walk.id)).into_response()),
        Err(DeskError::NotUnderstood(sentence)) => {
            refused(&browser, &signed_in, (&file, text), sentence).await
        }
        Err(error) => Err(error.into()),
    }
}

/// The name of the flow that a file says it is. The name of the file itself where it says none.
fn flow_of(draft: &Draft, file: &str) -> String {
    let text = draft.sources.files.get(file).map_or("", String::as_str);
    let said = text.lines().find_map(|line| line.strip_prefix("flow:"));
    let said = said.map(|rest| rest.split('#').next().unwrap_or_default().trim());
    said.unwrap_or_else(|| stem(file)).to_owned()
}

async fn refused(
    browser: &Browser,
    signed_in: &SignedIn,
    (file, text): (&str, String),
    sentence: String,
) -> Result<Response, Trouble> {
    let mut draft = browser.desk().draft(&signed_in.actor).await?;
    draft.sources.files.insert(file.to_owned(), text);
    let shown = page(browser, signed_in, draft, file, Some(sentence)).await?;
    Ok((StatusCode::UNPROCESSABLE_ENTITY, shown).into_response())
}

/// The text of the file as typed: browsers send other line ends than files have.
pub(super) fn typed(fields: &Fields) -> String {
    fields.text("text").replace("\r\n", "\n")
}

/// What is found while somebody types: nothing is kept.
pub(super) async fn look(
    State(browser): State<Browser>,
    signed_in: SignedIn,
    Form(fields): Form<Vec<(String, String)>>,
) -> Result<Json<Looked>, Trouble> {
    let fields = Fields(fields);
    let mut draft = browser.desk().draft(&signed_in.actor).await?;
    let file = fields.text("file").to_owned();
    draft.sources.files.insert(file.clone(), typed(&fields));
    let (_, mut looked) = looked::at(draft).await?;
    looked.findings.retain(|finding| finding.file == file);
    Ok(Json(looked))
}
