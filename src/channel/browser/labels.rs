//! Labels to print and to stick on evaporators: a page for supervisors.

use axum::extract::{Query, State};
use axum::http::header::{CONTENT_DISPOSITION, CONTENT_TYPE};
use axum::response::{IntoResponse, Response};
use serde::{Deserialize, Serialize};

use super::Browser;
use super::form::new_token;
use super::page::{Frame, render};
use super::session::SignedIn;
use super::trouble::Trouble;
use crate::desk::DeskError;
use crate::desk::id::EvaporatorId;
use crate::desk::labels::{LABELS_MAX, LabelsWanted, Opens, Which};
use crate::flow::model::Role;
use crate::report::pdf::Paper;

#[derive(Serialize)]
struct Page {
    /// The sites with evaporators.
    sites: Vec<String>,
    evaporators: Vec<One>,
    /// Whether a code can open the page, or the chat.
    page: bool,
    chat: bool,
    most: usize,
}

#[derive(Serialize)]
struct One {
    id: String,
    line: String,
    chosen: bool,
}

/// Which evaporator the page was asked for from.
#[derive(Deserialize)]
pub(super) struct CameFrom {
    #[serde(default)]
    evaporator: String,
}

/// What to print.
pub(super) async fn show(
    State(browser): State<Browser>,
    SignedIn { actor, session }: SignedIn,
    Query(from): Query<CameFrom>,
) -> Result<Response, Trouble> {
    if !actor.is(Role::Supervisor) {
        let sentence = "Only a supervisor can print labels. Ask yours to do it.";
        return Err(DeskError::NotAllowed(sentence.to_owned()).into());
    }
    let desk = browser.desk();
    let all = desk.evaporators(&actor, "").await?;
    let mut sites: Vec<String> = all.iter().map(|label| label.site.clone()).collect();
    sites.dedup();
    let one = |label: &crate::desk::screen::EvaporatorLabel| One {
        id: label.id.to_string(),
        line: label.line(),
        chosen: label.id.to_string() == from.evaporator,
    };
    let opens = desk.labels_can_open().await?;
    let page = Page {
        sites,
        evaporators: all.iter().map(one).collect(),
        page: opens.contains(&Opens::Page),
        chat: opens.contains(&Opens::Chat),
        most: LABELS_MAX,
    };
    let frame = Frame::of("Labels", &actor).with_token(&new_token(&browser, &session)?);
    Ok(render("labels.html", &frame, &page))
}

/// Which labels, as the form says it.
#[derive(Deserialize)]
pub(super) struct Asked {
    #[serde(default)]
    evaporator: String,
    #[serde(default)]
    site: String,
    #[serde(default)]
    paper: Paper,
    opens: Option<Opens>,
}

/// The labels as a PDF.
pub(super) async fn pdf(
    State(browser): State<Browser>,
    SignedIn { actor, .. }: SignedIn,
    Query(asked): Query<Asked>,
) -> Result<Response, Trouble> {
    let one = Some(&asked.evaporator).filter(|id| !id.is_empty());
    let one = one.map(|id| id.parse::<EvaporatorId>());
    let which = match one {
        Some(Ok(id)) => Which::One(id),
        Some(Err(_)) => return Err(Trouble::not_found("evaporator")),
        None if asked.site.is_empty() => Which::All,
        None => Which::Site(asked.site),
    };
    let wanted = LabelsWanted {
        which,
        opens: asked.opens,
        paper: asked.paper,
        public_url: None,
    };
    let pdf = browser.desk().labels(&actor, wanted).await?;
    let headers = [
        (CONTENT_TYPE, "application/pdf"),
        (CONTENT_DISPOSITION, "attachment; filename=\"labels.pdf\""),
    ];
    Ok((headers, pdf).into_response())
}
