//! Other programs: their tokens, and the addresses that are called.

use std::collections::BTreeSet;

use axum::extract::State;
use axum::response::{IntoResponse, Redirect, Response};
use serde::Serialize;
use uuid::Uuid;

use super::Browser;
use super::form::{Fields, Posted, new_token};
use super::page::{Frame, Moment, render};
use super::session::SignedIn;
use super::trouble::Trouble;
use crate::desk::DeskError;
use crate::desk::tokens::{NewToken, TOKEN_DAYS_MAX, TokenLine};
use crate::desk::webhooks::WebhookLine;
use crate::record::around::WebhookEvent;
use crate::record::scope::Scope;

/// How many days a token works unless another number is typed.
const DAYS: u16 = 90;

#[derive(Serialize)]
struct Page {
    token: String,
    tokens: Vec<Token>,
    scopes: Vec<Tick>,
    days: u16,
    days_max: u16,
    webhooks: Vec<Webhook>,
    events: Vec<Tick>,
}

#[derive(Serialize)]
struct Tick {
    word: &'static str,
    label: &'static str,
}

#[derive(Serialize)]
struct Token {
    id: String,
    what_for: String,
    scopes: Vec<&'static str>,
    by: String,
    until: Moment,
    used: Option<Moment>,
    works: bool,
}

#[derive(Serialize)]
struct Webhook {
    id: String,
    url: String,
    events: Vec<&'static str>,
    delivered: Option<Moment>,
    failed: Option<Moment>,
    failed_because: String,
    given_up: Vec<GivenUp>,
}

#[derive(Serialize)]
struct GivenUp {
    call: String,
    job: String,
    event: &'static str,
    at: Moment,
    because: String,
}

#[derive(Serialize)]
struct Secret {
    heading: &'static str,
    secret: String,
    about: String,
}

impl Token {
    fn of(line: TokenLine) -> Token {
        Token {
            id: line.token.to_string(),
            what_for: line.what_for,
            scopes: line.scopes.into_iter().map(Scope::words).collect(),
            by: line.by.name,
            until: Moment::of(line.until),
            used: line.used.map(Moment::of),
            works: line.works,
        }
    }
}

impl Webhook {
    fn of(line: WebhookLine) -> Webhook {
        let given_up = line.given_up.into_iter().map(|call| GivenUp {
            call: call.call,
            job: call.job.to_string(),
            event: in_words(call.event),
            at: Moment::of(call.at),
            because: call.why,
        });
        let (failed, because) = line.failed.unzip();
        Webhook {
            id: line.webhook.to_string(),
            url: line.url,
            events: line.events.into_iter().map(in_words).collect(),
            delivered: line.delivered.map(Moment::of),
            failed: failed.map(Moment::of),
            failed_because: because.unwrap_or_default(),
            given_up: given_up.collect(),
        }
    }
}

fn in_words(event: WebhookEvent) -> &'static str {
    match event {
        WebhookEvent::HandedIn => "A job is handed in",
        WebhookEvent::SentBack => "A job is sent back",
        WebhookEvent::Accepted => "A job is accepted",
        WebhookEvent::LeftLockedOut => "A job is left locked out",
    }
}

/// The tokens and the addresses.
pub(super) async fn show(
    State(browser): State<Browser>,
    SignedIn { actor, session }: SignedIn,
) -> Result<Response, Trouble> {
    let tokens = browser.desk().tokens(&actor).await?;
    let webhooks = browser.desk().webhooks(&actor).await?;
    let page = Page {
        token: new_token(&browser, &session)?,
        tokens: tokens.into_iter().map(Token::of).collect(),
        scopes: Scope::ALL
            .map(|scope| Tick {
                word: scope.word(),
                label: scope.words(),
            })
            .into(),
        days: DAYS,
        days_max: TOKEN_DAYS_MAX,
        webhooks: webhooks.into_iter().map(Webhook::of).collect(),
        events: WebhookEvent::ALL
            .map(|event| Tick {
                word: event.word(),
                label: in_words(event),
            })
            .into(),
    };
    let frame = Frame::of("Other programs", &actor).with_token(&page.token);
    Ok(render("programs.html", &frame, &page))
}

/// Makes a token and shows it, this once.
pub(super) async fn make_token(form: Posted) -> Result<Response, Trouble> {
    let ticked = |scope: &Scope| form.fields.all("scope").any(|word| word == scope.word());
    let new = NewToken {
        what_for: form.fields.text("what-for").to_owned(),
        scopes: Scope::ALL.into_iter().filter(ticked).collect(),
        days: form.fields.text("days").trim().parse().unwrap_or_default(),
    };
    let (token, line) = form
        .browser
        .desk()
        .make_token(form.key, &form.actor, new)
        .await?;
    let page = Secret {
        heading: "A new token",
        secret: token.reveal(),
        about: format!(
            "For “{}”. Copy it now: it is shown only this once. Whoever has it can do what you \
             ticked, in your name. It works as long as you are a supervisor here.",
            line.what_for
        ),
    };
    Ok(render(
        "secret.html",
        &Frame::of("A new token", &form.actor),
        &page,
    ))
}

/// Takes a token back.
pub(super) async fn revoke_token(form: Posted) -> Result<Response, Trouble> {
    let token = number(&form.fields, "id", "token")?;
    form.browser
        .desk()
        .revoke_token(form.key, &form.actor, token)
        .await?;
    Ok(back())
}

/// Has an address called from now on.
pub(super) async fn set_webhook(form: Posted) -> Result<Response, Trouble> {
    let ticked = |event: &WebhookEvent| form.fields.all("event").any(|word| word == event.word());
    let events: BTreeSet<WebhookEvent> = WebhookEvent::ALL.into_iter().filter(ticked).collect();
    let url = form.fields.text("url");
    form.browser
        .desk()
        .set_webhook(form.key, &form.actor, url, &events)
        .await?;
    Ok(back())
}

/// Shows or renews the secret of an address, or calls it no more.
pub(super) async fn change_webhook(form: Posted) -> Result<Response, Trouble> {
    let webhook = number(&form.fields, "id", "webhook")?;
    let desk = form.browser.desk();
    match form.fields.text("do") {
        "secret" => {
            let page = Secret {
                heading: "The secret of an address",
                secret: desk.webhook_secret(&form.actor, webhook).await?,
                about: "The receiver checks with it that a call comes from here. Keep it to \
                        yourselves."
                    .to_owned(),
            };
            let frame = Frame::of("The secret of an address", &form.actor);
            return Ok(render("secret.html", &frame, &page));
        }
        "renew" => {
            desk.renew_webhook_secret(form.key, &form.actor, webhook)
                .await?
        }
        "remove" => desk.remove_webhook(form.key, &form.actor, webhook).await?,
        _ => return Err(not_understood()),
    }
    Ok(back())
}

/// Makes a call that was given up once more.
pub(super) async fn call_again(form: Posted) -> Result<Response, Trouble> {
    let webhook = number(&form.fields, "id", "webhook")?;
    let call = form.fields.text("call");
    form.browser
        .desk()
        .call_again(form.key, &form.actor, webhook, call)
        .await?;
    Ok(back())
}

fn number(fields: &Fields, field: &str, what: &'static str) -> Result<Uuid, Trouble> {
    let number = fields.text(field).parse();
    number.map_err(|_| Trouble::not_found(what))
}

fn not_understood() -> Trouble {
    let sentence = "That is none of the buttons of this page. Open it again and press one there.";
    DeskError::NotUnderstood(sentence.to_owned()).into()
}

fn back() -> Response {
    Redirect::to("/programs").into_response()
}
