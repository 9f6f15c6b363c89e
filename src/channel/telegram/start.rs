//! Joining a crew, beginning and choosing jobs.

use super::rich::{Rich, Style};
use super::screen::{Rows, button};
use super::talk::Turn;
use super::token::Token;
use super::words;
use crate::channel::lines;
use crate::desk::evaporators::NewEvaporator;
use crate::desk::id::EvaporatorId;
use crate::desk::identity::NAME_CHARACTERS_MAX;
use crate::desk::jobs::NewJob;
use crate::desk::lists::JobsToChoose;
use crate::desk::{Actor, Code, DeskError};
use crate::flow::embedded;
use crate::flow::name::FlowName;
use crate::store::InputKey;

/// So many lines of a list are buttons; more would not be read.
const LINES_MAX: usize = 20;

/// What is shown for somebody whose chat name cannot be shown.
const NAMELESS: &str = "Newcomer";

impl Turn<'_> {
    /// `/start`, with a code or without.
    pub(super) async fn start(&self, code: &str) -> Result<(), DeskError> {
        let desk = &self.talk.desk;
        let key = self.key.clone();
        let address = self.address();
        let actor = if !code.is_empty() {
            let code = Code::typed(code);
            let name = self.name();
            desk.join(key, &code, &name, &address).await?
        } else if let Some(known) = desk.who_is(&address).await? {
            known
        } else if desk.rules().open_door.is_some() {
            desk.join_open_door(key, &self.name(), &address).await?
        } else {
            self.say(words::JOIN);
            return Ok(());
        };
        let roles: Vec<&str> = actor.roles.iter().map(|role| role.with_article()).collect();
        let welcome = words::welcome(&actor.name, &roles.join(" and "));
        let rows = vec![vec![
            button("Begin a job", Token::New(false)),
            button("Practise", Token::New(true)),
        ]];
        self.offer(&Rich::plain(&welcome), rows);
        Ok(())
    }

    /// The chat's first name as the desk takes it.
    fn name(&self) -> String {
        let letters = self
            .first_name
            .chars()
            .filter(|letter| !letter.is_control());
        let name: String = letters.take(NAME_CHARACTERS_MAX).collect();
        if name.trim().is_empty() {
            NAMELESS.to_owned()
        } else {
            name
        }
    }

    /// Asks on which evaporator to begin; with words, only those whose line holds them.
    pub(super) async fn which(&self, search: &str, training: bool) -> Result<(), DeskError> {
        let Some(actor) = self.actor().await? else {
            return Ok(());
        };
        let found = self.talk.desk.evaporators(&actor, search).await?;
        if found.is_empty() && search.is_empty() {
            self.ask_evaporator(training);
            return Ok(());
        }
        let mut rows: Rows = Vec::new();
        for label in found.iter().take(LINES_MAX) {
            rows.push(vec![button(
                &label.line(),
                Token::Begin(label.id, training),
            )]);
        }
        rows.push(vec![button(words::ANOTHER, Token::Add(training))]);
        let question = if training {
            words::WHICH_TRAINING
        } else {
            words::WHICH
        };
        let mut rich = Rich::default();
        rich.push(Style::Bold, question);
        if found.len() > LINES_MAX {
            let more = words::more_evaporators(found.len() - LINES_MAX);
            rich.paragraph(Style::Plain, &more);
        }
        self.offer(&rich, rows);
        Ok(())
    }

    /// Asks for a new evaporator; the question itself says what the reply is for.
    pub(super) fn ask_evaporator(&self, training: bool) {
        let what = if training {
            words::ADD_TRAINING
        } else {
            words::ADD
        };
        self.ask(&format!("{what} {}", words::ADD_HOW), words::ADD_HINT);
    }

    /// A reply to that question.
    pub(super) async fn add(
        &self,
        actor: &Actor,
        text: &str,
        training: bool,
    ) -> Result<(), DeskError> {
        let mut parts = text.split([',', '\n', ';']).map(str::trim);
        let mut next = || parts.next().unwrap_or_default().to_owned();
        let (site, tag, hangs) = (next(), next(), next());
        if parts.next().is_some() {
            self.say(&words::too_many_parts());
            return Ok(());
        }
        let new = NewEvaporator { site, tag, hangs };
        let key = self.part_key("evaporator");
        let label = match self.talk.desk.add_evaporator(key, actor, new).await {
            Ok(label) => label,
            Err(error) if error.is_fault() => return Err(error),
            Err(error) => {
                self.say(&error.to_string());
                self.ask_evaporator(training);
                return Ok(());
            }
        };
        let key = self.part_key("begin");
        let handled = self
            .talk
            .desk
            .begin(key, actor, self.new_job(actor, label.id, training).await?)
            .await?;
        let added = words::added(&label.line());
        if self.first_time(&handled.outcome) {
            self.show(actor, &handled.screen, Some(&added)).await;
        }
        Ok(())
    }

    /// Begins a job. All presses on one message begin the same.
    pub(super) async fn begin(
        &self,
        actor: &Actor,
        evaporator: EvaporatorId,
        training: bool,
        message: Option<i32>,
    ) -> Result<(), DeskError> {
        let new = self.new_job(actor, evaporator, training).await?;
        let key = match message {
            Some(message) => InputKey(format!(
                "telegram:{}:begin:{}:{message}:{evaporator}",
                self.talk.number, self.place.chat
            )),
            None => self.key.clone(),
        };
        let handled = self.talk.desk.begin(key, actor, new).await?;
        self.show(actor, &handled.screen, None).await;
        Ok(())
    }

    async fn new_job(
        &self,
        actor: &Actor,
        evaporator: EvaporatorId,
        training: bool,
    ) -> Result<NewJob, DeskError> {
        Ok(NewJob {
            evaporator,
            flow: self.usual_flow(actor).await?,
            training,
        })
    }

    async fn usual_flow(&self, actor: &Actor) -> Result<FlowName, DeskError> {
        let flows = self.talk.desk.flows(actor).await?;
        let main = embedded::main_flow();
        let usual = flows.iter().find(|choice| choice.flow == main);
        let usual = usual.or(flows.first()).map(|choice| choice.flow.clone());
        usual.ok_or(DeskError::NotFound("flow"))
    }

    fn part_key(&self, part: &str) -> InputKey {
        InputKey(format!("{}:{part}", self.key))
    }

    fn first_time(&self, outcome: &crate::desk::screen::Outcome) -> bool {
        !matches!(outcome, crate::desk::screen::Outcome::AlreadyHandled)
    }

    /// A code to sign in on the page, where people and roles are.
    pub(super) async fn page_code(&self) -> Result<(), DeskError> {
        let Some(actor) = self.actor().await? else {
            return Ok(());
        };
        let invitation = self.talk.desk.sign_in_code(&actor).await?;
        let until = invitation.until.strftime("%Y-%m-%d %H:%M UTC").to_string();
        self.say(&words::page_code(invitation.code.reveal(), &until));
        Ok(())
    }

    /// Lists the jobs that the person may want to look at.
    pub(super) async fn jobs(&self) -> Result<(), DeskError> {
        let Some(actor) = self.actor().await? else {
            return Ok(());
        };
        let JobsToChoose { jobs, are_all } = self.talk.desk.jobs_to_choose(&actor).await?;
        if jobs.is_empty() {
            self.say(words::NO_JOBS);
            return Ok(());
        }
        let shown = jobs.iter().take(LINES_MAX);
        let rows = shown
            .map(|(why, line)| vec![button(&lines::job(*why, line), Token::Show(line.job))])
            .collect();
        let mut rich = Rich::default();
        rich.push(Style::Bold, words::YOUR_JOBS);
        if jobs.len() > LINES_MAX || !are_all {
            rich.paragraph(Style::Plain, words::MORE_JOBS);
        }
        self.offer(&rich, rows);
        Ok(())
    }
}
