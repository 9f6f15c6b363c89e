//! Making a screen out of a state: the only way to make one, so it can always be made again.

use jiff::Timestamp;

use super::check_ins;
use super::competence::{self, beside_roles};
use super::context::Viewer;
use super::draft::here;
use super::group_lockout;
use super::guard::{out_of_date, unprotected};
use super::progress;
use super::prompt::{Action, Ask, Button, Note, Prompt, Tone, Working};
use super::state::{Mode, Review, State, Worked};
use super::{AS_RECORDED, GO, STATE_CHANGED, ask, notes, redo, share, together};
use crate::flow::edition::Edition;
use crate::flow::model::{Act, Flow, Role, Step};
use crate::flow::name::ChoiceKey;
use crate::trade::chart::Chart;

/// The screen of a job for one viewer.
pub fn prompt(edition: &Edition, state: &State, viewer: Viewer<'_>, now: Timestamp) -> Prompt {
    let screen = Screen {
        edition,
        state,
        viewer,
        now,
    };
    let mut prompt = screen.blank();
    match &state.mode {
        Mode::Walking if state.ask_state => screen.present_state(&mut prompt),
        Mode::Walking if state.offer.is_none() && check_ins::must_agree(edition, state) => {
            check_ins::ask(&screen, &mut prompt);
            screen.always(&mut prompt.actions);
        }
        Mode::Walking => screen.walking(&mut prompt),
        Mode::Paused => screen.paused(&mut prompt),
        Mode::Stopped { why } => screen.stopped(&mut prompt, why.as_deref()),
        Mode::Leaving { owner, .. } => screen.leaving(&mut prompt, owner.as_deref()),
        Mode::Left { owner, again } => screen.left(&mut prompt, owner, again),
        Mode::Finished { label, .. } => screen.finished(&mut prompt, label),
    }
    group_lockout::tell(&screen, &mut prompt);
    check_ins::tell(&screen, &mut prompt);
    prompt
}

/// A button with a fixed key.
pub(super) fn button(key: &str, label: impl Into<String>) -> Button {
    Button {
        key: ChoiceKey::from(key),
        label: label.into(),
    }
}

/// What a screen is made from.
pub(super) struct Screen<'a> {
    pub(super) edition: &'a Edition,
    pub(super) state: &'a State,
    pub(super) viewer: Viewer<'a>,
    pub(super) now: Timestamp,
}

impl<'a> Screen<'a> {
    fn blank(&self) -> Prompt {
        let title = self
            .state
            .top()
            .and_then(|call| self.edition.flow(&call.flow))
            .or_else(|| self.edition.root_flow())
            .map_or_else(String::new, |flow| flow.title.clone());
        Prompt {
            revision: self.state.revision,
            asked_since: self.state.asked_since,
            title,
            training: self.state.pins.training,
            step: u32::try_from(self.state.trail.len())
                .unwrap_or(u32::MAX)
                .saturating_add(1),
            to_go: None,
            notes: Vec::new(),
            caution: None,
            say: String::new(),
            picture: None,
            chart: None,
            cite: Vec::new(),
            why: None,
            how: None,
            working: None,
            lacks: Vec::new(),
            ask: Ask::Nothing,
            keep: None,
            actions: Vec::new(),
        }
    }

    pub(super) fn is_holder(&self) -> bool {
        self.viewer.who == self.state.holder
    }

    pub(super) fn has_role(&self, role: Role) -> bool {
        self.viewer.roles.contains(&role)
    }

    fn walking(&self, prompt: &mut Prompt) {
        let Some((flow, step)) = here(self.edition, self.state) else {
            prompt.say = "This job's record does not fit its flow. Tell your supervisor.".into();
            prompt.actions = vec![Action::CallSupervisor, Action::Emergency];
            return;
        };
        prompt.to_go = progress::to_go(self.edition, self.state);
        prompt.notes = notes::told(self);
        if let Some(answers) = share::answers(self.edition, self.state) {
            prompt.notes.push(Note {
                tone: Tone::Plain,
                text: answers.words(),
            });
        }
        self.sent_back(prompt);
        self.step_texts(prompt, step);
        if self.state.offer.is_some() {
            self.offered(prompt);
            return;
        }
        if let Some(say) = out_of_date(self.edition, self.state, step, self.now) {
            prompt.caution = Some("Not current: treat it as live. Hands off.".into());
            prompt.say = say.into();
            prompt.picture = None;
            prompt.chart = None;
            if self.is_holder() {
                prompt.ask = Ask::Press(vec![button(GO, "Lead me through the proof")]);
            }
        } else {
            self.ask(prompt, flow, step);
            let way = self.viewer.way.of(self.viewer.roles);
            let list = together::listed(self.edition, self.state, (self.viewer.who, way));
            together::show(prompt, &list, self.state);
        }
        self.step_actions(prompt, step);
    }

    /// Above everything else: what the supervisor wants, and how far that is.
    fn sent_back(&self, prompt: &mut Prompt) {
        let Review::SentBack { remark } = &self.state.review else {
            return;
        };
        let Some(told) = redo::told(self.edition, self.state) else {
            return;
        };
        let remark = Note {
            tone: Tone::Warning,
            text: format!("Sent back: {remark}"),
        };
        let told = Note {
            tone: Tone::Plain,
            text: told,
        };
        prompt.notes.splice(0..0, [remark, told]);
        if self.state.alone().is_some() {
            // What follows may stand as it is: nothing can be counted.
            prompt.to_go = None;
        }
    }

    fn step_texts(&self, prompt: &mut Prompt, step: &Step) {
        let facts = self.state.facts();
        let fill = |template: &crate::flow::template::Template| template.fill(&facts);
        prompt.caution = step.caution.as_ref().map(fill);
        prompt.say = fill(&step.say);
        prompt.why = step.why.as_ref().map(fill);
        prompt.how = step.how.as_ref().map(fill);
        prompt.picture = step.picture.as_ref().map(|picture| picture.it.clone());
        prompt.chart = step.chart.and_then(|formula| self.chart_of(formula));
        prompt.cite = step.cite.clone();
    }

    fn ask(&self, prompt: &mut Prompt, flow: &Flow, step: &Step) {
        competence::tell_lacking(self, prompt, (flow, step));
        let has_shown = prompt.lacks.is_empty();
        if let Act::Hold { role, release } = &step.act {
            prompt.ask = if self.has_role(*role) && has_shown {
                Ask::Press(vec![button(GO, release.clone())])
            } else {
                Ask::WaitFor { roles: vec![*role] }
            };
            return;
        }
        let in_role = step.by.iter().any(|role| self.has_role(*role));
        let for_roles = share::is_open_to_its_roles(self.state, flow, step);
        let holder_alone = self.state.shared && !for_roles && !self.is_holder();
        let beside = self.state.doing.beside.is_some();
        let may_answer = if self.is_holder() {
            (step.by.is_empty() || in_role || beside) && has_shown
        } else {
            let for_all = share::is_open_to_all(self.state, flow, step);
            ((in_role && for_roles) || for_all) && has_shown
        };
        if !may_answer {
            prompt.ask = if !has_shown && self.is_holder() && (step.by.is_empty() || in_role) {
                Ask::WaitFor {
                    roles: beside_roles(step),
                }
            } else if step.by.is_empty() || in_role || holder_alone {
                Ask::WaitFor { roles: Vec::new() }
            } else {
                competence::tell_to_hand_over(self, prompt, step);
                Ask::WaitFor {
                    roles: step.by.clone(),
                }
            };
            return;
        }
        ask::fill(self, prompt, flow, step);
    }

    fn step_actions(&self, prompt: &mut Prompt, step: &Step) {
        let actions = &mut prompt.actions;
        if prompt.why.is_some() {
            actions.push(Action::Why);
        }
        if prompt.how.is_some() {
            actions.push(Action::How);
        }
        if prompt.working.is_some() {
            actions.push(Action::Working);
        }
        let mut roles = beside_roles(step).into_iter();
        let qualified = roles.any(|role| self.has_role(role)) && prompt.lacks.is_empty();
        let holder_may = self.state.doing.beside.is_some();
        let under_lock = unprotected(self.edition, self.state, (step, self.viewer.who)).is_none();
        if !self.is_holder() && qualified && under_lock && !holder_may {
            actions.push(Action::StandBeside);
        }
        if self.is_holder() {
            if !self.state.trail.is_empty() && !redo::no_step_back(self.state) {
                actions.push(Action::Back);
            }
            actions.extend([Action::Pause, Action::HandOver, Action::LeaveLockedOut]);
        }
        self.always(actions);
    }

    /// What is on every screen of an open job.
    fn always(&self, actions: &mut Vec<Action>) {
        if !group_lockout::may_come_off(self.edition, self.state, self.viewer.who).is_empty() {
            actions.push(Action::TakeOwnLockOff);
        }
        if self.is_holder() || self.has_role(Role::Supervisor) {
            actions.push(share::offered(self.state));
        }
        actions.extend([Action::CallSupervisor, Action::Stop, Action::Emergency]);
    }

    fn offered(&self, prompt: &mut Prompt) {
        let to_me = self.state.offer.as_ref().is_some_and(|offer| {
            !self.is_holder() && offer.to.is_none_or(|to| to == self.viewer.who)
        });
        prompt.caution = Some(
            "A handover voids every proof. The next person hangs their own lock before the last \
             one comes off."
                .into(),
        );
        prompt.say = if self.is_holder() {
            "This job is offered. Stay until it is taken and the next lock hangs.".into()
        } else {
            "This job is offered. Take it only when you stand at the evaporator.".into()
        };
        prompt
            .notes
            .extend(notes::sources(self.edition, self.state));
        prompt.ask = Ask::WaitFor { roles: Vec::new() };
        if to_me {
            prompt.actions.push(Action::TakeOver);
        }
        if self.is_holder() {
            prompt.actions.push(Action::KeepJob);
        }
        self.always(&mut prompt.actions);
    }

    fn present_state(&self, prompt: &mut Prompt) {
        prompt.caution = Some(
            "Going back here changes nothing at the panel. Every proof you crossed is void.".into(),
        );
        prompt.say = "Look at the panel now. Is it as recorded?".into();
        prompt.notes = notes::sources(self.edition, self.state);
        if self.is_holder() {
            prompt.ask = Ask::Press(vec![
                button(STATE_CHANGED, "Something is different"),
                button(AS_RECORDED, "I looked: as recorded"),
            ]);
            prompt.actions.push(Action::Pause);
        } else {
            prompt.ask = Ask::WaitFor { roles: Vec::new() };
        }
        self.always(&mut prompt.actions);
    }

    fn paused(&self, prompt: &mut Prompt) {
        prompt.say = "This job is paused. After a long pause every proof is void.".into();
        prompt.notes = notes::sources(self.edition, self.state);
        if self.is_holder() {
            prompt.actions.extend([Action::Resume, Action::HandOver]);
        }
        if self.state.offer.is_some() {
            self.offered(prompt);
            return;
        }
        self.always(&mut prompt.actions);
    }

    fn stopped(&self, prompt: &mut Prompt, why: Option<&str>) {
        prompt.title = "Work is stopped".into();
        prompt.caution = Some(
            "Hands out. Step back. Leave every lock where it hangs. Switch nothing on.".into(),
        );
        prompt.notes = notes::sources(self.edition, self.state);
        match why {
            None => {
                prompt.say = "Your supervisor is told. What is wrong?".into();
                prompt.ask = Ask::Words {
                    characters_max: 500,
                };
            }
            Some(why) => {
                prompt.notes.insert(
                    0,
                    Note {
                        tone: Tone::Warning,
                        text: format!("Why: {why}"),
                    },
                );
                prompt.say = "Wait for a supervisor, or leave it as it is with an owner.".into();
                prompt.ask = Ask::WaitFor {
                    roles: vec![Role::Supervisor],
                };
            }
        }
        if self.has_role(Role::Supervisor) && why.is_some() {
            prompt.actions.push(Action::LiftStop);
        }
        if self.is_holder() {
            prompt
                .actions
                .extend([Action::LeaveLockedOut, Action::HandOver]);
        }
        prompt
            .actions
            .extend([Action::CallSupervisor, Action::Emergency]);
    }

    fn leaving(&self, prompt: &mut Prompt, owner: Option<&str>) {
        prompt.title = "Leaving it with an owner".into();
        prompt.caution = Some("Your locks stay on. Take the key with you.".into());
        prompt.notes = notes::sources(self.edition, self.state);
        if !self.is_holder() {
            prompt.say = "The job is being left with an owner.".into();
            prompt.ask = Ask::WaitFor { roles: Vec::new() };
        } else if owner.is_none() {
            prompt.say = "Who owns what is open here? Name the person.".into();
            prompt.ask = Ask::Words {
                characters_max: 500,
            };
        } else {
            prompt.say = "When will it be looked at again? Day and time.".into();
            prompt.ask = Ask::Words {
                characters_max: 500,
            };
        }
        if self.is_holder() {
            prompt.actions.push(Action::KeepWorking);
        }
        self.always(&mut prompt.actions);
    }

    fn left(&self, prompt: &mut Prompt, owner: &str, again: &str) {
        let locked = self.state.has_locks();
        prompt.title = if locked {
            "Left locked out".into()
        } else {
            "Left open".into()
        };
        prompt.notes = notes::sources(self.edition, self.state);
        prompt.say = format!("Owner: {owner}. Looked at again: {again}.");
        if self.is_holder() && self.state.review != Review::Accepted {
            prompt.actions.push(Action::Resume);
        }
        self.over(prompt);
    }

    fn finished(&self, prompt: &mut Prompt, label: &str) {
        prompt.notes = notes::told(self);
        let said = here(self.edition, self.state)
            .map(|(_, step)| step.say.fill(&self.state.facts()))
            .unwrap_or_default();
        prompt.say = if said.is_empty() {
            format!("{label}.")
        } else {
            said
        };
        prompt.notes.push(Note {
            tone: Tone::Plain,
            text: format!("How it ended: {label}."),
        });
        let sent_back = matches!(self.state.review, Review::SentBack { .. });
        if self.is_holder() && redo::is_wanted(self.state) {
            prompt.actions.push(Action::Resume);
        } else if self.is_holder() && sent_back {
            prompt.actions.push(Action::Back);
        }
        self.over(prompt);
    }

    /// Review of a job that is over.
    fn over(&self, prompt: &mut Prompt) {
        let holder = self.is_holder();
        let training = self.state.pins.training;
        let told = match &self.state.review {
            Review::None if training => "This is a TRAINING walk. It cannot be handed in.".into(),
            Review::None if holder => {
                prompt.actions.insert(0, Action::HandIn);
                return;
            }
            Review::None => "It is not handed in yet.".into(),
            Review::HandedIn => "It is handed in. A supervisor reads it.".into(),
            Review::SentBack { remark } => {
                if redo::is_wanted(self.state) {
                    self.sent_back(prompt);
                    return;
                }
                if holder {
                    prompt.actions.push(Action::HandIn);
                }
                format!("Sent back: {remark}")
            }
            Review::Accepted => "It is accepted.".into(),
        };
        prompt.notes.push(Note {
            tone: Tone::Plain,
            text: told,
        });
    }

    /// The chart of the last result of a formula.
    fn chart_of(&self, formula: &str) -> Option<Chart> {
        drawn(self.state.worked.get(formula)?)
    }

    /// The chart of the formula at hand.
    pub(super) fn chart(&self) -> Option<Chart> {
        drawn(self.state.doing.worked.as_ref()?)
    }

    /// The working of the formula at hand.
    pub(super) fn working(&self) -> Option<Working> {
        let worked = self.state.doing.worked.as_ref()?;
        let formula = crate::trade::formula_named(&worked.formula)?;
        Some(Working {
            formula: worked.formula.clone(),
            symbols: formula.symbols.to_owned(),
            source: formula.source.to_owned(),
            inputs: worked.inputs.clone(),
            results: worked.results.clone().ok()?,
        })
    }
}

/// The chart of a result, if it has one.
fn drawn(worked: &Worked) -> Option<Chart> {
    let results = worked.results.as_ref().ok()?;
    Chart::of(&worked.formula, &worked.inputs, results)
}
