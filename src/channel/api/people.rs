//! The people of the crew.

use axum::extract::{Extension, Json, State};
use jiff::Timestamp;
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

use super::problem::Problem;
use super::{Api, words};
use crate::desk::competence::SignOffLine;
use crate::desk::screen::Named;
use crate::desk::tokens::Caller;
use crate::flow::model::Role;
use crate::record::scope::Scope;

/// A person, wherever one is named.
#[derive(Serialize, ToSchema)]
pub(super) struct PersonRef {
    /// The person's number.
    id: Uuid,
    /// The name to show; only for a token that may see names.
    name: Option<String>,
}

impl PersonRef {
    pub(super) fn of(named: &Named, names: bool) -> PersonRef {
        PersonRef {
            id: named.person.0,
            name: names.then(|| named.name.clone()),
        }
    }
}

/// A person of the crew.
#[derive(Serialize, ToSchema)]
pub(super) struct Person {
    /// The person's number.
    id: Uuid,
    /// The name to show; only for a token that may see names.
    name: Option<String>,
    /// The person's roles.
    #[schema(schema_with = words::roles)]
    roles: Vec<&'static str>,
    /// What the person has shown, signed by a supervisor.
    shown: Vec<Shown>,
}

/// Something that a person has shown.
#[derive(Serialize, ToSchema)]
struct Shown {
    /// Its name in the crew's flows.
    competence: String,
    /// What people call it.
    label: String,
    /// Who signed for it.
    signed_by: PersonRef,
    /// When.
    #[schema(value_type = String, format = DateTime)]
    at: Timestamp,
    /// It counts until then; none if it has no end.
    #[schema(value_type = Option<String>, format = DateTime)]
    until: Option<Timestamp>,
    /// Whether it counts now.
    counts: bool,
}

impl Shown {
    fn of(line: &SignOffLine, names: bool) -> Shown {
        Shown {
            competence: line.name.to_string(),
            label: line.label.clone(),
            signed_by: PersonRef::of(&line.by, names),
            at: line.at,
            until: line.until,
            counts: line.counts,
        }
    }
}

/// The people of the crew.
#[derive(Serialize, ToSchema)]
pub(super) struct People {
    /// The people, by number.
    people: Vec<Person>,
}

/// The people of the crew: numbers and roles, and names if the token may see them.
#[utoipa::path(
    get,
    path = "/api/v1/people",
    tag = "People",
    responses((status = 200, body = People, description = "The people")),
    extensions(("x-scope" = json!("read-people")))
)]
pub(super) async fn list(
    State(api): State<Api>,
    Extension(caller): Extension<Caller>,
) -> Result<Json<People>, Problem> {
    let actor = caller.for_this(Scope::ReadPeople)?;
    let names = caller.sees_names();
    let mut people = api.desk().people(actor).await?;
    people.sort_by_key(|line| line.person);
    let signed = api.desk().sign_offs(actor).await?;
    let person = |line: crate::desk::people::PersonLine| Person {
        id: line.person.0,
        shown: signed
            .iter()
            .filter(|signed| signed.person == line.person)
            .map(|signed| Shown::of(signed, names))
            .collect(),
        name: names.then_some(line.name),
        roles: line.roles.into_iter().map(Role::word).collect(),
    };
    Ok(Json(People {
        people: people.into_iter().map(person).collect(),
    }))
}
