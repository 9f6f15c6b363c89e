//! A flow to look at: its diagram, as the crew walks it and as somebody is changing it.

use axum::extract::{Form, Path, State};
use axum::http::StatusCode;
use axum::http::header::{CONTENT_SECURITY_POLICY, CONTENT_TYPE};
use axum::response::{IntoResponse, Response};
use serde::Serialize;

use super::editor::typed;
use crate::channel::browser::Browser;
use crate::channel::browser::form::Fields;
use crate::channel::browser::page::{Frame, render};
use crate::channel::browser::session::SignedIn;
use crate::channel::browser::trouble::Trouble;
use crate::desk::drafts::Draft;
use crate::flow::library::Library;
use crate::flow::model::Flow;
use crate::flow::name::FlowName;
use crate::report::diagram;

#[derive(Serialize)]
struct Page {
    name: String,
    title: String,
    steps: usize,
    others: Vec<Other>,
}

#[derive(Serialize)]
struct Other {
    name: String,
    title: String,
}

impl Other {
    fn of(flow: &Flow) -> Other {
        Other {
            name: flow.name.to_string(),
            title: flow.title.clone(),
        }
    }
}

/// A flow as the crew walks it.
pub(super) async fn show(
    State(browser): State<Browser>,
    SignedIn { actor, .. }: SignedIn,
    Path(flow): Path<String>,
) -> Result<Response, Trouble> {
    let library = browser.desk().library(&actor).await?;
    let flow = library.flows().get(&FlowName::from(flow));
    let flow = flow.ok_or_else(|| Trouble::not_found("flow"))?;
    let others = library.flows().values();
    let page = Page {
        name: flow.name.to_string(),
        title: flow.title.clone(),
        steps: flow.steps.len(),
        others: others
            .filter(|other| other.name != flow.name)
            .map(Other::of)
            .collect(),
    };
    let frame = Frame::of(&page.title, &actor).with_bench();
    Ok(render("see-flow.html", &frame, &page))
}

/// Its diagram.
pub(super) async fn diagram(
    State(browser): State<Browser>,
    SignedIn { actor, .. }: SignedIn,
    Path(flow): Path<String>,
) -> Result<Response, Trouble> {
    let library = browser.desk().library(&actor).await?;
    let name = FlowName::from(flow);
    let drawn = tokio::task::spawn_blocking(move || diagram::drawn(&library, &name));
    let svg = drawn.await.map_err(|_| Trouble::fault())?;
    svg.map(picture).ok_or_else(|| Trouble::not_found("flow"))
}

/// The diagram of a file of the draft.
pub(super) async fn draft(
    State(browser): State<Browser>,
    SignedIn { actor, .. }: SignedIn,
    Path(file): Path<String>,
) -> Result<Response, Trouble> {
    of_file(browser.desk().draft(&actor).await?, file).await
}

/// The diagram of a file as it is typed: nothing is kept.
pub(super) async fn while_typed(
    State(browser): State<Browser>,
    SignedIn { actor, .. }: SignedIn,
    Form(fields): Form<Vec<(String, String)>>,
) -> Result<Response, Trouble> {
    let fields = Fields(fields);
    let mut draft = browser.desk().draft(&actor).await?;
    let file = fields.text("file").to_owned();
    draft.sources.files.insert(file.clone(), typed(&fields));
    of_file(draft, file).await
}

async fn of_file(draft: Draft, file: String) -> Result<Response, Trouble> {
    let drawn = tokio::task::spawn_blocking(move || {
        let library = Library::load(draft.sources).ok()?;
        let flow = library.flows().values().find(|flow| flow.file == file)?;
        diagram::drawn(&library, &flow.name)
    });
    let svg = drawn.await.map_err(|_| Trouble::fault())?;
    svg.map(picture).ok_or_else(|| {
        Trouble::told(
            StatusCode::UNPROCESSABLE_ENTITY,
            "This draft cannot be drawn yet. Mend the errors first.",
        )
    })
}

fn picture(svg: String) -> Response {
    let headers = [
        (CONTENT_TYPE, "image/svg+xml"),
        (
            CONTENT_SECURITY_POLICY,
            "default-src 'none'; style-src 'unsafe-inline'; sandbox; frame-ancestors 'none'",
        ),
    ];
    (headers, svg).into_response()
}
