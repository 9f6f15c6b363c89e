//! At the terminal before a job is on the screen: who speaks, and which job.

use super::{Terminal, TerminalError};
use crate::channel::lines;
use crate::desk::evaporators::NewEvaporator;
use crate::desk::id::{EvaporatorId, JobId};
use crate::desk::jobs::NewJob;
use crate::desk::lists::JobsToChoose;
use crate::desk::{Actor, Code, DeskError};
use crate::flow::model::Role;
use crate::flow::name::FlowName;

impl Terminal<'_> {
    /// Who speaks: known, or joining with a code; the first person here founds the crew.
    pub(super) async fn come_in(&mut self) -> Result<Option<Actor>, TerminalError> {
        if let Some(actor) = self.desk.who_is(&self.address).await? {
            return Ok(Some(actor));
        }
        let first = self.desk.first_supervisor_code().await?;
        let founding = first.is_some();
        let mut code = first.map(|invitation| invitation.code);
        self.say(FIRST_WORDS)?;
        loop {
            let code_now = match code.clone() {
                Some(code) => code,
                None => match self.ask("Type the code that your supervisor gave you.")? {
                    Some(typed) => Code::typed(&typed),
                    None => return Ok(None),
                },
            };
            let Some(name) = self.ask("What is your name?")? else {
                return Ok(None);
            };
            let key = self.key();
            match self.desk.join(key, &code_now, &name, &self.address).await {
                Ok(actor) if founding => return self.found(actor).await.map(Some),
                Ok(actor) => return Ok(Some(actor)),
                Err(error) if error.is_fault() => return Err(error.into()),
                Err(error) => {
                    self.say(&error.to_string())?;
                    if !founding {
                        code = None;
                    }
                }
            }
        }
    }

    /// The first person of a crew says what else they are licensed for.
    async fn found(&mut self, actor: Actor) -> Result<Actor, TerminalError> {
        let answer = self.ask(
            "You are this crew's supervisor. Are you also: 1 apprentice, 2 technician, \
             3 licensed electrician? Type the numbers, or Enter for none.",
        )?;
        let mut roles = actor.roles.clone();
        for digit in answer.unwrap_or_default().chars() {
            match digit {
                '1' => drop(roles.insert(Role::Apprentice)),
                '2' => drop(roles.insert(Role::Technician)),
                '3' => drop(roles.insert(Role::Electrician)),
                _ => {}
            }
        }
        let key = self.key();
        self.desk
            .set_roles(key, &actor, actor.person, roles)
            .await?;
        Ok(self.desk.who_is(&self.address).await?.unwrap_or(actor))
    }

    /// One of the jobs that the person may look at, or a new one; none when the input is over.
    pub(super) async fn choose_job(
        &mut self,
        actor: &Actor,
    ) -> Result<Option<JobId>, TerminalError> {
        let JobsToChoose { jobs, are_all } = self.desk.jobs_to_choose(actor).await?;
        if jobs.is_empty() {
            return self.new_job(actor).await;
        }
        let lines: Vec<String> = jobs
            .iter()
            .enumerate()
            .map(|(index, (why, line))| format!("  {}) {}", index + 1, lines::job(*why, line)))
            .collect();
        let more = match are_all {
            true => "",
            false => "More jobs are on the browser page.\n",
        };
        let question = format!(
            "Which job?\n{}\n{more}Type its number, or Enter for a new one.",
            lines.join("\n")
        );
        match self.pick(&question, &jobs)? {
            None => Ok(None),
            Some(Pick::Enter) => self.new_job(actor).await,
            Some(Pick::One((_, line))) => {
                self.desk.take_up(actor, line.job).await?;
                Ok(Some(line.job))
            }
        }
    }

    /// Asks until the answer is a number of this list, or just Enter; none when the input is over.
    fn pick<'l, T>(
        &mut self,
        question: &str,
        list: &'l [T],
    ) -> Result<Option<Pick<'l, T>>, TerminalError> {
        loop {
            let Some(answer) = self.ask(question)? else {
                return Ok(None);
            };
            if answer.is_empty() {
                return Ok(Some(Pick::Enter));
            }
            let chosen = super::number(&answer).and_then(|number| list.get(number - 1));
            if let Some(one) = chosen {
                return Ok(Some(Pick::One(one)));
            }
            self.say("There is no such number in the list.")?;
        }
    }

    async fn new_job(&mut self, actor: &Actor) -> Result<Option<JobId>, TerminalError> {
        let Some(evaporator) = self.evaporator(actor).await? else {
            return Ok(None);
        };
        let Some((flow, training)) = self.flow(actor).await? else {
            return Ok(None);
        };
        let key = self.key();
        let handled = self
            .desk
            .begin(
                key,
                actor,
                NewJob {
                    evaporator,
                    flow,
                    training,
                },
            )
            .await?;
        Ok(Some(handled.screen.job))
    }

    async fn evaporator(&mut self, actor: &Actor) -> Result<Option<EvaporatorId>, TerminalError> {
        let known = self.desk.evaporators(actor, "").await?;
        if !known.is_empty() {
            let lines: Vec<String> = known
                .iter()
                .enumerate()
                .map(|(index, label)| format!("  {}) {}", index + 1, label.line()))
                .collect();
            let question = format!(
                "Which evaporator?\n{}\nType its number, or Enter for a new one.",
                lines.join("\n")
            );
            match self.pick(&question, &known)? {
                None => return Ok(None),
                Some(Pick::One(label)) => return Ok(Some(label.id)),
                Some(Pick::Enter) => {}
            }
        }
        loop {
            let Some(site) = self.ask("Where is the evaporator? The shop or the building.")? else {
                return Ok(None);
            };
            let Some(tag) = self.ask("What is written on it? Enter if nothing.")? else {
                return Ok(None);
            };
            let Some(hangs) = self.ask("Where does it hang? The box and the wall.")? else {
                return Ok(None);
            };
            let key = self.key();
            match self
                .desk
                .add_evaporator(key, actor, NewEvaporator { site, tag, hangs })
                .await
            {
                Ok(label) => return Ok(Some(label.id)),
                Err(error) if error.is_fault() => return Err(error.into()),
                Err(error) => self.say(&error.to_string())?,
            }
        }
    }

    /// Which flow, where there is a choice, and whether it is training.
    async fn flow(&mut self, actor: &Actor) -> Result<Option<(FlowName, bool)>, TerminalError> {
        let flows = self.desk.flows(actor).await?;
        let flow = match flows.as_slice() {
            [] => return Err(DeskError::NotFound("flow").into()),
            [only] => only.flow.clone(),
            several => {
                let lines: Vec<String> = several
                    .iter()
                    .enumerate()
                    .map(|(index, choice)| format!("  {}) {}", index + 1, choice.title))
                    .collect();
                let question = format!(
                    "What is to be done?\n{}\nType its number, or Enter for the first.",
                    lines.join("\n")
                );
                match self.pick(&question, several)? {
                    None => return Ok(None),
                    Some(Pick::One(choice)) => choice.flow.clone(),
                    Some(Pick::Enter) => several[0].flow.clone(),
                }
            }
        };
        let question = "What is it?\n  1) a real job\n  2) a TRAINING walk, which is no record\n\
                        Type its number, or Enter for a real job.";
        match self.pick(question, &[false, true])? {
            None => Ok(None),
            Some(Pick::One(training)) => Ok(Some((flow, *training))),
            Some(Pick::Enter) => Ok(Some((flow, false))),
        }
    }
}

/// What somebody picked of a list.
enum Pick<'l, T> {
    One(&'l T),
    /// Just Enter: what the question says that it stands for.
    Enter,
}

const FIRST_WORDS: &str = "\
Fanwright walks you through an evaporator fan that moves no air.
Local codes and licensed practice prevail over anything it says.
Lock out, prove dead, and stop when in doubt.";
