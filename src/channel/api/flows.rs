//! Flows: the list, one of them, and publishing.

use std::collections::BTreeMap;

use axum::extract::{Extension, Json, Path, State};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::Api;
use super::ask::Asked;
use super::once::Key;
use super::problem::{Kind, Problem};
use crate::desk::drafts::NotPublished;
use crate::desk::tokens::Caller;
use crate::flow::library::Library;
use crate::flow::model::Flow;
use crate::flow::name::FlowName;
use crate::record::chain::Hash;
use crate::record::scope::Scope;

/// A flow in a few fields.
#[derive(Serialize, ToSchema)]
pub(super) struct FlowLine {
    /// Its name.
    name: String,
    /// Its title.
    title: String,
    /// Whether a job can begin with it; the others are parts.
    begins_jobs: bool,
}

/// The flows that the crew's new jobs walk.
#[derive(Serialize, ToSchema)]
pub(super) struct Flows {
    /// What names this publication, to be given back as `base`; none while the crew walks the
    /// shipped flows.
    base: Option<String>,
    /// The flows.
    flows: Vec<FlowLine>,
}

/// A flow with its text.
#[derive(Serialize, ToSchema)]
pub(super) struct FlowWhole {
    /// Its name.
    name: String,
    /// Its title.
    title: String,
    /// Whether a job can begin with it.
    begins_jobs: bool,
    /// The name of its file.
    file: String,
    /// The text of its file, YAML as `fanwright schema flow` describes it.
    text: String,
}

fn line(library: &Library, flow: &Flow) -> FlowLine {
    FlowLine {
        name: flow.name.to_string(),
        title: flow.title.clone(),
        begins_jobs: library.roots().any(|root| root.name == flow.name),
    }
}

fn all((base, library): (Option<Hash>, Library)) -> Json<Flows> {
    let flows = library.flows().values();
    Json(Flows {
        base: base.map(|base| base.to_string()),
        flows: flows.map(|flow| line(&library, flow)).collect(),
    })
}

/// The flows that the crew's new jobs walk.
#[utoipa::path(
    get,
    path = "/api/v1/flows",
    tag = "Flows",
    responses((status = 200, body = Flows, description = "The flows")),
    extensions(("x-scope" = json!("read-flows")))
)]
pub(super) async fn list(
    State(api): State<Api>,
    Extension(caller): Extension<Caller>,
) -> Result<Json<Flows>, Problem> {
    let actor = caller.for_this(Scope::ReadFlows)?;
    Ok(all(api.desk().flow_files(actor).await?))
}

/// One flow with its text.
#[utoipa::path(
    get,
    path = "/api/v1/flows/{flow}",
    tag = "Flows",
    params(("flow" = String, Path, description = "The flow's name.")),
    responses((status = 200, body = FlowWhole, description = "The flow")),
    extensions(("x-scope" = json!("read-flows")))
)]
pub(super) async fn one(
    State(api): State<Api>,
    Extension(caller): Extension<Caller>,
    Path(name): Path<String>,
) -> Result<Json<FlowWhole>, Problem> {
    let actor = caller.for_this(Scope::ReadFlows)?;
    let (_, library) = api.desk().flow_files(actor).await?;
    let flow = library.flows().get(&FlowName::from(name.as_str()));
    let flow = flow.ok_or_else(|| Problem::not_found("flow"))?;
    let FlowLine {
        name,
        title,
        begins_jobs,
    } = line(&library, flow);
    let file = flow.file.clone();
    let text = library.sources().files.get(&file);
    Ok(Json(FlowWhole {
        name,
        title,
        begins_jobs,
        text: text.cloned().unwrap_or_default(),
        file,
    }))
}

/// Flow files to be published.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct FlowsNew {
    /// The publication that they were made from; none while the crew walks the shipped flows.
    base: Option<String>,
    /// Names of files, like `make-safe.yaml`, each with its whole text. Files that are not named
    /// stay.
    files: BTreeMap<String, String>,
    /// What is changed and why, in a sentence or two.
    #[schema(min_length = 1, max_length = 1000)]
    note: String,
}

/// Publishes flows for the crew's new jobs. Jobs under way stay on what they began with.
///
/// Flows in which the checker finds an error are not published; the problem lists the findings.
#[utoipa::path(
    post,
    path = "/api/v1/flows",
    tag = "Flows",
    request_body = FlowsNew,
    responses((status = 200, body = Flows, description = "The flows as they are now")),
    extensions(("x-scope" = json!("publish-flows")))
)]
pub(super) async fn publish(
    State(api): State<Api>,
    Extension(caller): Extension<Caller>,
    Extension(Key(key)): Extension<Key>,
    Asked(new): Asked<FlowsNew>,
) -> Result<Json<Flows>, Problem> {
    let actor = caller.for_this(Scope::PublishFlows)?;
    let base = match &new.base {
        None => None,
        // What cannot be read stands nowhere.
        Some(base) => Some(base.parse().map_err(|_| Problem::of(Kind::HasChanged))?),
    };
    let change = (&new.files, new.note.as_str());
    match api.desk().publish_flows(key, actor, base, change).await {
        Ok(()) => Ok(all(api.desk().flow_files(actor).await?)),
        Err(NotPublished::Found(findings)) => Err(Problem::found(&findings)),
        Err(NotPublished::HasChanged) => Err(Problem::of(Kind::HasChanged)),
        Err(NotPublished::Desk(error)) => Err(error.into()),
    }
}
