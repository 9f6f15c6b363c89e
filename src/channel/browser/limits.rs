//! How much one browser, or one place, may ask for in a time.
//!
//! A person never comes near these limits; a program that has run wild, or somebody who tries,
//! does. Wrong codes and passwords are counted apart, in `attempts.rs`.

use std::net::IpAddr;

use axum::extract::{FromRequestParts, Request, State};
use axum::http::header::{CONTENT_TYPE, RETRY_AFTER};
use axum::http::request::Parts;
use axum::http::{HeaderValue, Method, StatusCode};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use jiff::{SignedDuration, Timestamp};

use super::Browser;
use super::session::token_of;
use super::trouble::Trouble;
use crate::channel::caller::place;
use crate::channel::lately::{Lately, Pace};
use crate::channel::noted::{Event, noted};
use crate::record::chain::Hash;

/// Everything that a browser asks for.
const ALL: Pace = Pace {
    times: 900,
    within: SignedDuration::from_mins(1),
};

/// Everything that one place asks for: a shop behind one address. A session is anybody's word until
/// it is looked up, so what a browser says of itself cannot be the only count.
const ALL_OF_A_PLACE: Pace = Pace {
    times: 9_000,
    within: SignedDuration::from_mins(1),
};

/// Photos and files of one place.
const UPLOADS_OF_A_PLACE: Pace = Pace {
    times: 600,
    within: SignedDuration::from_mins(10),
};

/// Photos and files.
const UPLOADS: Pace = Pace {
    times: 60,
    within: SignedDuration::from_mins(10),
};

/// One-time codes, and passwords that are set.
const CODES: Pace = Pace {
    times: 30,
    within: SignedDuration::from_hours(1),
};

/// Where codes are made and passwords set.
const MAKE_CODES: [&str; 3] = ["/people/invite", "/people/sign-in", "/ways-in/password"];

/// Who asks: a browser by its session, or a place where no session is known.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
enum Asker {
    Session(Hash),
    Place(IpAddr),
}

/// What was asked for lately.
#[derive(Default)]
pub(super) struct Limits {
    all: Lately<Asker>,
    places: Lately<Asker>,
    uploads: Lately<Asker>,
    uploads_of_places: Lately<Asker>,
    codes: Lately<Asker>,
}

/// Lets a request through, or says when to come again.
pub(super) async fn within(
    State(browser): State<Browser>,
    request: Request,
    next: Next,
) -> Response {
    match browser.inner.limits.take(&request, browser.now()) {
        Ok(()) => next.run(request).await,
        Err(wait) => {
            let from = place(request.headers(), request.extensions());
            noted(Event::AskedTooMuch, from, request.uri().path());
            too_much(wait)
        }
    }
}

impl Limits {
    /// Counts a request, or says how long to wait.
    fn take(&self, request: &Request, now: Timestamp) -> Result<(), SignedDuration> {
        let place = place(request.headers(), request.extensions());
        let asker = match token_of(request.headers()) {
            Some(token) => Asker::Session(token.hash()),
            None => Asker::Place(place),
        };
        // Whatever comes from this machine and names nobody is the operator's own.
        let crowd = Some(Asker::Place(place)).filter(|_| !place.is_loopback());
        let kind = request.headers().get(CONTENT_TYPE);
        let is_post = request.method() == Method::POST;
        let is_upload =
            is_post && kind.is_some_and(|kind| kind.as_bytes().starts_with(b"multipart/"));
        self.all.take(asker, ALL, now)?;
        if let Some(crowd) = crowd {
            self.places.take(crowd, ALL_OF_A_PLACE, now)?;
        }
        if is_upload {
            self.uploads.take(asker, UPLOADS, now)?;
            if let Some(crowd) = crowd {
                self.uploads_of_places
                    .take(crowd, UPLOADS_OF_A_PLACE, now)?;
            }
        }
        if is_post && MAKE_CODES.contains(&request.uri().path()) {
            self.codes.take(asker, CODES, now)?;
        }
        Ok(())
    }
}

fn too_much(wait: SignedDuration) -> Response {
    let seconds = wait.as_secs() + 1;
    let sentence = format!(
        "This browser asks for more than a person can use. Wait {seconds} s, then open the page \
         again."
    );
    let mut response = Trouble::told(StatusCode::TOO_MANY_REQUESTS, sentence).into_response();
    response
        .headers_mut()
        .insert(RETRY_AFTER, HeaderValue::from(seconds));
    response
}

/// The place that a request comes from.
#[derive(Clone, Copy)]
pub(super) struct From(pub(super) IpAddr);

impl FromRequestParts<Browser> for From {
    type Rejection = std::convert::Infallible;

    async fn from_request_parts(parts: &mut Parts, _: &Browser) -> Result<From, Self::Rejection> {
        Ok(From(place(&parts.headers, &parts.extensions)))
    }
}

#[cfg(test)]
mod tests {
    use std::net::SocketAddr;

    use axum::body::Body;
    use axum::extract::ConnectInfo;

    use super::*;

    /// A request with another session each time, as nobody can have.
    fn asks(limits: &Limits, from: &str, number: u32) -> Result<(), SignedDuration> {
        let direct: SocketAddr = from.parse().unwrap();
        let cookie = format!("fanwright={number:064x}");
        let request = Request::get("/hurt").header("cookie", cookie);
        let mut request = request.body(Body::empty()).unwrap();
        request.extensions_mut().insert(ConnectInfo(direct));
        limits.take(&request, Timestamp::UNIX_EPOCH)
    }

    #[test]
    fn another_session_for_every_request_is_no_way_around_the_count() {
        let limits = Limits::default();
        let most = ALL_OF_A_PLACE.times.unsigned_abs();
        for number in 0..most {
            assert_eq!(asks(&limits, "192.0.2.4:9", number), Ok(()));
        }
        assert!(asks(&limits, "192.0.2.4:9", most).is_err());
        assert_eq!(asks(&limits, "192.0.2.5:9", most), Ok(()), "others go on");
    }
}
