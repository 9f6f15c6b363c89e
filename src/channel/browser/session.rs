//! Who looks at a page: the cookie and the person behind it.

use axum::extract::FromRequestParts;
use axum::http::HeaderMap;
use axum::http::header::{COOKIE, HeaderValue, SET_COOKIE};
use axum::http::request::Parts;
use axum::response::{IntoResponse, Response};

use super::Browser;
use super::trouble::Trouble;
use crate::desk::identity::SESSION_MAX;
use crate::desk::{Actor, ChannelAddress, Desk, SessionToken};

/// The name of the cookie.
const COOKIE_NAME: &str = "fanwright";

/// A browser with a session, signed in or not yet.
pub(super) struct Session {
    /// Its token.
    pub(super) token: SessionToken,
    /// Whether the browser does not know the token yet.
    is_new: bool,
    /// Whether the browser speaks to us through an encrypted line.
    is_encrypted: bool,
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
            let age = SESSION_MAX.as_secs();
            self.set_cookie(&mut response, &self.token.reveal(), age);
        }
        response
    }

    /// An answer that also makes the browser forget the session.
    pub(super) fn forgotten_by(&self, response: impl IntoResponse) -> Response {
        let mut response = response.into_response();
        self.set_cookie(&mut response, "", 0);
        response
    }

    fn set_cookie(&self, response: &mut Response, value: &str, age: i64) {
        let secure = if self.is_encrypted { "; Secure" } else { "" };
        let cookie =
            format!("{COOKIE_NAME}={value}; Path=/; HttpOnly; SameSite=Lax; Max-Age={age}{secure}");
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
        Ok(SignedIn { actor, session })
    }
}

fn fresh(desk: &Desk) -> Result<SessionToken, Trouble> {
    Ok(desk.new_session()?)
}

fn token_of(headers: &HeaderMap) -> Option<SessionToken> {
    headers
        .get_all(COOKIE)
        .into_iter()
        .filter_map(|header| header.to_str().ok())
        .flat_map(|header| header.split(';'))
        .filter_map(|pair| pair.trim().split_once('='))
        .find(|(name, _)| *name == COOKIE_NAME)
        .and_then(|(_, value)| value.parse().ok())
}

/// What a proxy in front says of the line; a browser that lies about it harms only itself.
fn is_encrypted(headers: &HeaderMap) -> bool {
    headers
        .get("x-forwarded-proto")
        .is_some_and(|proto| proto.as_bytes().eq_ignore_ascii_case(b"https"))
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
    }
}
