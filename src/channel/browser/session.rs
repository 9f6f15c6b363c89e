//! Who looks at a page: the cookie and the person behind it.

use axum::extract::FromRequestParts;
use axum::http::HeaderMap;
use axum::http::header::{COOKIE, HeaderValue, SET_COOKIE};
use axum::http::request::Parts;
use axum::response::{IntoResponse, Response};

use super::Browser;
use super::clocks;
use super::trouble::Trouble;
use crate::channel::caller::is_encrypted;
use crate::desk::{Actor, ChannelAddress, Desk, SessionToken};
use crate::store::InputKey;

/// The name of the cookie.
const COOKIE_NAME: &str = "fanwright";

/// Its name on an encrypted line: browsers take a cookie of such a name from this server alone,
/// for all of it (RFC 6265bis, section 4.1.3.2).
const HOST_COOKIE_NAME: &str = "__Host-fanwright";

/// A browser with a session, signed in or not yet.
pub(super) struct Session {
    /// Its token.
    pub(super) token: SessionToken,
    /// Whether the browser does not know the token yet.
    is_new: bool,
    /// Whether the browser speaks to us through an encrypted line.
    is_encrypted: bool,
    /// After so many seconds a session is over in any case.
    age: i64,
}

impl Session {
    /// The address of this browser for the desk.
    pub(super) fn address(&self) -> ChannelAddress {
        ChannelAddress::Browser {
            session: self.token,
        }
    }

    /// An answer that also makes the browser keep the session.
    pub(super) fn kept_by(&self, response: impl IntoResponse) -> Response {
        let mut response = response.into_response();
        if self.is_new {
            self.set_cookie(&mut response, &self.token.reveal(), self.age);
        }
        response
    }

    /// The session that it becomes when somebody signs in through the form with this token:
    /// nobody who knew the one before can tell it. The same form gives the same one again.
    pub(super) fn renewed(&self, browser: &Browser, form: &InputKey) -> Result<Session, Trouble> {
        let secret = browser.secret()?;
        let mut hasher = blake3::Hasher::new_keyed(&secret);
        hasher.update(self.token.reveal().as_bytes());
        hasher.update(form.0.as_bytes());
        let token = hasher.finalize().to_hex().as_str().parse();
        Ok(Session {
            token: token?,
            is_new: true,
            is_encrypted: self.is_encrypted,
            age: self.age,
        })
    }

    /// An answer that also makes the browser forget the session.
    pub(super) fn forgotten_by(&self, response: impl IntoResponse) -> Response {
        let mut response = response.into_response();
        self.set_cookie(&mut response, "", 0);
        response
    }

    fn set_cookie(&self, response: &mut Response, value: &str, age: i64) {
        let (name, secure) = if self.is_encrypted {
            (HOST_COOKIE_NAME, "; Secure")
        } else {
            (COOKIE_NAME, "")
        };
        let cookie =
            format!("{name}={value}; Path=/; HttpOnly; SameSite=Lax; Max-Age={age}{secure}");
        if let Ok(cookie) = HeaderValue::from_str(&cookie) {
            response.headers_mut().append(SET_COOKIE, cookie);
        }
    }
}

impl FromRequestParts<Browser> for Session {
    type Rejection = Trouble;

    async fn from_request_parts(parts: &mut Parts, browser: &Browser) -> Result<Session, Trouble> {
        let known = token_of(&parts.headers);
        Ok(Session {
            is_new: known.is_none(),
            is_encrypted: is_encrypted(&parts.headers),
            age: browser.desk().rules().sessions.most.as_secs(),
            token: match known {
                Some(token) => token,
                None => fresh(browser.desk())?,
            },
        })
    }
}

/// A signed-in browser; whoever is not is sent to the door.
pub(super) struct SignedIn {
    /// Who.
    pub(super) actor: Actor,
    /// Through which session.
    pub(super) session: Session,
}

impl FromRequestParts<Browser> for SignedIn {
    type Rejection = Trouble;

    async fn from_request_parts(parts: &mut Parts, browser: &Browser) -> Result<SignedIn, Trouble> {
        let session = Session::from_request_parts(parts, browser).await?;
        if session.is_new {
            return Err(Trouble::SignIn);
        }
        let actor = browser.desk().who_is(&session.address()).await?;
        let actor = actor.ok_or(Trouble::SignIn)?;
        clocks::go_by(browser.desk().clocks(&actor).await?);
        Ok(SignedIn { actor, session })
    }
}

fn fresh(desk: &Desk) -> Result<SessionToken, Trouble> {
    Ok(desk.new_session()?)
}

/// The session that the browser sends; on an encrypted line only the cookie of this server alone.
pub(super) fn token_of(headers: &HeaderMap) -> Option<SessionToken> {
    let name = if is_encrypted(headers) {
        HOST_COOKIE_NAME
    } else {
        COOKIE_NAME
    };
    headers
        .get_all(COOKIE)
        .into_iter()
        .filter_map(|header| header.to_str().ok())
        .flat_map(|header| header.split(';'))
        .filter_map(|pair| pair.trim().split_once('='))
        .find(|(other, _)| *other == name)
        .and_then(|(_, value)| value.parse().ok())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_token_is_found_among_other_cookies() {
        let mut headers = HeaderMap::new();
        let token = "ab".repeat(32);
        let cookies = format!("other=1; fanwright={token}; last=2");
        headers.insert(COOKIE, HeaderValue::from_str(&cookies).unwrap());
        assert_eq!(token_of(&headers).unwrap().reveal(), token);
        headers.insert(COOKIE, HeaderValue::from_static("fanwright=nonsense"));
        assert_eq!(token_of(&headers), None);
        headers.insert("x-forwarded-proto", HeaderValue::from_static("https"));
        let cookies = format!("fanwright={token}");
        headers.insert(COOKIE, HeaderValue::from_str(&cookies).unwrap());
        assert_eq!(token_of(&headers), None, "it may come from a neighbour");
        let cookies = format!("__Host-fanwright={token}");
        headers.insert(COOKIE, HeaderValue::from_str(&cookies).unwrap());
        assert!(token_of(&headers).is_some());
    }
}
