//! Trying a flow: the same screens as at work, with nothing kept.

use axum::extract::{Form, Path, Query, State};
use axum::http::HeaderValue;
use axum::http::header::{CONTENT_SECURITY_POLICY, CONTENT_TYPE, X_FRAME_OPTIONS};
use axum::response::{IntoResponse, Response};
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use crate::channel::browser::Browser;
use crate::channel::browser::form::Fields;
use crate::channel::browser::job_form::{Meant, meant};
use crate::channel::browser::job_view::JobView;
use crate::channel::browser::page::{Frame, render};
use crate::channel::browser::session::SignedIn;
use crate::channel::browser::trouble::Trouble;
use crate::desk::Actor;
use crate::desk::id::{EvaporatorId, JobId};
use crate::desk::rehearsals::{RehearsalScreen, Try};
use crate::desk::screen::{EvaporatorLabel, Named, Phase, Screen};
use crate::flow::model::Role;
use crate::flow::name::PictureName;
use crate::record::entry::PhotoRef;
use crate::record::person::PersonId;
use crate::walk::input::Input;

/// The page may stand beside the flow's text.
const CONTENT_POLICY: &str = "default-src 'none'; img-src 'self'; style-src 'self'; \
    script-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'self'";

/// Who looks at the trial.
#[derive(Deserialize)]
pub(super) struct Asked {
    #[serde(rename = "as", default)]
    role: String,
}

#[derive(Serialize)]
struct Page {
    id: String,
    view: JobView,
    role: &'static str,
    roles: Vec<RoleView>,
    waits: bool,
    sources: Vec<(String, &'static str)>,
    holder: String,
}

#[derive(Serialize)]
struct RoleView {
    word: &'static str,
    is_on: bool,
}

fn role_of(text: &str) -> Role {
    Role::of_word(text).unwrap_or(Role::Apprentice)
}

fn id_of(text: &str) -> Result<Uuid, Trouble> {
    text.parse().map_err(|_| Trouble::not_found("trial"))
}

/// The screen of this moment.
pub(super) async fn show(
    State(browser): State<Browser>,
    SignedIn { actor, .. }: SignedIn,
    Path(trial): Path<String>,
    Query(asked): Query<Asked>,
) -> Result<Response, Trouble> {
    let role = role_of(&asked.role);
    let desk = browser.desk();
    let screen = desk.try_on(&actor, id_of(&trial)?, Try::Look(role)).await?;
    Ok(page(screen, &actor, role))
}

/// Does something and shows what follows.
pub(super) async fn act(
    State(browser): State<Browser>,
    SignedIn { actor, .. }: SignedIn,
    Path(trial): Path<String>,
    Form(fields): Form<Vec<(String, String)>>,
) -> Result<Response, Trouble> {
    let fields = Fields(fields);
    let role = role_of(fields.text("as"));
    let revision = fields.text("revision").parse().unwrap_or_default();
    let what = match fields.text("do") {
        "time" => Try::LetTimePass(role),
        "photo" => Try::Act(role, Input::Photo(stand_in_photo())),
        _ => match meant(&fields, revision) {
            Some(Meant::Input(input)) => Try::Act(role, input),
            Some(Meant::ChoosePerson) => Try::Act(role, Input::HandOver(None)),
            Some(Meant::Accept | Meant::SendBack | Meant::Row(_)) | None => Try::Look(role),
        },
    };
    let screen = browser.desk().try_on(&actor, id_of(&trial)?, what).await?;
    Ok(page(screen, &actor, role))
}

/// A photo that nobody took.
fn stand_in_photo() -> PhotoRef {
    PhotoRef {
        stored: "0".repeat(64),
        original: "0".repeat(64),
        taken: None,
        looks: None,
    }
}

/// A picture of the flow.
pub(super) async fn picture(
    State(browser): State<Browser>,
    SignedIn { actor, .. }: SignedIn,
    Path((trial, name)): Path<(String, String)>,
) -> Result<Response, Trouble> {
    let name = PictureName::from(name);
    let desk = browser.desk();
    let svg = desk.picture_tried(&actor, id_of(&trial)?, &name).await?;
    let headers = [
        (CONTENT_TYPE, "image/svg+xml"),
        (
            CONTENT_SECURITY_POLICY,
            "default-src 'none'; style-src 'unsafe-inline'; sandbox; frame-ancestors 'none'",
        ),
    ];
    Ok((headers, svg).into_response())
}

fn page(trial: RehearsalScreen, actor: &Actor, role: Role) -> Response {
    let holder = trial.holder.unwrap_or(role);
    // Whoever looks is the person of their role, so the job is theirs if that role holds it.
    let holds = if holder == role {
        actor.person
    } else {
        PersonId(Uuid::nil())
    };
    let screen = Screen {
        job: JobId(trial.id),
        evaporator: EvaporatorLabel {
            id: EvaporatorId(Uuid::nil()),
            site: String::new(),
            tag: String::new(),
            hangs: String::new(),
        },
        holder: Named {
            person: holds,
            name: format!("the {}", holder.word()),
        },
        phase: Phase::Open,
        prompt: trial.prompt,
        closing: Vec::new(),
        photos: 0,
    };
    let mut view = JobView::of(&screen, actor, trial.now);
    view.sentence = trial.refused;
    let page = Page {
        id: trial.id.to_string(),
        view,
        role: role.word(),
        roles: Role::ALL
            .into_iter()
            .map(|other| RoleView {
                word: other.word(),
                is_on: other == role,
            })
            .collect(),
        waits: trial.waits,
        sources: trial.sources,
        holder: format!("the {}", holder.word()),
    };
    let mut response = render("trial.html", &Frame::of("Try the flow", actor), &page);
    let headers = response.headers_mut();
    let policy = HeaderValue::from_static(CONTENT_POLICY);
    headers.insert(CONTENT_SECURITY_POLICY, policy);
    headers.insert(X_FRAME_OPTIONS, HeaderValue::from_static("SAMEORIGIN"));
    response
}
