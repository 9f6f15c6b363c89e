//! A supervisor takes off the lock of somebody who is away: the three conditions of
//! 29 CFR 1910.147(e)(3), confirmed one by one, each on a screen of its own.

use axum::extract::{Form, Path, State};
use axum::response::{IntoResponse, Redirect, Response};
use serde::Serialize;

use super::Browser;
use super::form::{Fields, new_token};
use super::job::{Sent, handled, job_of};
use super::page::{Frame, render};
use super::session::SignedIn;
use super::trouble::Trouble;
use crate::channel::lock_conditions::{CONDITIONS, Condition};
use crate::desk::locks::LockLine;
use crate::walk::input::Input;

#[derive(Serialize)]
struct Page {
    token: String,
    revision: u64,
    job: String,
    evaporator: String,
    /// The locks to choose from, while none is chosen.
    locks: Vec<Lock>,
    /// The lock and the condition at hand.
    at_hand: Option<AtHand>,
}

#[derive(Serialize)]
struct Lock {
    /// Source and owner, as the form sends them back.
    value: String,
    label: String,
}

#[derive(Serialize)]
struct AtHand {
    lock: Lock,
    confirmed: Vec<&'static str>,
    word: &'static str,
    step: usize,
    of: usize,
    say: String,
    confirm: String,
    cite: &'static str,
}

impl Lock {
    fn of(line: &LockLine) -> Lock {
        Lock {
            value: format!("{} {}", line.source, line.owner.person.0),
            label: format!("{}’s lock on: {}", line.owner.name, line.label),
        }
    }
}

/// The locks that may come off, or the first condition if there is only one.
pub(super) async fn show(
    State(browser): State<Browser>,
    signed_in: SignedIn,
    Path(job): Path<String>,
) -> Result<Response, Trouble> {
    page(&browser, &signed_in, &job, &Fields::default()).await
}

/// One more condition is confirmed; after the last one the lock comes off.
pub(super) async fn confirm(
    State(browser): State<Browser>,
    signed_in: SignedIn,
    Path(job): Path<String>,
    Form(fields): Form<Vec<(String, String)>>,
) -> Result<Response, Trouble> {
    let fields = Fields(fields);
    let key = fields.key(&signed_in.session)?;
    let confirmed = |word: &str| fields.all("confirmed").any(|other| other == word);
    if !CONDITIONS.iter().all(|condition| confirmed(condition.word)) {
        return page(&browser, &signed_in, &job, &fields).await;
    }
    let job = job_of(&job)?;
    let locks = browser
        .desk()
        .locks_of_others(&signed_in.actor, job)
        .await?;
    let Some(line) = chosen(&locks, &fields) else {
        return Ok(Redirect::to(&format!("/job/{job}")).into_response());
    };
    let input = Input::TakeLockOff {
        source: line.source.clone(),
        owner: line.owner.person,
        not_here: confirmed("not_here"),
        tried_to_reach: confirmed("tried_to_reach"),
        will_know: confirmed("will_know"),
    };
    handled(&browser, &signed_in, Sent { job, key, fields }, input).await
}

/// The lock that a form names, or the only one.
fn chosen<'l>(locks: &'l [LockLine], fields: &Fields) -> Option<&'l LockLine> {
    match fields.get("lock") {
        Some(value) => locks.iter().find(|line| Lock::of(line).value == value),
        None if locks.len() == 1 => locks.first(),
        None => None,
    }
}

async fn page(
    browser: &Browser,
    signed_in: &SignedIn,
    job: &str,
    fields: &Fields,
) -> Result<Response, Trouble> {
    let SignedIn { actor, session } = signed_in;
    let job = job_of(job)?;
    let locks = browser.desk().locks_of_others(actor, job).await?;
    let screen = browser.desk().screen(actor, job).await?;
    if locks.is_empty() {
        return Ok(Redirect::to(&format!("/job/{job}")).into_response());
    }
    // The job that was looked at is the job that is changed: the first page says which state.
    let revision = fields.text("revision").parse();
    let at_hand = chosen(&locks, fields).and_then(|line| at_hand(line, fields));
    let page = Page {
        token: new_token(browser, session)?,
        revision: revision.unwrap_or(screen.prompt.revision),
        job: job.to_string(),
        evaporator: screen.evaporator.line(),
        locks: match at_hand {
            Some(_) => Vec::new(),
            None => locks.iter().map(Lock::of).collect(),
        },
        at_hand,
    };
    let frame = Frame::of("The lock of somebody who is away", actor).with_token(&page.token);
    Ok(render("lock-off.html", &frame, &page))
}

fn at_hand(line: &LockLine, fields: &Fields) -> Option<AtHand> {
    let is_confirmed =
        |condition: &&Condition| fields.all("confirmed").any(|word| word == condition.word);
    let next = CONDITIONS
        .iter()
        .position(|condition| !is_confirmed(&condition))?;
    let condition = &CONDITIONS[next];
    let named = |text: &str| text.replace("{name}", &line.owner.name);
    Some(AtHand {
        lock: Lock::of(line),
        confirmed: CONDITIONS
            .iter()
            .filter(is_confirmed)
            .map(|condition| condition.word)
            .collect(),
        word: condition.word,
        step: next + 1,
        of: CONDITIONS.len(),
        say: named(condition.say),
        confirm: named(condition.confirm),
        cite: condition.cite,
    })
}
