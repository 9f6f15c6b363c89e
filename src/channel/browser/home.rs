//! The first page: news for the person, their jobs, the crew's jobs.

use axum::extract::{Form, Query, State};
use axum::response::{Redirect, Response};
use jiff::Timestamp;
use serde::{Deserialize, Serialize};

use super::Browser;
use super::form::{Fields, new_token};
use super::page::{Frame, render};
use super::session::SignedIn;
use super::trouble::Trouble;
use crate::desk::Actor;
use crate::desk::screen::{JobLine, Offer, Phase};
use crate::flow::model::Role;

#[derive(Serialize)]
struct Home {
    token: String,
    news: Vec<News>,
    mine: Vec<JobCard>,
    crew: Vec<JobCard>,
    review: Vec<JobCard>,
    reviews: bool,
}

#[derive(Serialize)]
struct News {
    key: String,
    at: String,
    sentence: String,
    job: String,
}

#[derive(Serialize)]
struct Finished {
    jobs: Vec<JobCard>,
    next: Option<String>,
}

/// One job in a list.
#[derive(Serialize)]
pub(super) struct JobCard {
    id: String,
    evaporator: String,
    title: String,
    holder: String,
    phase: Phase,
    phase_words: String,
    outcome: Option<String>,
    training: bool,
    last: String,
    /// What this viewer should know about it.
    remark: Option<&'static str>,
}

impl JobCard {
    pub(super) fn of(line: JobLine, actor: &Actor) -> JobCard {
        let remark = match line.offered {
            Some(Offer::Anybody) => Some("Offered to anybody of the crew"),
            Some(Offer::One(person)) if person == actor.person => Some("Offered to you"),
            Some(Offer::One(_)) => Some("Offered to somebody"),
            None if line.nobody_to_review => Some("Nobody to review it"),
            None => None,
        };
        JobCard {
            id: line.job.to_string(),
            evaporator: line.evaporator.line(),
            title: line.title,
            holder: if line.holder.person == actor.person {
                "you".to_owned()
            } else {
                line.holder.name
            },
            phase: line.phase,
            phase_words: line.phase.words().to_owned(),
            outcome: line.outcome,
            training: line.training,
            last: when(line.last),
            remark,
        }
    }
}

/// A time as lists show it.
pub(super) fn when(at: Timestamp) -> String {
    at.strftime("%Y-%m-%d %H:%M UTC").to_string()
}

/// The first page.
pub(super) async fn show(
    State(browser): State<Browser>,
    SignedIn { actor, session }: SignedIn,
) -> Result<Response, Trouble> {
    let desk = browser.desk();
    let reviews = actor.is(Role::Supervisor);
    let mine = desk.my_jobs(&actor).await?;
    let crew = desk.open_jobs(&actor).await?;
    let review = if reviews {
        desk.jobs_to_review(&actor).await?
    } else {
        Vec::new()
    };
    let news = desk.inbox(&actor).await?;
    let card = |line: JobLine| JobCard::of(line, &actor);
    let is_mine = |line: &JobLine| line.holder.person == actor.person;
    let page = Home {
        token: new_token(&browser, &session)?,
        news: news
            .into_iter()
            .rev()
            .map(|item| News {
                key: item.key,
                at: when(item.at),
                sentence: item.notice.sentence,
                job: item.notice.job.to_string(),
            })
            .collect(),
        crew: crew
            .into_iter()
            .filter(|line| !is_mine(line))
            .map(card)
            .collect(),
        mine: mine.into_iter().map(card).collect(),
        review: review.into_iter().map(card).collect(),
        reviews,
    };
    let frame = Frame::of("Your jobs", &actor)
        .with_news("/news".to_owned())
        .with_token(&page.token);
    Ok(render("home.html", &frame, &page))
}

/// News that were read leave the list.
pub(super) async fn seen(
    State(browser): State<Browser>,
    SignedIn { actor, session }: SignedIn,
    Form(fields): Form<Vec<(String, String)>>,
) -> Result<Redirect, Trouble> {
    let fields = Fields(fields);
    fields.key(&session)?;
    let keys: Vec<String> = fields.all("news").map(str::to_owned).collect();
    browser.desk().seen(&actor, &keys).await?;
    Ok(Redirect::to("/"))
}

/// Where a list goes on.
#[derive(Deserialize)]
pub(super) struct After {
    after: Option<String>,
}

/// The finished jobs of the crew, a page at a time.
pub(super) async fn finished(
    State(browser): State<Browser>,
    SignedIn { actor, session }: SignedIn,
    Query(After { after }): Query<After>,
) -> Result<Response, Trouble> {
    let after = after.map(|text| text.parse()).transpose();
    let after = after.map_err(|error| Trouble::from(crate::desk::DeskError::from(error)))?;
    let jobs = browser.desk().finished_jobs(&actor, after).await?;
    let page = Finished {
        next: jobs.next.map(|cursor| cursor.to_string()),
        jobs: jobs
            .items
            .into_iter()
            .map(|line| JobCard::of(line, &actor))
            .collect(),
    };
    let frame = Frame::of("Finished jobs", &actor).with_token(&new_token(&browser, &session)?);
    Ok(render("finished.html", &frame, &page))
}
