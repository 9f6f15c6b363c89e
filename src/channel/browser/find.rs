//! All jobs of the crew: words to look for, and filters, in an address that can be shared.

use axum::extract::{Query, State};
use axum::response::Response;
use jiff::civil::Date;
use serde::Serialize;

use super::Browser;
use super::address::with_query;
use super::form::{Fields, new_token};
use super::home::JobCard;
use super::page::{Frame, Moment, render};
use super::session::SignedIn;
use super::trouble::Trouble;
use crate::desk::id::EvaporatorId;
use crate::desk::lists::JOBS_A_PAGE;
use crate::desk::screen::{FlowChoice, Named, Phase};
use crate::desk::search::{JobsFound, SITES_OFFERED_MAX, SearchChoices, SearchCursor, Wanted};
use crate::desk::{Actor, DeskError};
use crate::flow::name::FlowName;
use crate::record::person::PersonId;

/// The address of the page.
const PATH: &str = "/jobs";

/// The fields that narrow the list, each with what it is called.
const FIELDS: [(&str, &str); 9] = [
    ("words", "Words"),
    ("site", "Site"),
    ("evaporator", "Evaporator"),
    ("person", "Person"),
    ("flow", "Job"),
    ("stands", "How far along"),
    ("ended", "How it ended"),
    ("from", "Begun from"),
    ("to", "Begun to"),
];

#[derive(Serialize)]
struct Find {
    /// What is wrong with what was asked.
    sentence: Option<String>,
    words: String,
    site: String,
    evaporator: String,
    from: String,
    to: String,
    sites: Vec<String>,
    more_sites: bool,
    people: Vec<Choice>,
    flows: Vec<Choice>,
    stands: Vec<Choice>,
    ends: Vec<Choice>,
    /// What is looked for besides words.
    filtered: bool,
    set: Vec<Set>,
    jobs: Vec<JobCard>,
    /// Where the list goes on.
    next: Option<String>,
    /// Until when was looked, where the page is not full and yet not the last.
    looked_to: Option<Moment>,
    /// Whether this is not the list's beginning.
    goes_on: bool,
    first: String,
}

#[derive(Serialize)]
struct Choice {
    value: String,
    label: String,
    chosen: bool,
}

/// One thing that narrows the list.
#[derive(Serialize)]
struct Set {
    what: &'static str,
    value: String,
    /// The same list without it.
    without: String,
}

/// The list, as far as it is asked for.
pub(super) async fn show(
    State(browser): State<Browser>,
    SignedIn { actor, session }: SignedIn,
    Query(fields): Query<Vec<(String, String)>>,
) -> Result<Response, Trouble> {
    let asked = Fields(fields);
    let desk = browser.desk();
    let choices = desk.search_choices(&actor).await?;
    let looked = look(&browser, &actor, &asked).await;
    let (found, sentence) = match looked {
        Ok(found) => (found, None),
        Err(DeskError::NotUnderstood(sentence)) => {
            let (jobs, next) = (Vec::new(), None);
            (JobsFound { jobs, next }, Some(sentence))
        }
        Err(error) => return Err(error.into()),
    };
    let is_full = found.jobs.len() >= JOBS_A_PAGE;
    let time = found.next.as_ref().and_then(SearchCursor::time);
    let next = found
        .next
        .map(|cursor| address(&asked, None, &cursor.to_string()));
    let mut page = Find {
        sentence,
        words: asked.text("words").to_owned(),
        site: asked.text("site").to_owned(),
        evaporator: asked.text("evaporator").to_owned(),
        from: asked.text("from").to_owned(),
        to: asked.text("to").to_owned(),
        set: Vec::new(),
        filtered: FIELDS[1..]
            .iter()
            .any(|(name, _)| !asked.text(name).is_empty()),
        more_sites: choices.sites.len() >= SITES_OFFERED_MAX,
        people: people(&choices, &asked),
        flows: flows(&choices, &asked),
        stands: stands(&asked),
        ends: ends(&choices, &asked),
        sites: choices.sites,
        jobs: JobCard::all(found.jobs, &actor),
        looked_to: time.filter(|_| !is_full).map(Moment::of),
        next,
        goes_on: !asked.text("after").is_empty(),
        first: address(&asked, None, ""),
    };
    page.set = set(&browser, &actor, &asked, &page).await?;
    let frame = Frame::of("All jobs", &actor).with_token(&new_token(&browser, &session)?);
    Ok(render("find.html", &frame, &page))
}

async fn look(browser: &Browser, actor: &Actor, asked: &Fields) -> Result<JobsFound, DeskError> {
    let after = given(asked, "after").map(str::parse).transpose()?;
    let wanted = wanted(asked)?;
    browser.desk().find_jobs(actor, &wanted, after).await
}

/// A field that is not empty.
fn given<'f>(asked: &'f Fields, name: &str) -> Option<&'f str> {
    let text = asked.get(name).map(str::trim);
    text.filter(|text| !text.is_empty())
}

fn wanted(asked: &Fields) -> Result<Wanted, DeskError> {
    let evaporator = given(asked, "evaporator").map(str::parse::<EvaporatorId>);
    let person = given(asked, "person").map(str::parse);
    let stands = given(asked, "stands");
    let phase = stands.map(|word| Phase::ALL.into_iter().find(|phase| phase.word() == word));
    if phase == Some(None) {
        return Err(DeskError::NotUnderstood(
            "A job cannot be so far. Choose how far from the list.".to_owned(),
        ));
    }
    Ok(Wanted {
        words: asked.text("words").to_owned(),
        site: given(asked, "site").map(str::to_owned),
        evaporator: evaporator
            .transpose()
            .map_err(|_| DeskError::NotFound("evaporator"))?,
        person: person
            .transpose()
            .map_err(|_| DeskError::NotFound("person"))?
            .map(PersonId),
        flow: given(asked, "flow").map(FlowName::from),
        phase: phase.flatten(),
        ended: given(asked, "ended").map(str::to_owned),
        from: day(asked, "from")?,
        to: day(asked, "to")?,
    })
}

fn day(asked: &Fields, name: &str) -> Result<Option<Date>, DeskError> {
    let Some(text) = given(asked, name) else {
        return Ok(None);
    };
    let day = text.parse().map_err(|_| {
        DeskError::NotUnderstood(format!(
            "“{text}” is not a day that I can read. Write it like 2031-05-04."
        ))
    });
    day.map(Some)
}

/// The address of the same list without one of its fields, or from a place on.
fn address(asked: &Fields, without: Option<&str>, after: &str) -> String {
    let kept = FIELDS.iter().filter(|(name, _)| Some(*name) != without);
    let mut fields: Vec<(&str, &str)> = kept.map(|(name, _)| (*name, asked.text(name))).collect();
    fields.push(("after", after));
    with_query(PATH, &fields)
}

/// Everything that narrows the list, in words.
async fn set(
    browser: &Browser,
    actor: &Actor,
    asked: &Fields,
    page: &Find,
) -> Result<Vec<Set>, DeskError> {
    let mut set = Vec::new();
    for (name, what) in FIELDS {
        let Some(value) = given(asked, name) else {
            continue;
        };
        let offered = match name {
            "person" => page.people.as_slice(),
            "flow" => &page.flows,
            "stands" => &page.stands,
            _ => &[],
        };
        let chosen = offered.iter().find(|choice| choice.chosen);
        let evaporator = value.parse().ok().filter(|_| name == "evaporator");
        let in_words = match (evaporator, chosen) {
            (Some(id), _) => browser.desk().one_evaporator(actor, id).await?.0.line(),
            (None, Some(choice)) => choice.label.clone(),
            (None, None) => value.to_owned(),
        };
        set.push(Set {
            what,
            value: in_words,
            without: address(asked, Some(name), ""),
        });
    }
    Ok(set)
}

fn people(choices: &SearchChoices, asked: &Fields) -> Vec<Choice> {
    let choice = |named: &Named| {
        let value = named.person.0.to_string();
        Choice {
            chosen: value == asked.text("person"),
            label: named.name.clone(),
            value,
        }
    };
    choices.people.iter().map(choice).collect()
}

fn flows(choices: &SearchChoices, asked: &Fields) -> Vec<Choice> {
    let choice = |flow: &FlowChoice| Choice {
        value: flow.flow.to_string(),
        label: flow.title.clone(),
        chosen: flow.flow.as_str() == asked.text("flow"),
    };
    choices.flows.iter().map(choice).collect()
}

fn stands(asked: &Fields) -> Vec<Choice> {
    let choice = |phase: Phase| Choice {
        value: phase.word().to_owned(),
        label: phase.words().to_owned(),
        chosen: phase.word() == asked.text("stands"),
    };
    Phase::ALL.into_iter().map(choice).collect()
}

fn ends(choices: &SearchChoices, asked: &Fields) -> Vec<Choice> {
    let choice = |label: &String| Choice {
        value: label.clone(),
        label: label.clone(),
        chosen: label == asked.text("ended"),
    };
    choices.ends.iter().map(choice).collect()
}
