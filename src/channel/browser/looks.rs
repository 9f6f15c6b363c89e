//! Who looked at what names people: a page for supervisors.

use axum::extract::{Query, State};
use axum::response::Response;
use serde::Serialize;

use super::Browser;
use super::form::new_token;
use super::home::After;
use super::page::{Frame, Moment, render};
use super::session::SignedIn;
use super::trouble::Trouble;
use crate::desk::looks::LookLine;
use crate::record::around::LookedAt;
use crate::record::entry::Channel;

#[derive(Serialize)]
struct Page {
    looks: Vec<Look>,
    /// Where the list goes on.
    next: Option<String>,
}

#[derive(Serialize)]
struct Look {
    at: Moment,
    who: String,
    through: &'static str,
    what: String,
    /// The job, if it was one's record.
    job: Option<String>,
}

impl Look {
    fn of(line: LookLine) -> Look {
        let job = match line.looked {
            LookedAt::Record { job } => Some(job.to_string()),
            LookedAt::People | LookedAt::Looks => None,
        };
        let what = match line.looked {
            LookedAt::People => "The people of the crew".to_owned(),
            LookedAt::Looks => "This list".to_owned(),
            LookedAt::Record { .. } => match line.evaporator {
                Some(evaporator) => format!("The record of a job: {evaporator}"),
                None => "The record of a job".to_owned(),
            },
        };
        Look {
            at: Moment::of(line.at),
            who: line.who.name,
            through: match line.channel {
                Channel::Telegram => "in the chat",
                Channel::Browser => "on the page",
                Channel::Terminal => "at the terminal",
                Channel::Api => "by another program",
                Channel::Server => "on the server",
            },
            what,
            job,
        }
    }
}

/// The list, the latest first.
pub(super) async fn show(
    State(browser): State<Browser>,
    SignedIn { actor, session }: SignedIn,
    Query(after): Query<After>,
) -> Result<Response, Trouble> {
    let looks = browser.desk().who_looked(&actor, after.cursor()?).await?;
    let page = Page {
        next: looks.next.map(|cursor| format!("/looks?after={cursor}")),
        looks: looks.items.into_iter().map(Look::of).collect(),
    };
    let frame = Frame::of("Who looked", &actor).with_token(&new_token(&browser, &session)?);
    Ok(render("looks.html", &frame, &page))
}
