//! The door of the API: who calls, whether they may go on, and what stands around every answer.

use std::str::FromStr;

use axum::body::{Body, to_bytes};
use axum::extract::{Request, State};
use axum::http::header::{AUTHORIZATION, CONTENT_TYPE, ETAG, HeaderValue, IF_NONE_MATCH};
use axum::http::{HeaderMap, Method, StatusCode};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use jiff::SignedDuration;

use super::problem::{Kind, Problem};
use super::{Api, once};
use crate::channel::caller::place;
use crate::channel::lately::Pace;
use crate::desk::tokens::{ApiToken, Caller};

/// Requests from one place that show no token that works.
const STRANGERS: Pace = Pace {
    times: 120,
    within: SignedDuration::from_mins(1),
};

/// Lets a request pass that shows a token which works and has not asked too much.
pub(super) async fn pass(State(api): State<Api>, mut request: Request, next: Next) -> Response {
    let caller = match recognised(&api, request.headers()).await {
        Ok(caller) => caller,
        Err(problem) => return stranger(&api, &request, problem).into_response(),
    };
    if let Err(seconds) = api.inner.limits.take(caller.token(), api.now()) {
        return Problem::of(Kind::TooMany).after(seconds).into_response();
    }
    request.extensions_mut().insert(caller.clone());
    if matches!(*request.method(), Method::GET | Method::HEAD) {
        let known = request.headers().get(IF_NONE_MATCH).cloned();
        return tagged(next.run(request).await, known.as_ref()).await;
    }
    match once::handle(&api, &caller, request, next).await {
        Ok(response) => response,
        Err(problem) => problem.into_response(),
    }
}

/// The answer to whoever shows no token that works, also when they ask on and on. It holds up
/// nobody at the same place whose token does.
fn stranger(api: &Api, request: &Request, problem: Problem) -> Problem {
    let from = place(request.headers(), request.extensions());
    if from.is_loopback() {
        return problem;
    }
    match api.inner.strangers.take(from, STRANGERS, api.now()) {
        Ok(()) => problem,
        Err(wait) => Problem::of(Kind::TooMany).after(wait.as_secs().unsigned_abs() + 1),
    }
}

async fn recognised(api: &Api, headers: &HeaderMap) -> Result<Caller, Problem> {
    let shown = headers
        .get(AUTHORIZATION)
        .and_then(|value| value.to_str().ok());
    let token = shown.and_then(|shown| {
        let (scheme, token) = shown.split_once(' ')?;
        let token = ApiToken::from_str(token.trim()).ok();
        token.filter(|_| scheme.eq_ignore_ascii_case("bearer"))
    });
    let token = token.ok_or_else(|| Problem::of(Kind::NoToken))?;
    let caller = api.desk().who_calls(&token).await?;
    caller.ok_or_else(|| Problem::of(Kind::NoToken))
}

/// An answer with the tag of its content, or nothing but the tag if the caller knows it.
async fn tagged(response: Response, known: Option<&HeaderValue>) -> Response {
    if response.status() != StatusCode::OK {
        return response;
    }
    let (mut parts, body) = response.into_parts();
    let Ok(bytes) = to_bytes(body, usize::MAX).await else {
        return Problem::fault().into_response();
    };
    if !parts.headers.contains_key(ETAG) {
        let hash = blake3::hash(&bytes).to_hex();
        let tag = format!("\"{}\"", &hash.as_str()[..32]);
        if let Ok(tag) = HeaderValue::from_str(&tag) {
            parts.headers.insert(ETAG, tag);
        }
    }
    let tag = parts.headers.get(ETAG);
    let is_known = known
        .zip(tag)
        .is_some_and(|(known, tag)| names(known, tag.as_bytes()));
    if is_known {
        parts.status = StatusCode::NOT_MODIFIED;
        parts.headers.remove(CONTENT_TYPE);
        return Response::from_parts(parts, Body::empty());
    }
    Response::from_parts(parts, Body::from(bytes))
}

/// Whether a header names this tag, among others or as any; the comparison is the weak one that
/// RFC 9110 asks for with If-None-Match.
pub(super) fn names(header: &HeaderValue, tag: &[u8]) -> bool {
    let Ok(text) = header.to_str() else {
        return false;
    };
    text.split(',').map(str::trim).any(|one| {
        let one = one.strip_prefix("W/").unwrap_or(one);
        one == "*" || one.as_bytes() == tag
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_header_names_a_tag_alone_among_others_or_as_any() {
        let header = |text: &str| HeaderValue::from_str(text).unwrap();
        for text in ["\"a\"", "\"b\", \"a\"", "W/\"a\"", "*"] {
            assert!(names(&header(text), b"\"a\""), "{text}");
        }
        for text in ["", "a", "\"b\"", "\"ab\""] {
            assert!(!names(&header(text), b"\"a\""), "{text}");
        }
    }
}
