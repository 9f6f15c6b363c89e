//! Coming in and going out: codes, names, the end of a session.

use std::net::SocketAddr;

use axum::extract::{ConnectInfo, Form, Path, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use serde::Serialize;

use super::Browser;
use super::attempts::WINDOW;
use super::form::{Fields, new_token};
use super::page::{Frame, render};
use super::session::{Session, SignedIn};
use super::trouble::Trouble;
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
    ConnectInfo(from): ConnectInfo<SocketAddr>,
    session: Session,
    Path(code): Path<String>,
    Form(fields): Form<Vec<(String, String)>>,
) -> Result<Response, Trouble> {
    let fields = Fields(fields);
    let key = fields.key(&session)?;
    if browser.inner.attempts.must_wait(from.ip(), browser.now()) {
        return Err(Trouble::told(
            StatusCode::TOO_MANY_REQUESTS,
            format!(
                "Too many wrong codes came from here. Wait {} minutes, then try again.",
                WINDOW.as_mins()
            ),
        ));
    }
    match come_in(&browser, &session, key, (&code, fields.text("name"))).await {
        Ok(()) => Ok(session.kept_by(Redirect::to("/"))),
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
                browser.inner.attempts.wrong(from.ip(), browser.now());
            }
            Err(error.into())
        }
    }
}

async fn come_in(
    browser: &Browser,
    session: &Session,
    key: InputKey,
    (code, name): (&str, &str),
) -> Result<(), DeskError> {
    let (desk, address) = (browser.desk(), session.address());
    if code == OPEN_DOOR {
        desk.join_open_door(key, name, &address).await?;
    } else {
        desk.join(key, &Code::typed(code), name, &address).await?;
    }
    Ok(())
}

/// Ends the session.
pub(super) async fn sign_out(
    State(browser): State<Browser>,
    signed_in: SignedIn,
    Form(fields): Form<Vec<(String, String)>>,
) -> Result<Response, Trouble> {
    let session = &signed_in.session;
    Fields(fields).key(session)?;
    browser.desk().sign_out(&session.address()).await?;
    Ok(session.forgotten_by(Redirect::to("/join")))
}
