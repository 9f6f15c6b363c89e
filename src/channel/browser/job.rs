//! A job's page: its screen for this person, and what they send from it.

use axum::extract::{Form, Path, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use serde::Serialize;

use super::Browser;
use super::form::{Fields, new_token};
use super::hurt;
use super::job_form::{Meant, meant};
use super::job_view::JobView;
use super::page::{Frame, render};
use super::session::SignedIn;
use super::trouble::Trouble;
use crate::desk::Seen;
use crate::desk::id::JobId;
use crate::desk::screen::{Handled, Outcome, Screen};
use crate::flow::model::Role;
use crate::store::InputKey;
use crate::walk::input::Input;
use crate::walk::prompt::{Action, Ask};

/// A form of a job's page that came in.
pub(super) struct Sent {
    /// The job.
    pub(super) job: JobId,
    /// The key of the input.
    pub(super) key: InputKey,
    /// Its fields.
    pub(super) fields: Fields,
}

impl Sent {
    /// The revision of the screen that the form stood on.
    fn revision(&self) -> Result<u64, Trouble> {
        let revision = self.fields.text("revision").parse();
        revision.map_err(|_| Trouble::stale_form())
    }
}

/// The job that an address names. What is no job's number is a job that is not there.
pub(super) fn job_of(text: &str) -> Result<JobId, Trouble> {
    text.parse().map_err(|_| Trouble::not_found("job"))
}

/// The screen.
pub(super) async fn show(
    State(browser): State<Browser>,
    signed_in: SignedIn,
    Path(job): Path<String>,
) -> Result<Response, Trouble> {
    let screen = browser
        .desk()
        .screen(&signed_in.actor, job_of(&job)?)
        .await?;
    page(&browser, &signed_in, &screen, Told::default()).await
}

/// Whoever asks again for the address that took a photo is shown the job.
pub(super) async fn back_to_it(Path(job): Path<String>) -> Result<Redirect, Trouble> {
    Ok(Redirect::to(&format!("/job/{}", job_of(&job)?)))
}

/// What a page says besides the screen.
#[derive(Default)]
struct Told {
    /// Why nothing changed.
    sentence: Option<String>,
    /// What the person had typed.
    typed: String,
}

async fn page(
    browser: &Browser,
    signed_in: &SignedIn,
    screen: &Screen,
    told: Told,
) -> Result<Response, Trouble> {
    let mut view = JobView::of(screen, &signed_in.actor, browser.now());
    view.token = new_token(browser, &signed_in.session)?;
    view.sentence = told.sentence;
    view.typed = told.typed;
    if signed_in.actor.is(Role::Supervisor) {
        let locks = browser.desk().locks_of_others(&signed_in.actor, screen.job);
        view.takes_lock_off = !locks.await?.is_empty();
    }
    let again_after = match &screen.prompt.ask {
        Ask::Wait { until } => {
            let seconds = until.as_second() - browser.now().as_second();
            Some(seconds.clamp(1, 60))
        }
        Ask::WaitFor { .. } => Some(30),
        _ => None,
    };
    let frame = Frame::of(&screen.prompt.title, &signed_in.actor)
        .with_news(format!("/job/{}/news", screen.job))
        .with_token(&view.token)
        .again_after(again_after)
        .with_own_bar();
    Ok(render("job.html", &frame, &view))
}

/// An answer, or whatever else a person may do on the screen.
pub(super) async fn answer(
    State(browser): State<Browser>,
    signed_in: Result<SignedIn, Trouble>,
    Path(job): Path<String>,
    Form(fields): Form<Vec<(String, String)>>,
) -> Result<Response, Trouble> {
    let fields = Fields(fields);
    if fields.get("do") == Some("hurt") {
        // Whatever goes wrong with telling others, the person reads what to do.
        return Ok(emergency(&browser, signed_in, &job, fields).await);
    }
    let signed_in = signed_in?;
    let job = job_of(&job)?;
    let sent = Sent {
        key: fields.key(&signed_in.session)?,
        job,
        fields,
    };
    match meant(&sent.fields, sent.revision()?) {
        Some(Meant::Input(input)) => handled(&browser, &signed_in, sent, input).await,
        Some(Meant::Accept) => {
            let remark = sent.fields.text("remark").to_owned();
            handled(&browser, &signed_in, sent, Input::Accept { remark }).await
        }
        Some(Meant::SendBack) => {
            let remark = sent.fields.text("remark").to_owned();
            let steps = Vec::new();
            handled(
                &browser,
                &signed_in,
                sent,
                Input::SendBack { remark, steps },
            )
            .await
        }
        Some(Meant::Row(decision)) => {
            let desk = browser.desk();
            let handled = desk
                .decide_row(sent.key.clone(), &signed_in.actor, job, decision)
                .await?;
            became(&browser, &signed_in, (&sent, handled)).await
        }
        Some(Meant::ChoosePerson) => {
            Ok(Redirect::to(&format!("/job/{job}/hand-over")).into_response())
        }
        None => {
            let sentence = "Choose one of the answers, then send it.".to_owned();
            again(&browser, &signed_in, &sent, sentence).await
        }
    }
}

/// The emergency page at once: not even a way there may get lost.
async fn emergency(
    browser: &Browser,
    signed_in: Result<SignedIn, Trouble>,
    job: &str,
    fields: Fields,
) -> Response {
    let told = tell_of_emergency(browser, signed_in, job, &fields).await;
    hurt::page(job_of(job).ok(), told.unwrap_or(false))
}

/// Tells the others; whether there is anybody who is told.
async fn tell_of_emergency(
    browser: &Browser,
    signed_in: Result<SignedIn, Trouble>,
    job: &str,
    fields: &Fields,
) -> Result<bool, Trouble> {
    let SignedIn { actor, session } = signed_in?;
    let key = beside(&fields.key(&session)?, fields);
    let (desk, job) = (browser.desk(), job_of(job)?);
    let handled = desk.handle(key, &actor, job, Input::Emergency).await?;
    if let Outcome::Refused(_) = handled.outcome {
        return Ok(false);
    }
    Ok(!desk.colleagues(&actor).await?.is_empty())
}

/// Hands an input to the desk and shows what became of it.
pub(super) async fn handled(
    browser: &Browser,
    signed_in: &SignedIn,
    sent: Sent,
    input: Input,
) -> Result<Response, Trouble> {
    let Sent { job, ref key, .. } = sent;
    let desk = browser.desk();
    let (key, seen) = match counts_on_any_screen(&input) {
        true => (beside(key, &sent.fields), Seen::Anything),
        false => (key.clone(), Seen::Screen(sent.revision()?)),
    };
    let handled = desk.handle_seen(key, &signed_in.actor, job, (seen, input));
    let handled = handled.await?;
    became(browser, signed_in, (&sent, handled)).await
}

/// What became of a form.
async fn became(
    browser: &Browser,
    signed_in: &SignedIn,
    (sent, handled): (&Sent, Handled),
) -> Result<Response, Trouble> {
    match handled.outcome {
        Outcome::Advanced | Outcome::AlreadyHandled => {
            Ok(Redirect::to(&format!("/job/{}", sent.job)).into_response())
        }
        Outcome::Refused(sentence) => {
            refused(browser, signed_in, &handled.screen, (sent, sentence)).await
        }
    }
}

/// The key of what counts on any screen. All forms of a page have one token, and this counts beside
/// an answer from the same page that may still be under way.
fn beside(key: &InputKey, fields: &Fields) -> InputKey {
    InputKey(format!("{}:{}", key.0, fields.text("do")))
}

/// Whether the person means it whatever the job did since their page was made.
fn counts_on_any_screen(input: &Input) -> bool {
    matches!(
        input,
        Input::Stop
            | Input::Emergency
            | Input::CallSupervisor
            | Input::Pause
            | Input::AmWell
            | Input::AmOut
            | Input::FoundWell
            | Input::HangOwnLock
            | Input::TakeOwnLockOff
    )
}

/// The screen as it stands, with a sentence; what was typed is not lost.
pub(super) async fn again(
    browser: &Browser,
    signed_in: &SignedIn,
    sent: &Sent,
    sentence: String,
) -> Result<Response, Trouble> {
    let screen = browser.desk().screen(&signed_in.actor, sent.job).await?;
    refused(browser, signed_in, &screen, (sent, sentence)).await
}

async fn refused(
    browser: &Browser,
    signed_in: &SignedIn,
    screen: &Screen,
    (sent, sentence): (&Sent, String),
) -> Result<Response, Trouble> {
    let typed = sent.fields.get("text").or(sent.fields.get("remark"));
    let told = Told {
        sentence: Some(sentence),
        typed: typed.unwrap_or_default().to_owned(),
    };
    let shown = page(browser, signed_in, screen, told).await?;
    Ok((StatusCode::UNPROCESSABLE_ENTITY, shown).into_response())
}

#[derive(Serialize)]
struct HandOver {
    token: String,
    revision: u64,
    job: String,
    evaporator: String,
    people: Vec<Colleague>,
}

#[derive(Serialize)]
struct Colleague {
    id: String,
    name: String,
    roles: String,
}

/// Asks to whom the job goes.
pub(super) async fn choose_person(
    State(browser): State<Browser>,
    SignedIn { actor, session }: SignedIn,
    Path(job): Path<String>,
) -> Result<Response, Trouble> {
    let screen = browser.desk().screen(&actor, job_of(&job)?).await?;
    if !screen.prompt.actions.contains(&Action::HandOver) {
        return Ok(Redirect::to(&format!("/job/{}", screen.job)).into_response());
    }
    let people = browser.desk().colleagues(&actor).await?;
    let page = HandOver {
        token: new_token(&browser, &session)?,
        revision: screen.prompt.revision,
        job: screen.job.to_string(),
        evaporator: screen.evaporator.line(),
        people: people
            .into_iter()
            .map(|line| Colleague {
                id: line.person.0.to_string(),
                roles: super::people::roles_in_words(&line.roles),
                name: line.name,
            })
            .collect(),
    };
    let frame = Frame::of("Hand the job over", &actor).with_token(&page.token);
    Ok(render("hand-over.html", &frame, &page))
}
