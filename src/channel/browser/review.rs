//! A job to review: everything that happened, and the two decisions.

use axum::extract::{Form, Path, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use serde::Serialize;

use super::Browser;
use super::form::{Fields, new_token};
use super::job::job_of;
use super::page::{Frame, Moment, render};
use super::session::SignedIn;
use super::trouble::Trouble;
use crate::desk::Seen;
use crate::desk::id::JobId;
use crate::desk::review::{Reviewed, WaitsAt};
use crate::desk::screen::{Outcome, Phase};
use crate::flow::model::Role;
use crate::record::step_ref::StepRef;
use crate::report::checklist::Weight;
use crate::report::checklist::review::{Item, Part, Review};
use crate::walk::input::Input;

/// A page with what the template needs beside the sheet itself.
#[derive(Serialize)]
struct Page {
    id: String,
    token: String,
    revision: u64,
    phase: Phase,
    sheet: Review,
    sections: Vec<Section>,
    began: Moment,
    last: Moment,
    /// What is to be looked at twice, on top.
    twice: Vec<Twice>,
    may_decide: bool,
    is_own: bool,
    waits: Option<Waits>,
    sentence: Option<String>,
    remark: String,
}

/// The hold point that an open job waits at.
#[derive(Serialize)]
struct Waits {
    /// Who must release it.
    who: String,
    since: Moment,
}

impl Waits {
    fn of(waits: WaitsAt) -> Waits {
        let roles: Vec<&str> = waits.roles.into_iter().map(Role::with_article).collect();
        Waits {
            who: roles.join(" or "),
            since: Moment::of(waits.since),
        }
    }
}

#[derive(Serialize)]
struct Section {
    title: String,
    warnings: usize,
    items: Vec<Shown>,
}

#[derive(Serialize)]
struct Shown {
    #[serde(flatten)]
    item: Item,
    ticked: bool,
    label: String,
}

#[derive(Serialize)]
struct Twice {
    seq: u64,
    said: String,
}

/// What the reviewer had filled in when a decision was refused.
#[derive(Default)]
struct Filled {
    sentence: Option<String>,
    remark: String,
    ticked: Vec<StepRef>,
}

/// The job to review.
pub(super) async fn show(
    State(browser): State<Browser>,
    signed_in: SignedIn,
    Path(job): Path<String>,
) -> Result<Response, Trouble> {
    page(&browser, &signed_in, job_of(&job)?, Filled::default()).await
}

/// A decision.
pub(super) async fn decide(
    State(browser): State<Browser>,
    signed_in: SignedIn,
    Path(job): Path<String>,
    Form(fields): Form<Vec<(String, String)>>,
) -> Result<Response, Trouble> {
    let fields = Fields(fields);
    let key = fields.key(&signed_in.session)?;
    let job = job_of(&job)?;
    let revision = fields.text("revision").parse();
    let revision: u64 = revision.map_err(|_| Trouble::stale_form())?;
    let ticked = fields.all("step").map(str::parse).collect();
    let ticked: Vec<StepRef> = Result::map_err(ticked, |_| Trouble::stale_form())?;
    let filled = |sentence: String| Filled {
        sentence: Some(sentence),
        remark: fields.text("remark").to_owned(),
        ticked: ticked.clone(),
    };
    let input = match meant(&fields, &ticked) {
        Ok(input) => input,
        Err(sentence) => {
            let page = page(&browser, &signed_in, job, filled(sentence.to_owned())).await?;
            return Ok((StatusCode::UNPROCESSABLE_ENTITY, page).into_response());
        }
    };
    let desk = browser.desk();
    let seen = (Seen::Screen(revision), input);
    let handled = desk.handle_seen(key, &signed_in.actor, job, seen).await?;
    match handled.outcome {
        Outcome::Advanced | Outcome::AlreadyHandled => {
            Ok(Redirect::to(&format!("/job/{job}/review")).into_response())
        }
        Outcome::Refused(sentence) => {
            let page = page(&browser, &signed_in, job, filled(sentence)).await?;
            Ok((StatusCode::UNPROCESSABLE_ENTITY, page).into_response())
        }
    }
}

/// What the pressed button means. Ticks and an acceptance contradict each other.
fn meant(fields: &Fields, ticked: &[StepRef]) -> Result<Input, &'static str> {
    let remark = fields.text("remark").trim().replace("\r\n", "\n");
    match (fields.get("do"), ticked.is_empty()) {
        (Some("accept"), true) => Ok(Input::Accept { remark }),
        (Some("accept"), false) => {
            Err("Steps are ticked to be done again. Send them back, or untick them to accept.")
        }
        (Some("send-back"), true) => Err("Tick the steps that are to be done again."),
        (Some("send-back"), false) => Ok(Input::SendBack {
            remark,
            steps: ticked.to_vec(),
        }),
        _ => Err("Press one of the two decisions."),
    }
}

async fn page(
    browser: &Browser,
    SignedIn { actor, session }: &SignedIn,
    job: JobId,
    filled: Filled,
) -> Result<Response, Trouble> {
    let Reviewed {
        revision,
        phase,
        sheet: mut review,
        may_decide,
        is_own,
        waits,
    } = browser.desk().review(actor, job).await?;
    let sections = std::mem::take(&mut review.sections);
    let page = Page {
        id: job.to_string(),
        token: new_token(browser, session)?,
        revision,
        phase,
        began: Moment::of(review.began),
        last: Moment::of(review.last),
        twice: twice(&sections),
        sheet: review,
        sections: sections
            .into_iter()
            .map(|part| section(part, &filled.ticked))
            .collect(),
        may_decide,
        is_own,
        waits: waits.map(Waits::of),
        sentence: filled.sentence,
        remark: filled.remark,
    };
    let frame = Frame::of("Review", actor)
        .with_token(&page.token)
        .with_news(format!("/job/{job}/review/news"));
    Ok(render("review.html", &frame, &page))
}

fn section(part: Part, ticked: &[StepRef]) -> Section {
    let shown = |item: Item| Shown {
        ticked: item.step.as_ref().is_some_and(|step| ticked.contains(step)),
        label: item
            .line
            .asked
            .clone()
            .unwrap_or_else(|| item.line.said.clone()),
        item,
    };
    Section {
        title: part.title,
        warnings: part.warnings,
        items: part.items.into_iter().map(shown).collect(),
    }
}

fn twice(parts: &[Part]) -> Vec<Twice> {
    let items = parts.iter().flat_map(|part| &part.items);
    let warned = items.filter(|item| item.line.weight == Weight::Warning);
    let told = |item: &Item| Twice {
        seq: item.seq,
        said: match &item.line.asked {
            Some(asked) => format!("{asked} {}", item.line.said),
            None => item.line.said.clone(),
        },
    };
    warned.map(told).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ticks_and_an_acceptance_contradict_each_other() {
        let fields = |word: &str| Fields(vec![("do".to_owned(), word.to_owned())]);
        let step: StepRef = "mount/1/drip_loop".parse().unwrap();
        let ticked = [step];
        assert!(meant(&fields("accept"), &[]).is_ok());
        assert!(meant(&fields("accept"), &ticked).is_err());
        assert!(meant(&fields("send-back"), &[]).is_err());
        assert!(meant(&fields("send-back"), &ticked).is_ok());
        assert!(meant(&fields("dance"), &[]).is_err());
    }
}
