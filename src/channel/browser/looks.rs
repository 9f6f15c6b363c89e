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
    through: String,
    what: String,
    /// Where it can be seen.
    link: Option<String>,
}

impl Look {
    fn of(line: LookLine) -> Look {
        let of = |evaporator: Option<String>| evaporator.map(|it| format!(": {it}"));
        let of = of(line.evaporator).unwrap_or_default();
        let (what, link) = match line.looked {
            LookedAt::People => ("The people of the crew".to_owned(), None),
            LookedAt::Looks => ("This list".to_owned(), None),
            LookedAt::Jobs => ("The list of all jobs".to_owned(), None),
            LookedAt::Record { job } => (
                format!("The record of a job{of}"),
                Some(format!("/job/{job}")),
            ),
            LookedAt::Evaporator { evaporator } => (
                format!("An evaporator{of}"),
                Some(format!("/evaporator/{evaporator}")),
            ),
        };
        let through = match (line.channel, line.program) {
            (Channel::Telegram, _) => "in the chat".to_owned(),
            (Channel::Browser, _) => "on the page".to_owned(),
            (Channel::Terminal, _) => "at the terminal".to_owned(),
            (Channel::Api, Some(program)) => format!("by another program: {program}"),
            (Channel::Api, None) => "by another program".to_owned(),
            (Channel::Server, _) => "on the server".to_owned(),
        };
        let operator = || "The operator of the server".to_owned();
        Look {
            at: Moment::of(line.at),
            who: line.who.map_or_else(operator, |who| who.name),
            through,
            what,
            link,
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
