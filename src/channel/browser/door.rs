//! Coming in and going out: codes, names, the end of a session.

use axum::extract::{Form, Path, State};
use axum::http::{HeaderName, HeaderValue, StatusCode};
use axum::response::{IntoResponse, Redirect, Response};
use serde::Serialize;

use super::Browser;
use super::attempts::{Tried, WINDOW};
use super::form::{Fields, new_token};
use super::limits::From;
use super::page::{Frame, render};
use super::session::{Session, SignedIn};
use super::trouble::Trouble;
use crate::channel::noted::{Event, noted};
use crate::desk::{Code, DeskError};
use crate::store::InputKey;

/// The code by which whoever finds the door open comes in.
const OPEN_DOOR: &str = "open-door";

#[derive(Serialize)]
struct AskCode {
    door_is_open: bool,
}

#[derive(Serialize)]
struct AskName {
    code: String,
    token: String,
    name: String,
    sentence: Option<String>,
    signed_in_as: Option<String>,
}

/// The door: asks for the code.
pub(super) async fn ask_code(State(browser): State<Browser>) -> Response {
    let page = AskCode {
        door_is_open: browser.desk().rules().open_door.is_some(),
    };
    render("ask-code.html", &Frame::of_nobody("Join your crew"), &page)
}

/// A typed code leads to the page that asks the name.
pub(super) async fn take_code(Form(fields): Form<Vec<(String, String)>>) -> Redirect {
    let code = Code::typed(Fields(fields).text("code"));
    match code.reveal() {
        "" => Redirect::to("/join"),
        code => Redirect::to(&format!("/join/{code}")),
    }
}

/// Asks the name. Whatever fetches links ahead of people changes nothing by it.
pub(super) async fn ask_name(
    State(browser): State<Browser>,
    session: Session,
    Path(code): Path<String>,
) -> Result<Response, Trouble> {
    let page = AskName {
        token: new_token(&browser, &session)?,
        name: String::new(),
        sentence: None,
        signed_in_as: signed_in_as(&browser, &session).await?,
        code: tidy(&code),
    };
    let frame = Frame::of_nobody("Join your crew");
    Ok(session.kept_by(render("ask-name.html", &frame, &page)))
}

async fn signed_in_as(browser: &Browser, session: &Session) -> Result<Option<String>, Trouble> {
    let actor = browser.desk().who_is(&session.address()).await?;
    Ok(actor.map(|actor| actor.name))
}

/// The code as it stands in an address.
fn tidy(code: &str) -> String {
    if code == OPEN_DOOR {
        code.to_owned()
    } else {
        Code::typed(code).reveal().to_owned()
    }
}

/// Joins, or signs a known person in.
pub(super) async fn join(
    State(browser): State<Browser>,
    from: From,
    session: Session,
    Path(code): Path<String>,
    Form(fields): Form<Vec<(String, String)>>,
) -> Result<Response, Trouble> {
    let fields = Fields(fields);
    let Ok(key) = fields.key(&session) else {
        // A form that was sent twice comes again when its session has been renewed.
        return match signed_in_as(&browser, &session).await? {
            Some(_) => Ok(Redirect::to("/").into_response()),
            None => Err(Trouble::stale_form()),
        };
    };
    let tried = Tried::From(from.0);
    if browser.inner.attempts.must_wait(&tried, browser.now()) {
        noted(Event::TriedTooOften, from.0, "");
        return Err(too_many("codes"));
    }
    let renewed = session.renewed(&browser, &key)?;
    match come_in(
        &browser,
        (&session, &renewed),
        key,
        (&code, fields.text("name")),
    )
    .await
    {
        Ok(()) => {
            noted(Event::CodeUsed, from.0, "");
            Ok(renewed.kept_by(Redirect::to("/")))
        }
        Err(DeskError::NotUnderstood(sentence)) => {
            let page = AskName {
                token: new_token(&browser, &session)?,
                name: fields.text("name").to_owned(),
                sentence: Some(sentence),
                signed_in_as: signed_in_as(&browser, &session).await?,
                code: tidy(&code),
            };
            let frame = Frame::of_nobody("Join your crew");
            let shown = render("ask-name.html", &frame, &page);
            Ok((StatusCode::UNPROCESSABLE_ENTITY, shown).into_response())
        }
        Err(error) => {
            if matches!(error, DeskError::BadCode) {
                noted(Event::WrongCode, from.0, "");
                browser.inner.attempts.wrong(tried, browser.now());
            }
            Err(error.into())
        }
    }
}

/// Too many wrong ones came from a place, or for a login.
pub(super) fn too_many(what: &str) -> Trouble {
    Trouble::told(
        StatusCode::TOO_MANY_REQUESTS,
        format!(
            "Too many wrong {what} came from here. Wait {} minutes, then try again.",
            WINDOW.as_mins()
        ),
    )
}

async fn come_in(
    browser: &Browser,
    (session, renewed): (&Session, &Session),
    key: InputKey,
    (code, name): (&str, &str),
) -> Result<(), DeskError> {
    let (desk, address) = (browser.desk(), session.address());
    let came = if code == OPEN_DOOR {
        desk.join_open_door(key, name, &address).await
    } else {
        desk.join(key, &Code::typed(code), name, &address).await
    };
    if let Err(error) = came {
        // The same form, sent twice at once: the first of the two has signed in already.
        return match desk.who_is(&renewed.address()).await? {
            Some(_) => Ok(()),
            None => Err(error),
        };
    }
    desk.renew_session(&address, &renewed.address()).await
}

/// Ends the session.
pub(super) async fn sign_out(
    State(browser): State<Browser>,
    from: From,
    signed_in: SignedIn,
    Form(fields): Form<Vec<(String, String)>>,
) -> Result<Response, Trouble> {
    let session = &signed_in.session;
    Fields(fields).key(session)?;
    browser.desk().sign_out(&session.address()).await?;
    noted(Event::SignedOut, from.0, "");
    let mut response = session.forgotten_by(Redirect::to("/join"));
    // Photos stay for a day in what a browser keeps (W3C, Clear Site Data).
    response.headers_mut().insert(
        HeaderName::from_static("clear-site-data"),
        HeaderValue::from_static("\"cache\", \"storage\""),
    );
    Ok(response)
}
