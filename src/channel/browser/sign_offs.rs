//! What people have shown: signed for, and taken back.

use axum::response::{IntoResponse, Redirect, Response};
use serde::Serialize;

use super::Browser;
use super::form::{Fields, Posted};
use super::page::Moment;
use super::trouble::Trouble;
use crate::desk::Actor;
use crate::desk::competence::{CompetenceLine, Lasts, SignOffLine};
use crate::flow::model::Role;
use crate::flow::name::CompetenceName;
use crate::record::person::PersonId;

/// What the list of people says of one person's sign-offs.
#[derive(Serialize)]
pub(super) struct Shown {
    lines: Vec<Line>,
    /// What can be signed for; nothing for the person's own eyes.
    may_sign: Vec<Choice>,
    lasts: Vec<Choice>,
}

#[derive(Serialize)]
struct Line {
    name: String,
    label: String,
    by: String,
    at: Moment,
    until: Option<Moment>,
    counts: bool,
}

#[derive(Serialize)]
struct Choice {
    value: String,
    label: String,
}

/// What everybody of the crew has shown, for a page that shows them.
pub(super) struct ShownByAll {
    known: Vec<CompetenceLine>,
    signed: Vec<SignOffLine>,
}

impl ShownByAll {
    pub(super) async fn of(browser: &Browser, actor: &Actor) -> Result<ShownByAll, Trouble> {
        Ok(ShownByAll {
            known: browser.desk().competences(actor).await?,
            signed: browser.desk().sign_offs(actor).await?,
        })
    }

    /// Whether there is anything to say at all.
    pub(super) fn is_wanted(&self) -> bool {
        !self.known.is_empty() || !self.signed.is_empty()
    }

    /// What this person has shown, as the actor sees it.
    pub(super) fn by(&self, person: PersonId, actor: &Actor) -> Shown {
        let of_person = self.signed.iter().filter(|line| line.person == person);
        let lines: Vec<Line> = of_person.map(Line::of).collect();
        let signs = actor.is(Role::Supervisor) && person != actor.person;
        let known = self.known.iter().filter(|_| signs);
        let lasts = Lasts::ALL.into_iter().map(|lasts| Choice {
            value: lasts.word().to_owned(),
            label: lasts.words().to_owned(),
        });
        Shown {
            lines,
            may_sign: known
                .map(|line| Choice {
                    value: line.name.to_string(),
                    label: line.label.clone(),
                })
                .collect(),
            lasts: lasts.collect(),
        }
    }
}

impl Line {
    fn of(line: &SignOffLine) -> Line {
        Line {
            name: line.name.to_string(),
            label: line.label.clone(),
            by: line.by.name.clone(),
            at: Moment::of(line.at),
            until: line.until.map(Moment::of),
            counts: line.counts,
        }
    }
}

/// Signs that a person has shown something.
pub(super) async fn sign(form: Posted) -> Result<Response, Trouble> {
    let lasts = Lasts::ALL.into_iter();
    let mut lasts = lasts.filter(|lasts| lasts.word() == form.fields.text("lasts"));
    let lasts = lasts.next().unwrap_or(Lasts::OneYear);
    let (person, competence) = of_whom(&form.fields)?;
    let desk = form.browser.desk();
    desk.sign_off(form.key, &form.actor, (person, &competence), lasts)
        .await?;
    Ok(Redirect::to("/people").into_response())
}

/// Takes a sign-off back.
pub(super) async fn withdraw(form: Posted) -> Result<Response, Trouble> {
    let (person, competence) = of_whom(&form.fields)?;
    let desk = form.browser.desk();
    desk.withdraw_sign_off(form.key, &form.actor, (person, &competence))
        .await?;
    Ok(Redirect::to("/people").into_response())
}

fn of_whom(fields: &Fields) -> Result<(PersonId, CompetenceName), Trouble> {
    let person = fields.text("person").parse().map(PersonId);
    let person = person.map_err(|_| Trouble::not_found("person"))?;
    Ok((person, CompetenceName::from(fields.text("competence"))))
}
