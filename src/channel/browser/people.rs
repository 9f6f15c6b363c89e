//! The people of the crew: roles, and codes to join or sign in with.

use std::collections::BTreeSet;

use axum::extract::{Form, State};
use axum::response::{IntoResponse, Redirect, Response};
use serde::Serialize;

use super::Browser;
use super::form::{Fields, Posted, new_token};
use super::limits::From;
use super::page::{Frame, Moment, render};
use super::session::SignedIn;
use super::sign_offs::{Shown, ShownByAll};
use super::trouble::Trouble;
use super::ways_in::is_really;
use crate::channel::lines::role_label;
use crate::desk::Actor;
use crate::desk::DeskError;
use crate::desk::invitations::Invitation;
use crate::desk::open_codes::OpenCode;
use crate::flow::model::Role;
use crate::record::chain::Hash;
use crate::record::person::PersonId;
use crate::walk::context::Way;

#[derive(Serialize)]
struct Page {
    token: String,
    people: Vec<Person>,
    /// Those who left and whose names are still kept; for supervisors.
    left: Vec<Left>,
    supervises: bool,
    roles: Vec<RoleBox>,
    /// Codes that nobody used yet; for supervisors.
    codes: Vec<Code>,
    /// In which ways the person may be asked; none where there is no choice.
    ways: Vec<WayBox>,
    /// Whether anybody has shown something, or the flows want something shown.
    shows: bool,
}

#[derive(Serialize)]
struct WayBox {
    word: &'static str,
    label: &'static str,
    is_chosen: bool,
}

#[derive(Serialize)]
struct Code {
    id: String,
    roles: String,
    until: Moment,
    by: String,
}

#[derive(Serialize)]
struct Person {
    id: String,
    name: String,
    is_me: bool,
    roles: String,
    boxes: Vec<RoleBox>,
    shown: Shown,
}

#[derive(Serialize)]
struct Left {
    id: String,
    name: String,
}

#[derive(Serialize)]
struct RoleBox {
    word: &'static str,
    label: &'static str,
    has: bool,
}

#[derive(Serialize)]
struct CodePage {
    code: String,
    path: String,
    until: Moment,
    what_for: String,
}

/// `technician, supervisor`.
pub(super) fn roles_in_words(roles: &BTreeSet<Role>) -> String {
    let words: Vec<&str> = Role::ALL
        .into_iter()
        .filter(|role| roles.contains(role))
        .map(Role::word)
        .collect();
    words.join(", ")
}

fn boxes(roles: &BTreeSet<Role>) -> Vec<RoleBox> {
    let role_box = |role: Role| RoleBox {
        word: role.word(),
        label: role_label(role),
        has: roles.contains(&role),
    };
    Role::ALL.into_iter().map(role_box).collect()
}

fn ticked(fields: &Fields) -> BTreeSet<Role> {
    let is_ticked = |role: &Role| fields.all("role").any(|text| text == role.word());
    Role::ALL.into_iter().filter(is_ticked).collect()
}

/// Everybody of the crew.
pub(super) async fn show(
    State(browser): State<Browser>,
    SignedIn { actor, session }: SignedIn,
) -> Result<Response, Trouble> {
    let people = browser.desk().people(&actor).await?;
    let supervises = actor.is(Role::Supervisor);
    let (codes, left) = match supervises {
        true => (
            browser.desk().open_codes(&actor).await?,
            browser.desk().who_left(&actor).await?,
        ),
        false => (Vec::new(), Vec::new()),
    };
    let shown = ShownByAll::of(&browser, &actor).await?;
    let chosen = browser.desk().way(&actor).await?;
    let ways = Way::ALL.into_iter();
    let ways = ways.filter(|_| !actor.is(Role::Apprentice));
    let page = Page {
        ways: ways
            .map(|way| WayBox {
                word: way.word(),
                label: way.words(),
                is_chosen: way == chosen,
            })
            .collect(),
        shows: shown.is_wanted(),
        codes: codes.into_iter().map(code).collect(),
        left: left
            .into_iter()
            .map(|left| Left {
                id: left.person.0.to_string(),
                name: left.name,
            })
            .collect(),
        token: new_token(&browser, &session)?,
        people: people
            .into_iter()
            .map(|line| Person {
                id: line.person.0.to_string(),
                is_me: line.person == actor.person,
                shown: shown.by(line.person, &actor),
                name: line.name,
                roles: roles_in_words(&line.roles),
                boxes: boxes(&line.roles),
            })
            .collect(),
        supervises,
        roles: boxes(&BTreeSet::from([Role::Technician])),
    };
    let frame = Frame::of("People", &actor).with_token(&page.token);
    Ok(render("people.html", &frame, &page))
}

fn code(open: OpenCode) -> Code {
    Code {
        id: open.code.to_string(),
        roles: roles_in_words(&open.roles),
        until: Moment::of(open.until),
        by: open.by.map_or("the operator".to_owned(), |by| by.name),
    }
}

/// Asks the person in another way from then on.
pub(super) async fn set_way(form: Posted) -> Result<Response, Trouble> {
    let mut ways = Way::ALL.into_iter();
    let way = ways.find(|way| way.word() == form.fields.text("way"));
    let way =
        way.ok_or_else(|| DeskError::NotUnderstood("Pick one of the two ways.".to_owned()))?;
    form.browser.desk().set_way(&form.actor, way).await?;
    Ok(Redirect::to("/people").into_response())
}

/// A code that was given out stops working.
pub(super) async fn withdraw(form: Posted) -> Result<Response, Trouble> {
    // What is no hash is the hash of no code.
    let code = form.fields.text("code").parse().unwrap_or(Hash::NONE);
    form.browser
        .desk()
        .withdraw_code(form.key, &form.actor, code)
        .await?;
    Ok(Redirect::to("/people").into_response())
}

/// A code to join the crew, shown once.
pub(super) async fn invite(form: Posted) -> Result<Response, Trouble> {
    let roles = ticked(&form.fields);
    let words = roles_in_words(&roles);
    let invitation = form.browser.desk().invite(&form.actor, roles).await?;
    let what_for = format!("For one new person of your crew: {words}.");
    Ok(code_page(&form.actor, &invitation, what_for))
}

/// A code with which the person signs in at another device or chat.
pub(super) async fn sign_in_code(
    State(browser): State<Browser>,
    from: From,
    signed_in: SignedIn,
    Form(fields): Form<Vec<(String, String)>>,
) -> Result<Response, Trouble> {
    let fields = Fields(fields);
    fields.key(&signed_in.session)?;
    is_really(&browser, from, &signed_in, &fields).await?;
    let actor = &signed_in.actor;
    let invitation = browser.desk().sign_in_code(actor).await?;
    let what_for = "For yourself, on another phone or in a chat.".to_owned();
    Ok(code_page(actor, &invitation, what_for))
}

fn code_page(actor: &Actor, invitation: &Invitation, what_for: String) -> Response {
    let code = invitation.code.reveal().to_owned();
    let page = CodePage {
        path: format!("/join/{code}"),
        until: Moment::of(invitation.until),
        what_for,
        code,
    };
    render("code.html", &Frame::of("A one-time code", actor), &page)
}

fn person(fields: &Fields) -> Result<PersonId, Trouble> {
    let person = fields.text("person").parse().map(PersonId);
    person.map_err(|_| Trouble::not_found("person"))
}

/// Erases the name of a person.
pub(super) async fn erase_name(form: Posted) -> Result<Response, Trouble> {
    let person = person(&form.fields)?;
    form.browser.desk().erase_name(&form.actor, person).await?;
    Ok(Redirect::to("/people").into_response())
}

/// Gives a person of the crew exactly the ticked roles.
pub(super) async fn set_roles(form: Posted) -> Result<Response, Trouble> {
    let person = person(&form.fields)?;
    let roles = ticked(&form.fields);
    if roles.is_empty() && form.fields.get("leaves").is_none() {
        return Err(DeskError::NotUnderstood(
            "Everybody of the crew has a role. Tick one, or press “Take off the crew” if that is \
             meant."
                .to_owned(),
        )
        .into());
    }
    let (desk, actor) = (form.browser.desk(), &form.actor);
    if form.fields.get("leaves").is_some() {
        desk.set_roles(form.key, actor, person, BTreeSet::new())
            .await?;
    } else {
        let shown = form.fields.get("shown").ok_or_else(Trouble::stale_form)?;
        let is_shown = |role: &Role| shown.split(", ").any(|word| word == role.word());
        let shown = Role::ALL.into_iter().filter(is_shown).collect();
        desk.change_roles(form.key, actor, person, (shown, roles))
            .await?;
    }
    Ok(Redirect::to("/people").into_response())
}
