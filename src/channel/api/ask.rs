//! What a request asks for, read once at the edge.

use axum::extract::rejection::{BytesRejection, JsonRejection, QueryRejection};
use axum::extract::{FromRequest, FromRequestParts, Json, Query, Request};
use axum::http::request::Parts;
use serde::de::DeserializeOwned;

use super::problem::{Kind, Problem};
use axum::http::StatusCode;

/// The body of a request, as JSON of this shape.
pub(super) struct Asked<T>(pub(super) T);

impl<T: DeserializeOwned, S: Send + Sync> FromRequest<S> for Asked<T> {
    type Rejection = Problem;

    async fn from_request(request: Request, state: &S) -> Result<Asked<T>, Problem> {
        match Json::<T>::from_request(request, state).await {
            Ok(Json(asked)) => Ok(Asked(asked)),
            Err(rejection) => Err(no_json(&rejection)),
        }
    }
}

fn no_json(rejection: &JsonRejection) -> Problem {
    match rejection {
        JsonRejection::MissingJsonContentType(_) => {
            Problem::of(Kind::NotJson).with_status(StatusCode::UNSUPPORTED_MEDIA_TYPE)
        }
        JsonRejection::JsonDataError(error) => {
            Problem::new(Kind::NotUnderstood, format!("{}.", error.body_text()))
        }
        JsonRejection::BytesRejection(error) => no_body(error),
        other => Problem::new(Kind::NotJson, format!("{}.", other.body_text())),
    }
}

fn no_body(rejection: &BytesRejection) -> Problem {
    match rejection.status() {
        StatusCode::PAYLOAD_TOO_LARGE => Problem::of(Kind::TooLarge),
        _ => Problem::new(
            Kind::NotJson,
            "The body did not arrive whole. Send it again.",
        ),
    }
}

/// What stands after the question mark of an address.
pub(super) struct Filters<T>(pub(super) T);

impl<T: DeserializeOwned, S: Send + Sync> FromRequestParts<S> for Filters<T> {
    type Rejection = Problem;

    async fn from_request_parts(parts: &mut Parts, state: &S) -> Result<Filters<T>, Problem> {
        match Query::<T>::from_request_parts(parts, state).await {
            Ok(Query(asked)) => Ok(Filters(asked)),
            Err(rejection) => Err(no_query(&rejection)),
        }
    }
}

fn no_query(rejection: &QueryRejection) -> Problem {
    Problem::new(Kind::NotUnderstood, format!("{}.", rejection.body_text()))
}

/// An id in an address; one that cannot be read names nothing.
pub(super) fn id<T: std::str::FromStr>(what: &'static str, text: &str) -> Result<T, Problem> {
    text.parse().map_err(|_| Problem::not_found(what))
}
