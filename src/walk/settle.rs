//! Going on by itself until a person is needed: into flows and out of them, past what is not
//! there, and through the proof before hands go in.

use std::collections::BTreeMap;

use jiff::SignedDuration;

use super::draft::Draft;
use super::refusal::Refusal;
use super::state::Mode;
use crate::flow::expression::{Facts, Missing};
use crate::flow::model::{Act, Branch, Flow, Run, Source, Step, WorkOut};
use crate::flow::name::{FactName, FlowName, SourceName, StepName};
use crate::record::entry::{FactRef, What};
use crate::trade::formula::{Arguments, Value};

/// More moves than this without a person means that a flow runs in a circle.
const MOVES_MAX: usize = 500;

/// The outcome with which a job may end while locks hang: its flow has asked for an owner.
const LEFT_LOCKED: &str = "left_locked_out";

impl Draft<'_> {
    /// Goes on until the step at hand needs a person, or the walk is over.
    pub(super) fn settle(&mut self) -> Result<(), Refusal> {
        for _ in 0..MOVES_MAX {
            if !self.state.is_open() || !self.moved()? {
                return Ok(());
            }
        }
        Err(Refusal::NotNow(
            "This flow runs in a circle without asking anything. Nothing was changed. Tell your \
             supervisor."
                .to_owned(),
        ))
    }

    /// Makes one move; false when a person is needed.
    fn moved(&mut self) -> Result<bool, Refusal> {
        let (flow, step) = self.here()?;
        if self.state.mode != Mode::Walking {
            return Ok(false);
        }
        if self.concerns_nothing_here(step) {
            self.branch(step)?;
            return Ok(true);
        }
        if let Some(source) = self.unprotected(step, self.state.holder) {
            if self.looks_ahead {
                return Ok(false);
            }
            return self.protect(flow, &source);
        }
        match &step.act {
            Act::Run(run) => {
                self.enter(run)?;
                Ok(true)
            }
            Act::Finish { .. } => self.finish(flow, step),
            Act::Wait { long, .. } if self.state.doing.until.is_none() => {
                let long = long
                    .quantity(&self.state.facts())
                    .map_err(|missing| self.unknown(missing))?;
                self.begin_wait(step, long.si);
                Ok(false)
            }
            Act::WorkOut(work) if self.state.doing.worked.is_none() => {
                self.work_out(step, work)?;
                Ok(false)
            }
            _ => Ok(false),
        }
    }

    /// Takes the first branch of `step` whose condition holds.
    fn branch(&mut self, step: &Step) -> Result<(), Refusal> {
        let step = self.way_on(step)?;
        self.push(What::Went { step });
        Ok(())
    }

    /// Goes on after `step` was answered, by its first branch whose condition holds.
    pub(super) fn go_on(&mut self, step: &Step) -> Result<(), Refusal> {
        let to = self.way_on(step)?;
        self.go(step, &to)
    }

    fn way_on(&self, step: &Step) -> Result<StepName, Refusal> {
        for Branch { when, go } in &step.then {
            let taken = when.as_ref().map_or(Ok(true), |when| self.holds(when))?;
            if taken {
                return Ok(go.it.clone());
            }
        }
        Err(Refusal::NotNow(
            "This step leads nowhere. Tell your supervisor.".to_owned(),
        ))
    }

    /// Walks the flow that proves `source` before the touching step is entered.
    fn protect(&mut self, flow: &Flow, source: &SourceName) -> Result<bool, Refusal> {
        let local = self.local_name(flow, source);
        let prover = local.and_then(|source: &Source| source.proved_by.clone());
        let on_top = self.state.top().map(|call| &call.flow);
        if let Some(name) = prover.as_ref().filter(|name| on_top == Some(*name))
            && let Some(again) = self.edition.flow(name)
        {
            // The proof became void within the proving flow itself: it begins again.
            self.push(What::Went {
                step: again.start.clone(),
            });
            return Ok(true);
        }
        let already = prover
            .as_ref()
            .is_some_and(|prover| self.state.stack.iter().any(|call| call.flow == *prover));
        let tried = self.state.doing.reproof_outcome.is_some();
        let prover = prover
            .filter(|_| !already && !tried)
            .and_then(|name| self.edition.flow(&name));
        let Some(prover) = prover else {
            self.stop_before_touching(source);
            return Ok(false);
        };
        let facts = self.same_named_needs(prover);
        let sources = self.bind(prover, |name| name.clone());
        self.enter_flow(prover, true, facts, sources)?;
        Ok(true)
    }

    fn stop_before_touching(&mut self, source: &SourceName) {
        let label = self.state.sources.get(source).map_or_else(
            || source.to_string(),
            |source| source.declared.label.clone(),
        );
        self.push(What::Stopped);
        self.push(What::StopExplained {
            why: format!("{label} is not proved dead with your own lock on it."),
        });
    }

    fn local_name<'f>(&self, flow: &'f Flow, root: &SourceName) -> Option<&'f Source> {
        flow.energy
            .iter()
            .find(|(name, _)| self.state.root_source(name) == *root)
            .map(|(_, s)| s)
    }

    fn enter(&mut self, run: &Run) -> Result<(), Refusal> {
        let Some(other) = self.edition.flow(&run.flow.it) else {
            return Err(Refusal::NotNow(format!(
                "There is no flow {}.",
                run.flow.it
            )));
        };
        let mut facts = BTreeMap::new();
        for need in &other.needs {
            let value = match run.with.get(&need.it) {
                Some(expression) => Some(
                    expression
                        .eval(&self.state.facts())
                        .map_err(|missing| self.unknown(missing))?,
                ),
                None => self.state.facts().value(&need.it).cloned(),
            };
            if let Some(value) = value {
                facts.insert(need.it.clone(), value);
            }
        }
        let sources = self.bind(other, |name| run.energy.get(name).unwrap_or(name).clone());
        self.enter_flow(other, false, facts, sources)
    }

    fn same_named_needs(&self, other: &Flow) -> BTreeMap<FactName, Value> {
        let facts = self.state.facts();
        let known = |name: &FactName| Some((name.clone(), facts.value(name)?.clone()));
        other
            .needs
            .iter()
            .filter_map(|need| known(&need.it))
            .collect()
    }

    fn bind(
        &self,
        other: &Flow,
        own: impl Fn(&SourceName) -> SourceName,
    ) -> BTreeMap<SourceName, SourceName> {
        let bound = |name: &SourceName| (name.clone(), self.state.root_source(&own(name)));
        other.energy.keys().map(bound).collect()
    }

    fn enter_flow(
        &mut self,
        flow: &Flow,
        reproof: bool,
        facts: BTreeMap<FactName, Value>,
        sources: BTreeMap<SourceName, SourceName>,
    ) -> Result<(), Refusal> {
        let instance = self.instance(&flow.name, reproof)?;
        self.push(What::Entered {
            flow: flow.name.clone(),
            instance,
            reproof,
            facts,
            sources,
        });
        self.push(What::Went {
            step: flow.start.clone(),
        });
        Ok(())
    }

    /// The number of this walk through `flow`: the next one, but after going back across its
    /// beginning the same again, so that its earlier answers are at hand.
    fn instance(&self, flow: &FlowName, reproof: bool) -> Result<u32, Refusal> {
        let ahead = self.state.ahead.iter().find(|ahead| ahead.flow == *flow);
        if let (Some(ahead), false) = (ahead, reproof) {
            return Ok(ahead.instance);
        }
        let walked = self.state.rooms.keys().filter(|(name, _)| name == flow);
        let last = walked.map(|(_, instance)| *instance).max().unwrap_or(0);
        last.checked_add(1)
            .ok_or_else(|| Refusal::NotNow("This flow was walked too often.".to_owned()))
    }

    fn finish(&mut self, flow: &Flow, step: &Step) -> Result<bool, Refusal> {
        let Act::Finish { outcome } = &step.act else {
            return Ok(false);
        };
        let label = flow.outcomes.get(outcome).cloned().unwrap_or_default();
        let said = step.say.fill(&self.state.facts());
        if self.state.stack.len() < 2 && self.state.has_locks() && outcome.as_str() != LEFT_LOCKED {
            // Whatever a flow says, no job ends with a lock that nobody owns.
            self.push(What::LeaveAsked);
            return Ok(false);
        }
        if self.state.stack.len() < 2 {
            self.push(What::Finished {
                outcome: outcome.clone(),
                label,
            });
            return Ok(false);
        }
        let facts = self.given();
        let given: Vec<FactName> = facts.keys().cloned().collect();
        let reproof = self.top()?.reproof;
        self.push(What::CameBack {
            outcome: outcome.clone(),
            said,
            facts,
        });
        if !reproof {
            let (_, runner) = self.here()?;
            if let Act::Run(run) = &runner.act {
                self.unconfirm(run.take.keys().filter(|own| !given.contains(own)));
            }
            self.branch(runner)?;
        }
        Ok(true)
    }

    /// What a flow or a formula gave another time does not hold when it gave nothing this time.
    fn unconfirm<'n>(&mut self, names: impl Iterator<Item = &'n FactName>) {
        let (Some(call), facts) = (self.state.top(), self.state.facts()) else {
            return;
        };
        let known = names.filter(|name| facts.value(name).is_some());
        let stale: Vec<FactRef> = known
            .map(|fact| FactRef {
                flow: call.flow.clone(),
                instance: call.instance,
                fact: fact.clone(),
            })
            .collect();
        if !stale.is_empty() {
            self.push(What::Unconfirmed { facts: stale });
        }
    }

    /// The runner's facts that take what the flow on top gives.
    fn given(&self) -> BTreeMap<FactName, Value> {
        let below = self
            .state
            .stack
            .len()
            .checked_sub(2)
            .and_then(|at| self.state.stack.get(at));
        let runner = below.and_then(|call| self.edition.step(&call.flow, &call.step));
        let Some(Act::Run(run)) = runner.map(|step| &step.act) else {
            return BTreeMap::new();
        };
        let facts = self.state.facts();
        run.take
            .iter()
            .filter_map(|(own, given)| Some((own.clone(), facts.value(given)?.clone())))
            .collect()
    }

    pub(super) fn begin_wait(&mut self, step: &Step, seconds: f64) {
        let long =
            SignedDuration::try_from_secs_f64(seconds.max(0.0)).unwrap_or(SignedDuration::ZERO);
        let from = self.context.now.max(self.state.last_at);
        let until = from.checked_add(long).unwrap_or(from);
        self.push(What::WaitBegan {
            step: step.name.clone(),
            until,
        });
    }

    fn work_out(&mut self, step: &Step, work: &WorkOut) -> Result<(), Refusal> {
        let mut inputs = Arguments::default();
        let mut unknown = None;
        for (name, expression) in &work.with {
            match expression.eval(&self.state.facts()) {
                Ok(value) => drop(inputs.0.insert(name.clone(), value)),
                Err(Missing::Fact(_)) if may_lack(work, name) => {}
                Err(missing) => unknown = Some(self.unknown(missing).to_string()),
            }
        }
        let results = match unknown {
            Some(unknown) => Err(unknown),
            None => work
                .formula
                .work_out(&inputs, &self.context.goods)
                .map_err(|cannot| cannot.to_string()),
        };
        let given = |(fact, name): (&FactName, &String)| {
            let value = results.as_ref().ok()?.get(name)?;
            Some((fact.clone(), value.clone()))
        };
        let facts: BTreeMap<FactName, Value> = work.store.iter().filter_map(given).collect();
        let stored: Vec<FactName> = facts.keys().cloned().collect();
        self.push(What::WorkedOut {
            step: step.name.clone(),
            formula: work.formula.name.to_owned(),
            version: work.formula.version,
            inputs,
            results,
            facts,
        });
        self.unconfirm(work.store.keys().filter(|fact| !stored.contains(fact)));
        Ok(())
    }
}

/// Whether the formula does without this input.
fn may_lack(work: &WorkOut, name: &str) -> bool {
    work.formula
        .takes
        .iter()
        .any(|takes| takes.name == name && takes.unless_given.is_some())
}
