//! The first page: news for the person, their jobs, the crew's jobs; and the lists behind it.

use axum::extract::{Path, Query, State};
use axum::response::{Redirect, Response};
use serde::{Deserialize, Serialize};

use super::Browser;
use super::form::{Posted, new_token};
use super::page::{Frame, Moment, render};
use super::session::SignedIn;
use super::trouble::Trouble;
use crate::desk::lists::{JOBS_A_PAGE, Pile};
use crate::desk::notice::{About, InboxItem, NoticeLine};
use crate::desk::screen::{JobLine, Offer, Phase};
use crate::desk::{Actor, DeskError};
use crate::flow::model::Role;
use crate::record::stands_out::count;
use crate::store::Cursor;

/// So many jobs of each kind stand on a supervisor's first page; the others are a press away.
const FIRST_OF_A_KIND: usize = 4;

/// What a supervisor looks after besides reviews: the word in the address, the heading, the kind.
const KINDS: [(&str, &str, Phase); 4] = [
    ("stopped", "Work is stopped", Phase::Stopped),
    ("left-locked-out", "Left locked out", Phase::LockedOut),
    ("sent-back", "Sent back", Phase::SentBack),
    ("accepted", "Accepted", Phase::Accepted),
];

#[derive(Serialize)]
struct Home {
    token: String,
    news: Vec<News>,
    offered: Vec<JobCard>,
    review: Vec<JobCard>,
    mine: Vec<JobCard>,
    /// What a supervisor looks after.
    kinds: Vec<Kind>,
    crew: Vec<JobCard>,
    more_open: bool,
    /// Somebody alone in a crew as its supervisor only: they cannot do a technician's steps.
    only_supervises: bool,
}

#[derive(Serialize)]
struct Kind {
    word: &'static str,
    heading: &'static str,
    jobs: Vec<JobCard>,
    more: bool,
}

#[derive(Serialize)]
struct News {
    keys: Vec<String>,
    at: Moment,
    sentence: String,
    /// Empty if it is about none.
    job: String,
    /// What it lists, one by one.
    lines: Vec<NewsLine>,
    /// How many earlier ones of the same kind about the same job it stands for.
    earlier: usize,
}

/// One of the things that news list.
#[derive(Serialize)]
struct NewsLine {
    /// Where it leads.
    address: String,
    sentence: String,
}

impl NewsLine {
    /// The line; a job that waits for the review of whoever reads it leads there.
    fn of(line: NoticeLine, review: &[JobLine]) -> NewsLine {
        let is_to_review = review.iter().any(|waiting| waiting.job == line.job);
        let part = if is_to_review { "/review" } else { "" };
        NewsLine {
            address: format!("/job/{}{part}", line.job),
            sentence: line.sentence,
        }
    }
}

impl News {
    /// The newest of every kind about every job, the newest first; `review` are the jobs that wait
    /// for the review of whoever reads them.
    fn of(items: Vec<InboxItem>, review: &[JobLine]) -> Vec<News> {
        let mut met: Vec<(About, News)> = Vec::new();
        for item in items.into_iter().rev() {
            let job = item.notice.job.map_or(String::new(), |job| job.to_string());
            let same = met.iter_mut().find(|(about, news)| {
                let is_alike = !job.is_empty() || news.sentence == item.notice.sentence;
                *about == item.notice.about && news.job == job && is_alike
            });
            if let Some((_, news)) = same {
                news.keys.push(item.key);
                news.earlier += 1;
            } else {
                let lines = item.notice.lines.into_iter();
                let lines = lines.map(|line| NewsLine::of(line, review));
                let lines: Vec<NewsLine> = lines.collect();
                // The rest of the sentence is for where there is no list.
                let mut sentence = item.notice.sentence;
                if let (false, Some(end)) = (lines.is_empty(), sentence.find('\n')) {
                    sentence.truncate(end);
                }
                let news = News {
                    keys: vec![item.key],
                    at: Moment::of(item.at),
                    sentence,
                    lines,
                    job,
                    earlier: 0,
                };
                met.push((item.notice.about, news));
            }
        }
        met.into_iter().map(|(_, news)| news).collect()
    }
}

#[derive(Serialize)]
struct List {
    title: String,
    jobs: Vec<JobCard>,
    /// Where the list goes on.
    next: Option<String>,
}

/// One job in a list.
#[derive(Serialize)]
pub(super) struct JobCard {
    /// Where it leads.
    address: String,
    evaporator: String,
    title: String,
    /// Whose hands it is in.
    hands: String,
    phase: Phase,
    phase_words: String,
    outcome: Option<String>,
    training: bool,
    last: Moment,
    /// What this viewer should know about it.
    remark: Option<&'static str>,
    /// How much stands out in it, in words.
    stands_out: Option<String>,
}

impl JobCard {
    pub(super) fn of(line: JobLine, actor: &Actor) -> JobCard {
        let remark = match line.offered {
            Some(Offer::Anybody) => Some("Offered to anybody of the crew"),
            Some(Offer::One(person)) if person == actor.person => Some("Offered to you"),
            Some(Offer::One(_)) => Some("Offered to somebody"),
            None if line.nobody_to_review => Some("Nobody to review it"),
            None if line.waits_for_any(&actor.roles) => Some("Waits for your role"),
            None => None,
        };
        JobCard {
            address: format!("/job/{}", line.job),
            evaporator: line.evaporator.line(),
            title: line.title,
            hands: if line.holder.person == actor.person {
                "In your hands".to_owned()
            } else {
                format!("In the hands of {}", line.holder.name)
            },
            phase: line.phase,
            phase_words: line.phase.words().to_owned(),
            outcome: line.outcome,
            training: line.training,
            last: Moment::of(line.last),
            stands_out: count(line.stands_out),
            remark,
        }
    }

    /// A job that waits for this viewer's review: it leads there.
    fn to_review(line: JobLine, actor: &Actor) -> JobCard {
        let address = format!("/job/{}/review", line.job);
        JobCard {
            address,
            ..JobCard::of(line, actor)
        }
    }

    pub(super) fn all(lines: Vec<JobLine>, actor: &Actor) -> Vec<JobCard> {
        let card = |line| JobCard::of(line, actor);
        lines.into_iter().map(card).collect()
    }
}

/// The first page.
pub(super) async fn show(
    State(browser): State<Browser>,
    SignedIn { actor, session }: SignedIn,
) -> Result<Response, Trouble> {
    let desk = browser.desk();
    let (mut kinds, mut review) = (Vec::new(), Vec::new());
    let supervises = actor.is(Role::Supervisor);
    if supervises {
        kinds = looked_after(&browser, &actor).await?;
        review = desk.jobs_to_review(&actor).await?;
    }
    let offered = desk.offered_jobs(&actor).await?;
    let first_page = (None, JOBS_A_PAGE);
    let open = desk.jobs_on(&actor, Pile::Open, first_page).await?;
    // What stands in another list of the same page is not shown twice.
    let elsewhere = |line: &JobLine| {
        line.holder.person == actor.person
            || offered.iter().any(|other| other.job == line.job)
            || supervises && KINDS.iter().any(|(_, _, phase)| *phase == line.phase)
    };
    let crew = open.items.into_iter().filter(|line| !elsewhere(line));
    let crew = JobCard::all(crew.collect(), &actor);
    let alone = supervises && actor.roles.len() == 1;
    let page = Home {
        token: new_token(&browser, &session)?,
        news: News::of(desk.inbox(&actor).await?, &review),
        mine: JobCard::all(desk.my_jobs(&actor).await?, &actor),
        more_open: open.next.is_some(),
        only_supervises: alone && desk.is_alone(&actor).await?,
        offered: JobCard::all(offered, &actor),
        review: review
            .into_iter()
            .map(|line| JobCard::to_review(line, &actor))
            .collect(),
        kinds,
        crew,
    };
    let frame = Frame::of("Your jobs", &actor)
        .with_news("/news".to_owned())
        .with_token(&page.token);
    Ok(render("home.html", &frame, &page))
}

/// What a supervisor looks after besides reviews, where there is any.
async fn looked_after(browser: &Browser, actor: &Actor) -> Result<Vec<Kind>, DeskError> {
    let mut kinds = Vec::new();
    for (word, heading, phase) in KINDS {
        let page = (None, FIRST_OF_A_KIND);
        let jobs = browser.desk().jobs_on(actor, Pile::In(phase), page).await?;
        // Their own jobs stand above.
        let mut lines = jobs.items;
        lines.retain(|line| line.holder.person != actor.person || phase == Phase::Accepted);
        if !lines.is_empty() || jobs.next.is_some() {
            kinds.push(Kind {
                word,
                heading,
                jobs: JobCard::all(lines, actor),
                more: jobs.next.is_some(),
            });
        }
    }
    Ok(kinds)
}

/// News that were read leave the list.
pub(super) async fn seen(form: Posted) -> Result<Redirect, Trouble> {
    let keys: Vec<String> = form.fields.all("news").map(str::to_owned).collect();
    form.browser.desk().seen(&form.actor, &keys).await?;
    Ok(Redirect::to("/"))
}

/// Where a list goes on.
#[derive(Deserialize)]
pub(super) struct After {
    after: Option<String>,
}

impl After {
    pub(super) fn cursor(self) -> Result<Option<Cursor>, DeskError> {
        let cursor = self.after.map(|text| text.parse()).transpose();
        cursor.map_err(DeskError::from)
    }
}

/// The finished jobs of the crew, a page at a time.
pub(super) async fn finished(
    State(browser): State<Browser>,
    signed_in: SignedIn,
    Query(after): Query<After>,
) -> Result<Response, Trouble> {
    let heading = ("Finished jobs", "/finished");
    list(&browser, &signed_in, heading, (Pile::Over, after)).await
}

/// The open jobs of the crew, a page at a time.
pub(super) async fn open(
    State(browser): State<Browser>,
    signed_in: SignedIn,
    Query(after): Query<After>,
) -> Result<Response, Trouble> {
    let heading = ("Open in your crew", "/open");
    list(&browser, &signed_in, heading, (Pile::Open, after)).await
}

/// The jobs of one kind, a page at a time.
pub(super) async fn of_kind(
    State(browser): State<Browser>,
    signed_in: SignedIn,
    Path(word): Path<String>,
    Query(after): Query<After>,
) -> Result<Response, Trouble> {
    let kind = KINDS.iter().find(|(other, _, _)| *other == word);
    let (word, heading, phase) = kind.ok_or_else(super::trouble::no_page)?;
    let address = format!("/jobs/{word}");
    let heading = (*heading, address.as_str());
    list(&browser, &signed_in, heading, (Pile::In(*phase), after)).await
}

async fn list(
    browser: &Browser,
    SignedIn { actor, session }: &SignedIn,
    (title, address): (&str, &str),
    (pile, after): (Pile, After),
) -> Result<Response, Trouble> {
    let page = (after.cursor()?, JOBS_A_PAGE);
    let jobs = browser.desk().jobs_on(actor, pile, page).await?;
    let page = List {
        title: title.to_owned(),
        next: jobs.next.map(|cursor| format!("{address}?after={cursor}")),
        jobs: JobCard::all(jobs.items, actor),
    };
    let frame = Frame::of(title, actor).with_token(&new_token(browser, session)?);
    Ok(render("list.html", &frame, &page))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::desk::id::JobId;
    use crate::record::person::PersonId;
    use uuid::Uuid;

    #[test]
    fn what_news_list_comes_line_by_line_each_with_its_own_job() {
        let job = |number| JobId(Uuid::from_u128(number));
        let line = |number, sentence: &str| NoticeLine {
            job: job(number),
            sentence: sentence.to_owned(),
        };
        let notice = crate::desk::notice::Notice {
            to: PersonId(Uuid::nil()),
            about: About::Reminder,
            job: Some(job(1)),
            revision: 1,
            sentence: "Reminder: 2 things wait for you.\n• One.\n• Two.".to_owned(),
            lines: vec![line(1, "One."), line(2, "Two.")],
            people: Vec::new(),
            show_screen: false,
        };
        let item = InboxItem {
            key: "k".to_owned(),
            at: "2031-05-04T08:00:00Z".parse().unwrap(),
            notice,
        };
        let news = News::of(vec![item], &[]).pop().unwrap();
        assert_eq!(news.sentence, "Reminder: 2 things wait for you.");
        let lines = news.lines.iter();
        let addresses: Vec<&str> = lines.map(|line| line.address.as_str()).collect();
        let expected = [1, 2].map(|number| format!("/job/{}", job(number)));
        assert_eq!(addresses, expected);
    }
}
