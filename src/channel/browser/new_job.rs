//! Beginning a job: which evaporator, which flow, real or training.

use axum::extract::{Form, Query, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use serde::{Deserialize, Serialize};

use super::Browser;
use super::form::{Fields, new_token};
use super::page::{Frame, render};
use super::session::SignedIn;
use super::trouble::Trouble;
use crate::desk::DeskError;
use crate::desk::evaporators::NewEvaporator;
use crate::desk::jobs::NewJob;
use crate::flow::name::FlowName;

#[derive(Serialize)]
struct Page {
    token: String,
    sentence: Option<String>,
    evaporators: Vec<Evaporator>,
    words: String,
    chosen: Option<String>,
    flows: Vec<Flow>,
    site: String,
    tag: String,
    hangs: String,
}

#[derive(Serialize)]
struct Evaporator {
    id: String,
    line: String,
}

#[derive(Serialize)]
struct Flow {
    name: String,
    title: String,
}

/// What the page was asked for.
#[derive(Default, Deserialize)]
pub(super) struct Asked {
    /// Only evaporators with these words.
    #[serde(default)]
    find: String,
    /// The evaporator that was just added.
    evaporator: Option<String>,
}

/// The page.
pub(super) async fn show(
    State(browser): State<Browser>,
    signed_in: SignedIn,
    Query(asked): Query<Asked>,
) -> Result<Response, Trouble> {
    page(&browser, &signed_in, asked, &Fields::default(), None).await
}

async fn page(
    browser: &Browser,
    signed_in: &SignedIn,
    asked: Asked,
    typed: &Fields,
    sentence: Option<String>,
) -> Result<Response, Trouble> {
    let SignedIn { actor, session } = signed_in;
    let found = browser.desk().evaporators(actor, &asked.find).await?;
    let flows = browser.desk().flows(actor).await?;
    let page = Page {
        token: new_token(browser, session)?,
        sentence,
        evaporators: found
            .into_iter()
            .map(|label| Evaporator {
                id: label.id.to_string(),
                line: label.line(),
            })
            .collect(),
        words: asked.find,
        chosen: asked.evaporator,
        flows: flows
            .into_iter()
            .map(|choice| Flow {
                name: choice.flow.to_string(),
                title: choice.title,
            })
            .collect(),
        site: typed.text("site").to_owned(),
        tag: typed.text("tag").to_owned(),
        hangs: typed.text("hangs").to_owned(),
    };
    let frame = Frame::of("New job", actor).with_token(&page.token);
    Ok(render("new-job.html", &frame, &page))
}

/// Adds an evaporator and comes back with it chosen.
pub(super) async fn add_evaporator(
    State(browser): State<Browser>,
    signed_in: SignedIn,
    Form(fields): Form<Vec<(String, String)>>,
) -> Result<Response, Trouble> {
    let fields = Fields(fields);
    let key = fields.key(&signed_in.session)?;
    let new = NewEvaporator {
        site: fields.text("site").to_owned(),
        tag: fields.text("tag").to_owned(),
        hangs: fields.text("hangs").to_owned(),
    };
    match browser
        .desk()
        .add_evaporator(key, &signed_in.actor, new)
        .await
    {
        Ok(label) => {
            let address = format!("/new-job?evaporator={}", label.id);
            Ok(Redirect::to(&address).into_response())
        }
        Err(DeskError::NotUnderstood(sentence)) => {
            let asked = Asked::default();
            let shown = page(&browser, &signed_in, asked, &fields, Some(sentence)).await?;
            Ok((StatusCode::UNPROCESSABLE_ENTITY, shown).into_response())
        }
        Err(error) => Err(error.into()),
    }
}

/// Begins the job and goes to its first screen.
pub(super) async fn begin(
    State(browser): State<Browser>,
    signed_in: SignedIn,
    Form(fields): Form<Vec<(String, String)>>,
) -> Result<Response, Trouble> {
    let fields = Fields(fields);
    let key = fields.key(&signed_in.session)?;
    let Ok(evaporator) = fields.text("evaporator").parse() else {
        let sentence = "Choose the evaporator first, or add it below.".to_owned();
        let asked = Asked::default();
        let shown = page(&browser, &signed_in, asked, &fields, Some(sentence)).await?;
        return Ok((StatusCode::UNPROCESSABLE_ENTITY, shown).into_response());
    };
    let new = NewJob {
        evaporator,
        flow: FlowName::from(fields.text("flow")),
        training: fields.text("kind") == "training",
    };
    let handled = browser.desk().begin(key, &signed_in.actor, new).await?;
    Ok(Redirect::to(&format!("/job/{}", handled.screen.job)).into_response())
}
