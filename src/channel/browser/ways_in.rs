//! Ways to sign in: a password or none, and the browsers in which a person is signed in.

use axum::extract::{Form, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use serde::Serialize;

use super::Browser;
use super::attempts::Tried;
use super::door::too_many;
use super::form::{Fields, new_token};
use super::limits::From;
use super::page::{Frame, Moment, render};
use super::session::{Session, SignedIn};
use super::trouble::Trouble;
use crate::channel::noted::{Event, noted};
use crate::desk::DeskError;
use crate::desk::passwords::login_typed;
use crate::desk::passwords::rules::{PASSWORD_CHARACTERS_MAX, PASSWORD_CHARACTERS_MIN};
use crate::desk::sessions::SessionLine;

#[derive(Serialize)]
struct Ask {
    token: String,
    login: String,
    sentence: Option<String>,
}

/// Asks for login and password.
pub(super) async fn ask(
    State(browser): State<Browser>,
    session: Session,
) -> Result<Response, Trouble> {
    let page = Ask {
        token: new_token(&browser, &session)?,
        login: String::new(),
        sentence: None,
    };
    let frame = Frame::of_nobody("Sign in");
    Ok(session.kept_by(render("sign-in.html", &frame, &page)))
}

/// Signs in.
pub(super) async fn sign_in(
    State(browser): State<Browser>,
    from: From,
    session: Session,
    Form(fields): Form<Vec<(String, String)>>,
) -> Result<Response, Trouble> {
    let fields = Fields(fields);
    let key = fields.key(&session)?;
    let (login, password) = (login_typed(fields.text("login")), fields.text("password"));
    let tried = [Tried::From(from.0), Tried::Login(login.clone())];
    let (attempts, now) = (&browser.inner.attempts, browser.now());
    if tried.iter().any(|tried| attempts.must_wait(tried, now)) {
        noted(Event::TriedTooOften, from.0, "");
        return Err(too_many("passwords"));
    }
    let renewed = session.renewed(&browser, &key)?;
    let typed = (login.as_str(), password);
    let desk = browser.desk();
    match desk
        .sign_in_with_password(key, typed, &renewed.address())
        .await
    {
        Ok(_) => {
            // What the browser was signed in as before is left, whoever that was.
            desk.sign_out(&session.address()).await?;
            noted(Event::PasswordUsed, from.0, "");
            Ok(renewed.kept_by(Redirect::to("/")))
        }
        Err(error @ DeskError::BadPassword) => {
            noted(Event::WrongPassword, from.0, "");
            tried
                .into_iter()
                .for_each(|tried| attempts.wrong(tried, now));
            let page = Ask {
                token: new_token(&browser, &session)?,
                login: fields.text("login").to_owned(),
                sentence: Some(error.to_string()),
            };
            let shown = render("sign-in.html", &Frame::of_nobody("Sign in"), &page);
            Ok((StatusCode::UNPROCESSABLE_ENTITY, shown).into_response())
        }
        Err(error) => Err(error.into()),
    }
}

#[derive(Serialize)]
struct Page {
    token: String,
    sentence: Option<String>,
    /// Whether the password is asked for before something that leads to a sign-in.
    asks: bool,
    /// The login, if there is a password.
    login: Option<String>,
    since: Option<Moment>,
    least: usize,
    most: usize,
    sessions: Vec<SessionView>,
    /// How long a browser stays signed in, unused and at most, in words.
    idle: String,
    longest: String,
}

#[derive(Serialize)]
struct SessionView {
    id: String,
    since: Moment,
    used: Moment,
    is_this: bool,
}

impl SessionView {
    fn of(line: SessionLine) -> SessionView {
        SessionView {
            id: line.id.to_string(),
            since: Moment::of(line.since),
            used: Moment::of(line.used),
            is_this: line.is_this,
        }
    }
}

/// `7 days`, `12 hours`.
fn in_words(hours: i64) -> String {
    match (hours % 24, hours / 24) {
        (0, 1) => "1 day".to_owned(),
        (0, days) => format!("{days} days"),
        _ if hours == 1 => "1 hour".to_owned(),
        _ => format!("{hours} hours"),
    }
}

/// `K7QM-3XTP`.
fn shown_login(login: &str) -> String {
    match login.split_at_checked(login.len() / 2) {
        Some((front, back)) => format!("{front}-{back}"),
        None => login.to_owned(),
    }
}

/// The page.
pub(super) async fn show(
    State(browser): State<Browser>,
    signed_in: SignedIn,
) -> Result<Response, Trouble> {
    page(&browser, &signed_in, None).await
}

async fn page(
    browser: &Browser,
    SignedIn { actor, session }: &SignedIn,
    sentence: Option<String>,
) -> Result<Response, Trouble> {
    let desk = browser.desk();
    let password = desk.password(actor).await?;
    let sessions = desk.sessions(actor, &session.address()).await?;
    let limits = desk.rules().sessions;
    let page = Page {
        token: new_token(browser, session)?,
        sentence,
        asks: desk.asks_again(actor, &session.address()).await?,
        since: password.as_ref().map(|line| Moment::of(line.since)),
        login: password.map(|line| shown_login(&line.login)),
        least: PASSWORD_CHARACTERS_MIN,
        most: PASSWORD_CHARACTERS_MAX,
        sessions: sessions.into_iter().map(SessionView::of).collect(),
        idle: in_words(limits.idle.as_hours()),
        longest: in_words(limits.most.as_hours()),
    };
    let frame = Frame::of("Ways to sign in", actor).with_token(&page.token);
    Ok(render("ways-in.html", &frame, &page))
}

/// Sets a password, or another one.
pub(super) async fn set_password(
    State(browser): State<Browser>,
    from: From,
    signed_in: SignedIn,
    Form(fields): Form<Vec<(String, String)>>,
) -> Result<Response, Trouble> {
    let fields = Fields(fields);
    let SignedIn { actor, session } = &signed_in;
    let key = fields.key(session)?;
    let (desk, here) = (browser.desk(), session.address());
    let password = fields.text("password");
    let set = async {
        is_really(&browser, from, &signed_in, &fields).await?;
        desk.set_password(key, actor, &here, password).await
    };
    match set.await {
        Ok(()) => {
            noted(Event::PasswordChanged, from.0, "");
            Ok(Redirect::to("/ways-in").into_response())
        }
        Err(error) => refused(&browser, &signed_in, error).await,
    }
}

/// Makes sure that it is the person who is signed in, before something that leads to their
/// sign-in. Wrong passwords are counted as at the door.
pub(super) async fn is_really(
    browser: &Browser,
    from: From,
    SignedIn { actor, session }: &SignedIn,
    fields: &Fields,
) -> Result<(), DeskError> {
    let tried = Tried::From(from.0);
    let (attempts, now) = (&browser.inner.attempts, browser.now());
    let typed = match attempts.must_wait(&tried, now) {
        true => "",
        false => fields.text("current"),
    };
    let desk = browser.desk();
    let shown = desk.is_really(actor, &session.address(), typed).await;
    if shown.is_err() && !typed.is_empty() {
        noted(Event::WrongPassword, from.0, "");
        attempts.wrong(tried, now);
    }
    shown
}

/// The page again with why something was not done.
async fn refused(
    browser: &Browser,
    signed_in: &SignedIn,
    error: DeskError,
) -> Result<Response, Trouble> {
    let DeskError::NotUnderstood(sentence) = error else {
        return Err(error.into());
    };
    let shown = page(browser, signed_in, Some(sentence)).await?;
    Ok((StatusCode::UNPROCESSABLE_ENTITY, shown).into_response())
}

/// Takes the password away.
pub(super) async fn remove_password(
    State(browser): State<Browser>,
    from: From,
    signed_in: SignedIn,
    Form(fields): Form<Vec<(String, String)>>,
) -> Result<Response, Trouble> {
    let fields = Fields(fields);
    let SignedIn { actor, session } = &signed_in;
    let key = fields.key(session)?;
    let (desk, here) = (browser.desk(), session.address());
    let removed = async {
        is_really(&browser, from, &signed_in, &fields).await?;
        desk.remove_password(key, actor, &here).await
    };
    match removed.await {
        Ok(()) => {
            noted(Event::PasswordChanged, from.0, "");
            Ok(Redirect::to("/ways-in").into_response())
        }
        Err(error) => refused(&browser, &signed_in, error).await,
    }
}

/// Signs out in one other browser, or in all others.
pub(super) async fn end(
    State(browser): State<Browser>,
    SignedIn { actor, session }: SignedIn,
    Form(fields): Form<Vec<(String, String)>>,
) -> Result<Redirect, Trouble> {
    let fields = Fields(fields);
    fields.key(&session)?;
    let desk = browser.desk();
    match fields.text("browser") {
        "all-others" => desk.end_other_sessions(&actor, &session.address()).await?,
        id => {
            let id = id.parse().map_err(|_| Trouble::not_found("browser"))?;
            desk.end_session(&actor, id).await?;
        }
    }
    Ok(Redirect::to("/ways-in"))
}
