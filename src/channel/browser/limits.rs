//! How much one browser, or one place, may ask for in a time.
//!
//! A person never comes near these limits; a program that has run wild, or somebody who tries,
//! does. Wrong codes and passwords are counted apart, in `attempts.rs`.

use std::collections::HashMap;
use std::hash::Hash as Key;
use std::net::{IpAddr, SocketAddr};
use std::sync::{Mutex, PoisonError};

use axum::extract::{ConnectInfo, FromRequestParts, Request, State};
use axum::http::header::{CONTENT_TYPE, RETRY_AFTER};
use axum::http::request::Parts;
use axum::http::{Extensions, HeaderMap, HeaderValue, Method, StatusCode};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use jiff::{SignedDuration, Timestamp};

use super::Browser;
use super::session::token_of;
use super::trouble::Trouble;
use crate::record::chain::Hash;

/// So much in so long a time.
#[derive(Clone, Copy, Debug)]
struct Pace {
    times: i32,
    within: SignedDuration,
}

/// Everything that a browser asks for.
const ALL: Pace = Pace {
    times: 900,
    within: SignedDuration::from_mins(1),
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

/// So many of those who ask are counted at once; those who asked longest ago are let go.
const COUNTED_MAX: usize = 8_192;

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
    uploads: Lately<Asker>,
    codes: Lately<Asker>,
}

/// For each asker the time at which everything taken so far would be spread out evenly: the
/// generic cell rate algorithm of ITU-T I.371.
struct Lately<K>(Mutex<HashMap<K, Timestamp>>);

impl<K> Default for Lately<K> {
    fn default() -> Self {
        Lately(Mutex::default())
    }
}

impl<K: Key + Eq + Copy> Lately<K> {
    /// Takes one, or says how long to wait for it.
    fn take(&self, asker: K, pace: Pace, now: Timestamp) -> Result<(), SignedDuration> {
        // Nothing that touches the map can panic half-way.
        let mut lately = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        make_room(&mut lately, now);
        let spread = lately.get(&asker).copied().unwrap_or(now).max(now);
        let ahead = spread.duration_since(now);
        let one = pace.within / pace.times;
        let room = pace.within - one;
        if ahead > room {
            return Err(ahead - room);
        }
        lately.insert(asker, spread.checked_add(one).unwrap_or(spread));
        Ok(())
    }
}

fn make_room<K: Key + Eq>(lately: &mut HashMap<K, Timestamp>, now: Timestamp) {
    if lately.len() < COUNTED_MAX {
        return;
    }
    lately.retain(|_, spread| *spread > now);
    if lately.len() >= COUNTED_MAX {
        let mut times: Vec<Timestamp> = lately.values().copied().collect();
        times.sort_unstable();
        let middle = times[times.len() / 2];
        lately.retain(|_, spread| *spread > middle);
    }
}

/// Lets a request through, or says when to come again.
pub(super) async fn within(
    State(browser): State<Browser>,
    request: Request,
    next: Next,
) -> Response {
    let now = browser.now();
    let asker = asker(request.headers(), request.extensions());
    let limits = &browser.inner.limits;
    let mut taken = limits.all.take(asker, ALL, now);
    if request.method() == Method::POST {
        let kind = request.headers().get(CONTENT_TYPE);
        if kind.is_some_and(|kind| kind.as_bytes().starts_with(b"multipart/")) {
            taken = taken.and_then(|()| limits.uploads.take(asker, UPLOADS, now));
        }
        if MAKE_CODES.contains(&request.uri().path()) {
            taken = taken.and_then(|()| limits.codes.take(asker, CODES, now));
        }
    }
    match taken {
        Ok(()) => next.run(request).await,
        Err(wait) => too_much(wait),
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

fn asker(headers: &HeaderMap, extensions: &Extensions) -> Asker {
    match token_of(headers) {
        Some(token) => Asker::Session(token.hash()),
        None => Asker::Place(place(headers, extensions)),
    }
}

/// Where a request comes from. A proxy on this machine says it for those behind it; its word is
/// the last one of the header, since whatever stands before was sent to it.
fn place(headers: &HeaderMap, extensions: &Extensions) -> IpAddr {
    let connected = extensions.get::<ConnectInfo<SocketAddr>>();
    let direct = connected.map_or(IpAddr::from([0; 4]), |connected| connected.0.ip());
    let said = headers
        .get("x-forwarded-for")
        .filter(|_| direct.is_loopback());
    let said = said.and_then(|said| said.to_str().ok());
    let last = said.and_then(|said| said.rsplit(',').next()?.trim().parse().ok());
    household(last.unwrap_or(direct))
}

/// The place that a request comes from.
pub(super) struct From(pub(super) IpAddr);

impl FromRequestParts<Browser> for From {
    type Rejection = std::convert::Infallible;

    async fn from_request_parts(parts: &mut Parts, _: &Browser) -> Result<From, Self::Rejection> {
        Ok(From(place(&parts.headers, &parts.extensions)))
    }
}

/// One household has a whole /64 of IPv6 addresses, so it counts as one place.
fn household(from: IpAddr) -> IpAddr {
    match from {
        IpAddr::V4(_) => from,
        IpAddr::V6(address) => {
            let [a, b, c, d, ..] = address.segments();
            IpAddr::from([a, b, c, d, 0, 0, 0, 0])
        }
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    const PACE: Pace = Pace {
        times: 6,
        within: SignedDuration::from_mins(1),
    };

    fn at(seconds: i64) -> Timestamp {
        Timestamp::UNIX_EPOCH + SignedDuration::from_secs(seconds)
    }

    #[test]
    fn six_a_minute_come_at_once_and_then_one_every_ten_seconds() {
        let lately = Lately::default();
        for _ in 0..6 {
            assert_eq!(lately.take(1, PACE, at(0)), Ok(()));
        }
        assert_eq!(
            lately.take(1, PACE, at(0)),
            Err(SignedDuration::from_secs(10))
        );
        assert_eq!(
            lately.take(2, PACE, at(0)),
            Ok(()),
            "others are not held up"
        );
        assert_eq!(
            lately.take(1, PACE, at(9)),
            Err(SignedDuration::from_secs(1))
        );
        assert_eq!(lately.take(1, PACE, at(10)), Ok(()));
        assert_eq!(
            lately.take(1, PACE, at(11)),
            Err(SignedDuration::from_secs(9))
        );
    }

    #[test]
    fn a_crowd_is_let_go_by_halves() {
        let lately = Lately::default();
        for asker in 0..=COUNTED_MAX {
            let now = at(0) + SignedDuration::from_micros(asker as i64);
            lately.take(asker, PACE, now).unwrap();
        }
        assert!(lately.0.lock().unwrap().len() <= COUNTED_MAX / 2 + 1);
    }

    #[test]
    fn only_a_proxy_on_this_machine_says_where_others_are() {
        let from = |direct: &str, said: &'static str| {
            let mut extensions = Extensions::new();
            let direct: SocketAddr = direct.parse().unwrap();
            extensions.insert(ConnectInfo(direct));
            let mut headers = HeaderMap::new();
            if !said.is_empty() {
                headers.insert("x-forwarded-for", HeaderValue::from_static(said));
            }
            place(&headers, &extensions).to_string()
        };
        assert_eq!(
            from("127.0.0.1:9", "198.51.100.1, 203.0.113.7"),
            "203.0.113.7"
        );
        assert_eq!(from("192.0.2.4:9", "203.0.113.7"), "192.0.2.4");
        assert_eq!(from("127.0.0.1:9", "nonsense"), "127.0.0.1");
        assert_eq!(from("127.0.0.1:9", ""), "127.0.0.1");
        assert_eq!(from("[2001:db8::1]:9", ""), "2001:db8::");
    }

    proptest! {
        #[test]
        fn never_more_than_twice_the_pace_in_any_such_time(
            gaps in proptest::collection::vec(0_i64..20, 1..200),
        ) {
            let lately = Lately::default();
            let (mut now, mut taken) = (0, Vec::new());
            for gap in gaps {
                now += gap;
                if lately.take((), PACE, at(now)).is_ok() {
                    taken.push(now);
                }
            }
            for first in &taken {
                let window = first..&(first + 60);
                let count = taken.iter().filter(|at| window.contains(at)).count();
                prop_assert!(count < 12);
            }
        }
    }
}
