//! Beginning a job: what is to be done, and on which evaporator.

use super::rich::{Rich, Style};
use super::screen::{BUTTONS_MAX, Rows, button};
use super::start::LINES_MAX;
use super::talk::Turn;
use super::token::{FlowMark, Plan, Token};
use super::words;
use crate::desk::evaporators::NewEvaporator;
use crate::desk::id::EvaporatorId;
use crate::desk::jobs::NewJob;
use crate::desk::screen::{FlowChoice, Outcome};
use crate::desk::{Actor, DeskError};
use crate::store::InputKey;

/// What is to be begun, as it was found.
pub(super) struct Planned {
    plan: Plan,
    choice: FlowChoice,
    /// There are other flows to begin with, so this one is named.
    is_one_of_several: bool,
}

impl Planned {
    fn of(choice: FlowChoice, training: bool, is_one_of_several: bool) -> Planned {
        let flow = FlowMark::of(&choice.flow);
        Planned {
            plan: Plan { flow, training },
            choice,
            is_one_of_several,
        }
    }

    /// The question for a new evaporator. It says all that the reply is for.
    fn question(&self) -> String {
        let what = if self.plan.training {
            words::ADD_TRAINING
        } else {
            words::ADD
        };
        let title = &self.choice.title;
        match self.is_one_of_several {
            true => format!("{what} {}{title}. {}", words::TO_BE_DONE, words::ADD_HOW),
            false => format!("{what} {}", words::ADD_HOW),
        }
    }
}

impl Turn<'_> {
    /// Asks what is to be done, where there is a choice; then on which evaporator. With words,
    /// only evaporators whose line holds them.
    pub(super) async fn new_job(&self, search: &str, training: bool) -> Result<(), DeskError> {
        let Some(actor) = self.actor().await? else {
            return Ok(());
        };
        let flows = self.talk.desk.flows(&actor).await?;
        if let [only] = flows.as_slice() {
            let planned = Planned::of(only.clone(), training, false);
            return self.which(&actor, search, &planned).await;
        }
        if flows.is_empty() {
            return Err(DeskError::NotFound("flow"));
        }
        let row = |choice: &FlowChoice| {
            let flow = FlowMark::of(&choice.flow);
            vec![button(&choice.title, Token::Which(Plan { flow, training }))]
        };
        let rows: Rows = flows.iter().take(BUTTONS_MAX).map(row).collect();
        let mut rich = Rich::default();
        if training {
            rich.paragraph(Style::Plain, words::A_TRAINING_WALK);
        }
        rich.paragraph(Style::Bold, words::WHAT_TO_DO);
        if flows.len() > BUTTONS_MAX {
            rich.paragraph(Style::Plain, words::MORE_FLOWS);
        }
        if !search.is_empty() {
            // The press brings this text back, and the words with it.
            let found = format!("{}{search}", words::EVAPORATORS_WITH);
            rich.paragraph(Style::Plain, &found);
        }
        self.offer(&rich, rows);
        Ok(())
    }

    /// A press on what is to be done, under this text.
    pub(super) async fn planned(
        &self,
        actor: &Actor,
        plan: Plan,
        under: Option<&str>,
    ) -> Result<(), DeskError> {
        let search = under.and_then(|text| text.rsplit_once(words::EVAPORATORS_WITH));
        let search = search.map_or("", |(_, search)| search);
        match self.found(actor, plan).await? {
            Some(planned) => self.which(actor, search, &planned).await,
            None => Ok(()),
        }
    }

    /// What a button plans; a sentence if the crew does not begin jobs with it any more.
    async fn found(&self, actor: &Actor, plan: Plan) -> Result<Option<Planned>, DeskError> {
        let flows = self.talk.desk.flows(actor).await?;
        let choice = plan.flow.find(&flows).cloned();
        if choice.is_none() {
            self.say(words::NO_SUCH_FLOW);
        }
        Ok(choice.map(|choice| Planned::of(choice, plan.training, flows.len() > 1)))
    }

    async fn which(&self, actor: &Actor, search: &str, planned: &Planned) -> Result<(), DeskError> {
        let found = self.talk.desk.evaporators(actor, search).await?;
        if found.is_empty() && search.is_empty() {
            self.ask_evaporator(planned);
            return Ok(());
        }
        let plan = planned.plan;
        let mut rows: Rows = Vec::new();
        for label in found.iter().take(LINES_MAX) {
            rows.push(vec![button(&label.line(), Token::Begin(label.id, plan))]);
        }
        rows.push(vec![button(words::ANOTHER, Token::Add(plan))]);
        let mut rich = Rich::default();
        if planned.is_one_of_several {
            rich.paragraph(Style::Plain, &planned.choice.title);
        }
        if plan.training {
            rich.paragraph(Style::Plain, words::A_TRAINING_WALK);
        }
        rich.paragraph(Style::Bold, words::WHICH);
        if found.len() > LINES_MAX {
            let more = words::more_evaporators(found.len() - LINES_MAX);
            rich.paragraph(Style::Plain, &more);
        }
        self.offer(&rich, rows);
        Ok(())
    }

    /// A press on “Another evaporator”.
    pub(super) async fn another(&self, actor: &Actor, plan: Plan) -> Result<(), DeskError> {
        if let Some(planned) = self.found(actor, plan).await? {
            self.ask_evaporator(&planned);
        }
        Ok(())
    }

    fn ask_evaporator(&self, planned: &Planned) {
        self.ask(&planned.question(), words::ADD_HINT);
    }

    /// What the question for a new evaporator was asked for; none if it was another question.
    pub(super) async fn asked_for(
        &self,
        actor: &Actor,
        question: &str,
    ) -> Result<Option<Planned>, DeskError> {
        let flows = self.talk.desk.flows(actor).await?;
        let several = flows.len() > 1;
        let mut all = flows.into_iter().flat_map(|choice| {
            [true, false].map(|training| Planned::of(choice.clone(), training, several))
        });
        Ok(all.find(|planned| planned.question() == question))
    }

    /// A reply to that question.
    pub(super) async fn add(
        &self,
        actor: &Actor,
        text: &str,
        planned: &Planned,
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
                self.ask_evaporator(planned);
                return Ok(());
            }
        };
        let key = self.part_key("begin");
        let new = of(planned, label.id);
        let handled = self.talk.desk.begin(key, actor, new).await?;
        let added = words::added(&label.line());
        if handled.outcome != Outcome::AlreadyHandled {
            self.show(actor, &handled.screen, Some(&added)).await;
        }
        Ok(())
    }

    /// Begins a job. All presses of one button begin the same; a second one says so, as it may come
    /// months later.
    pub(super) async fn begin(
        &self,
        actor: &Actor,
        evaporator: EvaporatorId,
        plan: Plan,
        message: Option<i32>,
    ) -> Result<(), DeskError> {
        let Some(planned) = self.found(actor, plan).await? else {
            return Ok(());
        };
        let key = match message {
            Some(message) => InputKey(format!(
                "telegram:{}:begin:{}:{message}:{evaporator}:{:x}:{}",
                self.talk.number, self.place.chat, plan.flow.0, plan.training
            )),
            None => self.key.clone(),
        };
        let new = of(&planned, evaporator);
        let handled = self.talk.desk.begin(key, actor, new).await?;
        let was_begun = handled.outcome == Outcome::AlreadyHandled;
        let said = was_begun.then_some(words::BEGUN_BEFORE);
        self.show(actor, &handled.screen, said).await;
        Ok(())
    }

    fn part_key(&self, part: &str) -> InputKey {
        InputKey(format!("{}:{part}", self.key))
    }
}

fn of(planned: &Planned, evaporator: EvaporatorId) -> NewJob {
    NewJob {
        evaporator,
        flow: planned.choice.flow.clone(),
        training: planned.plan.training,
    }
}
