//! Evaporators: finding one, and what is known of it.

use super::rich::{Rich, Style};
use super::screen::{BUTTONS_MAX, Rows, button};
use super::start::LINES_MAX;
use super::talk::Turn;
use super::token::{FlowMark, Plan, Token};
use super::words;
use crate::channel::known;
use crate::desk::id::EvaporatorId;
use crate::desk::screen::FlowChoice;
use crate::desk::{Actor, DeskError};

impl Turn<'_> {
    /// Finds evaporators by words and shows the one that is meant.
    pub(super) async fn evaporators(&self, search: &str) -> Result<(), DeskError> {
        let Some(actor) = self.actor().await? else {
            return Ok(());
        };
        let found = self.talk.desk.evaporators(&actor, search).await?;
        match found.as_slice() {
            [] if search.is_empty() => self.say(words::NO_EVAPORATORS),
            [] => self.say(&words::no_evaporator_with(search)),
            [only] => self.evaporator(&actor, only.id).await?,
            several => {
                let shown = several.iter().take(LINES_MAX);
                let row = |id, line: &str| vec![button(line, Token::Evaporator(id))];
                let rows: Rows = shown.map(|label| row(label.id, &label.line())).collect();
                let mut rich = Rich::default();
                rich.push(Style::Bold, words::WHICH_EVAPORATOR);
                if several.len() > LINES_MAX {
                    let more = words::more_evaporators_to_see(several.len() - LINES_MAX);
                    rich.paragraph(Style::Plain, &more);
                }
                self.offer(&rich, rows);
            }
        }
        Ok(())
    }

    /// What is known of an evaporator, and beginning a job on it.
    pub(super) async fn evaporator(
        &self,
        actor: &Actor,
        id: EvaporatorId,
    ) -> Result<(), DeskError> {
        let desk = &self.talk.desk;
        let page = desk.evaporator(actor, id, None).await?;
        let zone = desk.clocks(actor).await?;
        let flows = desk.flows(actor).await?;
        let mut rich = Rich::default();
        rich.push(Style::Bold, &page.label.line());
        let parts = known::parts(&page, &zone);
        if parts.is_empty() {
            rich.paragraph(Style::Plain, words::NOTHING_KNOWN);
        }
        for part in parts {
            rich.paragraph(Style::Bold, part.title);
            for line in part.lines {
                rich.line(Style::Plain, &line);
            }
        }
        if page.jobs.len() > known::JOBS_TOLD || page.next.is_some() {
            rich.line(Style::Plain, words::EARLIER_JOBS);
        }
        let several = flows.len() > 1;
        let begin = |choice: &FlowChoice| {
            let label = words::begin_here(several.then_some(choice.title.as_str()));
            let (flow, training) = (FlowMark::of(&choice.flow), false);
            vec![button(&label, Token::Begin(id, Plan { flow, training }))]
        };
        let mut rows: Rows = flows.iter().take(LINES_MAX).map(begin).collect();
        if flows.len() > LINES_MAX {
            rich.paragraph(Style::Plain, words::MORE_FLOWS);
        }
        let room = BUTTONS_MAX - rows.len();
        for line in page.jobs.iter().take(known::JOBS_TOLD.min(room)) {
            let label = words::job_of(&known::day(line.began, &zone));
            rows.push(vec![button(&label, Token::Show(line.job))]);
        }
        self.offer(&rich, rows);
        Ok(())
    }
}
