//! What a form sends back, and its one-time token.

use axum::extract::{Form, FromRequest, FromRequestParts, Request};
use axum::response::{IntoResponse, Response};
use subtle::ConstantTimeEq;

use super::Browser;
use super::session::{Session, SignedIn};
use super::trouble::Trouble;
use crate::desk::{Actor, SessionToken};
use crate::store::InputKey;

/// How many letters of a token are drawn; as many again say for which session.
const HALF: usize = 32;

/// A token that works once, in this session only.
pub(super) fn new_token(browser: &Browser, session: &Session) -> Result<String, Trouble> {
    let drawn = browser.desk().new_session()?.reveal();
    let nonce = &drawn[..HALF];
    Ok(format!("{nonce}{}", bound_to(&session.token, nonce)))
}

/// What says that a token was drawn for a session.
fn bound_to(session: &SessionToken, nonce: &str) -> String {
    let key = blake3::derive_key("fanwright form token", session.reveal().as_bytes());
    let hash = blake3::keyed_hash(&key, nonce.as_bytes());
    hash.to_hex().as_str()[..HALF].to_owned()
}

/// The fields of a form, in the order in which they came.
#[derive(Clone, Debug, Default)]
pub(super) struct Fields(pub(super) Vec<(String, String)>);

impl Fields {
    /// The first field of this name.
    pub(super) fn get(&self, name: &str) -> Option<&str> {
        let found = self.0.iter().find(|(field, _)| field == name);
        found.map(|(_, value)| value.as_str())
    }

    /// A field, or nothing where it is not there.
    pub(super) fn text(&self, name: &str) -> &str {
        self.get(name).unwrap_or_default()
    }

    /// Every field of this name.
    pub(super) fn all<'f>(&'f self, name: &'f str) -> impl Iterator<Item = &'f str> {
        self.0
            .iter()
            .filter(move |(field, _)| field == name)
            .map(|(_, value)| value.as_str())
    }

    /// The key of the input that this form is: its token, if it was drawn for this session.
    pub(super) fn key(&self, session: &Session) -> Result<InputKey, Trouble> {
        let token = self.text("token");
        let halves = token.split_at_checked(HALF);
        let (nonce, rest) = halves.ok_or_else(Trouble::stale_form)?;
        let right = bound_to(&session.token, nonce);
        if bool::from(right.as_bytes().ct_eq(rest.as_bytes())) {
            Ok(InputKey(format!("page:{nonce}")))
        } else {
            Err(Trouble::stale_form())
        }
    }
}

/// A form that somebody who is signed in sent, with a token that is good for this session.
pub(super) struct Posted {
    pub(super) browser: Browser,
    pub(super) actor: Actor,
    pub(super) fields: Fields,
    /// The key of the input that it is.
    pub(super) key: InputKey,
}

impl FromRequest<Browser> for Posted {
    type Rejection = Response;

    async fn from_request(request: Request, browser: &Browser) -> Result<Posted, Response> {
        let (mut parts, body) = request.into_parts();
        let signed_in = SignedIn::from_request_parts(&mut parts, browser).await;
        let SignedIn { actor, session } = signed_in.map_err(IntoResponse::into_response)?;
        let form = Form::from_request(Request::from_parts(parts, body), browser).await;
        let Form(fields) = form.map_err(IntoResponse::into_response)?;
        let fields = Fields(fields);
        let key = fields.key(&session).map_err(IntoResponse::into_response)?;
        Ok(Posted {
            browser: browser.clone(),
            actor,
            fields,
            key,
        })
    }
}
