//! A request that comes twice has one effect and one answer: the header Idempotency-Key, after the
//! IETF draft draft-ietf-httpapi-idempotency-key-header.

use std::collections::HashSet;
use std::sync::{Mutex, PoisonError};

use axum::body::{Body, to_bytes};
use axum::extract::Request;
use axum::http::header::{CONTENT_TYPE, ETAG, LOCATION};
use axum::http::{HeaderMap, HeaderName, HeaderValue, Method, StatusCode};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use uuid::Uuid;

use super::problem::{Kind, Problem};
use super::{Api, BODY_BYTES_MAX};
use crate::desk::answers::{Begun, KeptAnswer};
use crate::desk::tokens::Caller;
use crate::record::chain::Hash;
use crate::store::InputKey;

/// The header that names a request.
pub(super) const HEADER: &str = "idempotency-key";

/// The most characters of a name.
const NAME_CHARACTERS_MAX: usize = 255;

/// The headers of an answer that are kept with it.
const KEPT: [HeaderName; 3] = [CONTENT_TYPE, ETAG, LOCATION];

/// The key of the input that a request is, for its handler.
#[derive(Clone, Debug)]
pub(super) struct Key(pub(super) InputKey);

/// The requests that are being handled at this moment, by token and name.
#[derive(Default)]
pub(super) struct UnderWay(Mutex<HashSet<(Uuid, String)>>);

impl UnderWay {
    /// Says that this one is being handled, until the answer is dropped; none if it already is.
    fn begin(&self, request: (Uuid, String)) -> Option<Handling<'_>> {
        let mut all = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        // Made only if it is new: dropping one that is not would end the other.
        all.insert(request.clone())
            .then(|| Handling { all: self, request })
    }
}

struct Handling<'a> {
    all: &'a UnderWay,
    request: (Uuid, String),
}

impl Drop for Handling<'_> {
    fn drop(&mut self) {
        let mut all = self.all.0.lock().unwrap_or_else(PoisonError::into_inner);
        all.remove(&self.request);
    }
}

/// Handles a request that changes something, or repeats the answer that it got.
pub(super) async fn handle(
    api: &Api,
    caller: &Caller,
    request: Request,
    next: Next,
) -> Result<Response, Problem> {
    let (mut parts, body) = request.into_parts();
    if parts.method == Method::DELETE {
        // What is gone is gone: the address itself names the request.
        let key = format!("api:{}:delete:{}", caller.token(), parts.uri.path());
        parts.extensions.insert(Key(InputKey(key)));
        return Ok(next.run(Request::from_parts(parts, body)).await);
    }
    if !matches!(parts.method, Method::POST | Method::PUT) {
        return Ok(next.run(Request::from_parts(parts, body)).await);
    }
    let name = name(&parts.headers)?;
    let body = to_bytes(body, BODY_BYTES_MAX).await;
    let body = body.map_err(|_| Problem::of(Kind::TooLarge))?;
    let request = (caller.token(), name.clone());
    let handling = api.inner.under_way.begin(request);
    let _handling = handling.ok_or_else(|| Problem::of(Kind::UnderWay).after(1))?;
    let asks = asks(&parts.method, &parts.uri.to_string(), &body);
    let key = match api.desk().begin_request(caller, &name, asks).await? {
        Begun::ToHandle(key) => key,
        Begun::Answered(answer) => return Ok(repeated(answer)),
        Begun::AskedOtherwise => return Err(Problem::of(Kind::NameTaken)),
    };
    parts.extensions.insert(Key(key));
    let request = Request::from_parts(parts, Body::from(body));
    let (parts, body) = next.run(request).await.into_parts();
    let body = to_bytes(body, usize::MAX).await;
    let body = body.map_err(|_| Problem::fault())?;
    if is_final(parts.status) {
        let answer = KeptAnswer {
            status: parts.status.as_u16(),
            headers: kept(&parts.headers),
            body: String::from_utf8_lossy(&body).into_owned(),
        };
        let answer = (asks, answer);
        api.desk().answer_request(caller, &name, answer).await?;
    }
    Ok(Response::from_parts(parts, Body::from(body)))
}

/// The name of a request: a string as RFC 9651 writes it, or the same without its quotes.
fn name(headers: &HeaderMap) -> Result<String, Problem> {
    let sent = headers.get(HEADER).and_then(|value| value.to_str().ok());
    let bare = sent.map(str::trim).map(|sent| {
        let inner = sent
            .strip_prefix('"')
            .and_then(|rest| rest.strip_suffix('"'));
        inner.unwrap_or(sent)
    });
    let fits = |name: &&str| {
        (1..=NAME_CHARACTERS_MAX).contains(&name.len())
            && name.bytes().all(|letter| letter.is_ascii_graphic())
    };
    let name = bare.filter(fits);
    name.map(str::to_owned)
        .ok_or_else(|| Problem::of(Kind::NeedsName))
}

/// The hash of all that a request asks for.
fn asks(method: &Method, address: &str, body: &[u8]) -> Hash {
    let head = format!("{method} {address}\n");
    Hash::of(&[head.as_bytes(), body].concat())
}

/// Whether repeating the request could not give another answer.
fn is_final(status: StatusCode) -> bool {
    status.is_success()
        || matches!(
            status,
            StatusCode::BAD_REQUEST
                | StatusCode::NOT_FOUND
                | StatusCode::UNPROCESSABLE_ENTITY
                | StatusCode::PRECONDITION_FAILED
        )
}

fn kept(headers: &HeaderMap) -> Vec<(String, String)> {
    let text = |name: &HeaderName| Some(headers.get(name)?.to_str().ok()?.to_owned());
    KEPT.iter()
        .filter_map(|name| Some((name.to_string(), text(name)?)))
        .collect()
}

fn repeated(answer: KeptAnswer) -> Response {
    let status = StatusCode::from_u16(answer.status).unwrap_or(StatusCode::OK);
    let mut response = (status, answer.body).into_response();
    response.headers_mut().remove(CONTENT_TYPE);
    for (name, value) in answer.headers {
        let name = HeaderName::try_from(name);
        if let (Ok(name), Ok(value)) = (name, HeaderValue::from_str(&value)) {
            response.headers_mut().insert(name, value);
        }
    }
    response
}

#[cfg(test)]
mod tests {
    use super::*;

    fn named(text: &str) -> Result<String, Problem> {
        let mut headers = HeaderMap::new();
        headers.insert(HEADER, HeaderValue::from_str(text).unwrap());
        name(&headers)
    }

    #[test]
    fn a_name_is_read_with_its_quotes_or_without() {
        assert_eq!(named("\"8e03-a\"").unwrap(), "8e03-a");
        assert_eq!(named(" 8e03-a ").unwrap(), "8e03-a");
        let long = "x".repeat(256);
        for wrong in ["", "\"\"", "a b", long.as_str()] {
            assert!(named(wrong).is_err(), "{wrong}");
        }
        assert!(name(&HeaderMap::new()).is_err());
    }

    #[test]
    fn a_request_is_under_way_until_it_is_answered() {
        let all = UnderWay::default();
        let request = (Uuid::nil(), "a".to_owned());
        let handling = all.begin(request.clone());
        assert!(handling.is_some());
        assert!(all.begin(request.clone()).is_none());
        drop(handling);
        assert!(all.begin(request).is_some());
    }
}
