//! What may still be live at each step, by a walk over all ways through all flows at once.
//!
//! It is a picture's reading of the flows, for an evaporator that has every source: it follows
//! what steps set and prove, and takes the engine's word that a touching step is proved.

use std::collections::{BTreeMap, HashMap, HashSet};

use indexmap::IndexMap;

use crate::flow::OUTCOME;
use crate::flow::expression::{Expression, Facts, Node, Truth, WordTerm};
use crate::flow::model::{Act, Branch, Danger, FactType, Flow, Setting, SourceKind, Step};
use crate::flow::name::{FactName, FlowName, OutcomeName, SourceName, StepName};
use crate::trade::formula::Value;

/// The least safe state that may hold when a step is shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Energy {
    /// Something may be switched on.
    Live,
    /// All is opened, but not all is locked.
    Opened,
    /// All is locked, but not all is proved.
    Locked,
    /// All is locked and proved.
    Proved,
    /// The flow names no source.
    NotHere,
}

impl Energy {
    /// All of them, from the least safe on.
    pub const ALL: [Self; 5] = [
        Self::Live,
        Self::Opened,
        Self::Locked,
        Self::Proved,
        Self::NotHere,
    ];

    /// What the diagram calls it.
    pub fn words(self) -> &'static str {
        match self {
            Self::Live => "Something may be live",
            Self::Opened => "Opened, not all locked",
            Self::Locked => "Locked, not all proved",
            Self::Proved => "All locked and proved",
            Self::NotHere => "No source of energy named",
        }
    }
}

/// The states that one source may be in: one bit each.
type May = u8;
const LIVE: May = 1;
const OPENED: May = 2;
const LOCKED: May = 4;
const PROVED: May = 8;

type State = BTreeMap<SourceName, May>;
type ByStep = HashMap<StepName, State>;

/// What may be live at each step of each flow.
pub(super) fn by_step(
    flows: &IndexMap<FlowName, Flow>,
) -> HashMap<FlowName, HashMap<StepName, Energy>> {
    let full = Walk::of(flows, assumed(flows)).steps();
    let any = Walk::of(flows, HashMap::new()).steps();
    let of = |flow: &Flow, step: &Step| {
        let found = [&full, &any].into_iter().find_map(|found| {
            let state = found.get(&flow.name)?.get(&step.name)?;
            Some(state.clone())
        });
        let mut state = found.unwrap_or_else(|| all(flow, LIVE));
        led_through_proof(&mut state, step);
        (step.name.clone(), energy(flow, &state))
    };
    flows
        .values()
        .map(|flow| {
            let steps = flow.steps.values().map(|step| of(flow, step)).collect();
            (flow.name.clone(), steps)
        })
        .collect()
}

fn all(flow: &Flow, may: May) -> State {
    flow.energy.keys().map(|name| (name.clone(), may)).collect()
}

/// Charges and motion count only once every circuit is proved: until then they are no news.
fn energy(flow: &Flow, state: &State) -> Energy {
    let worst = |electrical: bool| {
        flow.energy
            .iter()
            .filter(|(_, source)| (source.kind == SourceKind::Electrical) == electrical)
            .map(|(name, _)| {
                let may = state.get(name).copied().unwrap_or(LIVE);
                match may.trailing_zeros() {
                    0 => Energy::Live,
                    1 => Energy::Opened,
                    2 => Energy::Locked,
                    _ => Energy::Proved,
                }
            })
            .min()
    };
    match (worst(true), worst(false)) {
        (None, None) => Energy::NotHere,
        (Some(Energy::Proved), Some(other)) if other < Energy::Proved => Energy::Locked,
        (Some(circuits), _) => circuits,
        (None, Some(other)) => other,
    }
}

/// The engine leads through the proof before hands go in.
fn led_through_proof(state: &mut State, step: &Step) {
    if let Danger::Touches(sources) = &step.danger {
        for source in sources {
            state.insert(source.it.clone(), PROVED);
        }
    }
}

/// Words of facts that make every source exist.
fn assumed(flows: &IndexMap<FlowName, Flow>) -> HashMap<FactName, Value> {
    let conditions = flows
        .values()
        .flat_map(|flow| flow.energy.values())
        .filter_map(|source| source.exists_when.as_ref());
    let mut assumed = HashMap::new();
    for condition in conditions {
        if let Node::Truth(Truth::Is {
            left,
            right,
            same: true,
        }) = condition.node()
            && let (WordTerm::Fact(fact), WordTerm::Key(key)) = (&left.term, &right.term)
        {
            assumed.insert(fact.clone(), Value::Word(key.as_str().to_owned()));
        }
    }
    assumed
}

struct Known(HashMap<FactName, Value>);

impl Facts for Known {
    fn value(&self, name: &FactName) -> Option<&Value> {
        self.0.get(name)
    }
}

/// All flows with what may come into and out of each; grows until nothing changes.
struct Walk<'a> {
    flows: &'a IndexMap<FlowName, Flow>,
    assumed: HashMap<FactName, Value>,
    changes: HashMap<FlowName, HashSet<SourceName>>,
    entries: HashMap<FlowName, State>,
    exits: HashMap<(FlowName, OutcomeName), State>,
}

impl<'a> Walk<'a> {
    fn of(flows: &'a IndexMap<FlowName, Flow>, assumed: HashMap<FactName, Value>) -> Self {
        let run: Vec<&FlowName> = flows
            .values()
            .flat_map(|flow| flow.steps.values())
            .filter_map(|step| match &step.act {
                Act::Run(run) => Some(&run.flow.it),
                _ => None,
            })
            .collect();
        let roots = flows.values().filter(|flow| !run.contains(&&flow.name));
        let entries = roots
            .map(|flow| (flow.name.clone(), all(flow, LIVE)))
            .collect();
        Self {
            flows,
            assumed,
            changes: changes(flows),
            entries,
            exits: HashMap::new(),
        }
    }

    fn steps(mut self) -> HashMap<FlowName, ByStep> {
        loop {
            let mut changed = false;
            let mut found = HashMap::new();
            for flow in self.flows.values() {
                if let Some(entry) = self.entries.get(&flow.name).cloned() {
                    let (steps, grew) = self.flow(flow, entry);
                    changed |= grew;
                    found.insert(flow.name.clone(), steps);
                }
            }
            if !changed {
                return found;
            }
        }
    }

    fn flow(&mut self, flow: &Flow, entry: State) -> (ByStep, bool) {
        let mut grew = false;
        let mut before: ByStep = HashMap::from([(flow.start.clone(), entry)]);
        let mut todo = vec![flow.start.clone()];
        while let Some(name) = todo.pop() {
            let (Some(step), Some(state)) = (flow.steps.get(&name), before.get(&name).cloned())
            else {
                continue;
            };
            for (state, outcome) in self.after(flow, step, state, &mut grew) {
                for next in self.ways(flow, step, outcome.as_ref()) {
                    let fresh = !before.contains_key(next);
                    if join(before.entry(next.clone()).or_default(), &state) || fresh {
                        todo.push(next.clone());
                    }
                }
            }
        }
        (before, grew)
    }

    /// What may hold after a step; for a flow that is run, for each of its outcomes.
    fn after(
        &mut self,
        flow: &Flow,
        step: &Step,
        mut state: State,
        grew: &mut bool,
    ) -> Vec<(State, Option<OutcomeName>)> {
        led_through_proof(&mut state, step);
        match &step.act {
            Act::Finish { outcome } => {
                let key = (flow.name.clone(), outcome.clone());
                *grew |= !self.exits.contains_key(&key);
                *grew |= join(self.exits.entry(key).or_default(), &state);
                Vec::new()
            }
            Act::Run(run) => {
                let Some(callee) = self.flows.get(&run.flow.it) else {
                    return vec![(state, None)];
                };
                let own = |its: &SourceName| {
                    let bound = run.energy.get(its);
                    bound.unwrap_or(its).clone()
                };
                let entry: State = callee
                    .energy
                    .keys()
                    .map(|its| (its.clone(), state.get(&own(its)).copied().unwrap_or(LIVE)))
                    .collect();
                *grew |= !self.entries.contains_key(&callee.name);
                *grew |= join(self.entries.entry(callee.name.clone()).or_default(), &entry);
                let ends = callee.outcomes.keys().filter_map(|outcome| {
                    let exit = self.exits.get(&(callee.name.clone(), outcome.clone()))?;
                    let mut state = state.clone();
                    let changed = self.changes.get(&callee.name);
                    let changed = |its: &&SourceName| changed.is_some_and(|all| all.contains(*its));
                    for its in exit.keys().filter(changed) {
                        state.insert(own(its), exit.get(its).copied().unwrap_or(LIVE));
                    }
                    Some((state, Some(outcome.clone())))
                });
                ends.collect()
            }
            _ => {
                done(flow, step, &mut state);
                vec![(state, None)]
            }
        }
    }

    /// The steps that may follow, where conditions are decided by what is assumed.
    fn ways<'s>(
        &self,
        flow: &Flow,
        step: &'s Step,
        outcome: Option<&OutcomeName>,
    ) -> Vec<&'s StepName> {
        let mut known: HashMap<FactName, Value> = self
            .assumed
            .iter()
            .filter(|(name, value)| may_hold(flow, name, value))
            .map(|(name, value)| (name.clone(), value.clone()))
            .collect();
        if let Some(outcome) = outcome {
            let word = Value::Word(outcome.as_str().to_owned());
            known.insert(FactName::from(OUTCOME), word);
        }
        let known = Known(known);
        let mut ways: Vec<&StepName> = step.other_ways().map(|(way, _)| &way.it).collect();
        let decided = |when: &Expression| {
            // What is assumed does not tell which other facts somebody knows by then.
            let asks = when.known_asks();
            let can_tell = asks.iter().all(|fact| known.value(fact).is_some());
            can_tell.then(|| when.holds(&known).ok()).flatten()
        };
        for Branch { when, go } in &step.then {
            match when.as_ref().map(decided) {
                Some(Some(false)) => {}
                Some(None) => ways.push(&go.it),
                None | Some(Some(true)) => {
                    ways.push(&go.it);
                    break;
                }
            }
        }
        ways
    }
}

/// The sources whose state each flow changes; what it leaves alone is as its runner left it.
fn changes(flows: &IndexMap<FlowName, Flow>) -> HashMap<FlowName, HashSet<SourceName>> {
    let mut changes: HashMap<FlowName, HashSet<SourceName>> = HashMap::new();
    loop {
        let before: usize = changes.values().map(HashSet::len).sum();
        for flow in flows.values() {
            let mut changed: HashSet<SourceName> = HashSet::new();
            for step in flow.steps.values() {
                changed.extend(step.sets.iter().map(|(source, _)| source.it.clone()));
                if let Danger::Touches(sources) = &step.danger {
                    changed.extend(sources.iter().map(|source| source.it.clone()));
                }
                match &step.act {
                    Act::ProveDead(proof) => {
                        let sources = proof.sources.iter();
                        changed.extend(sources.map(|(source, _)| source.it.clone()));
                    }
                    Act::Run(run) => {
                        let its = changes.get(&run.flow.it).into_iter().flatten();
                        let own = its.map(|its| run.energy.get(its).unwrap_or(its).clone());
                        changed.extend(own);
                    }
                    _ => {}
                }
            }
            changes.insert(flow.name.clone(), changed);
        }
        if changes.values().map(HashSet::len).sum::<usize>() == before {
            return changes;
        }
    }
}

fn may_hold(flow: &Flow, name: &FactName, value: &Value) -> bool {
    match (flow.facts.get(name).map(|fact| &fact.holds), value) {
        (Some(FactType::OneOf(choices)), Value::Word(word)) => choices.contains_key(word.as_str()),
        _ => false,
    }
}

fn join(into: &mut State, more: &State) -> bool {
    let mut changed = false;
    for (name, may) in more {
        let old = into.entry(name.clone()).or_default();
        changed |= *old | may != *old;
        *old |= may;
    }
    changed
}

/// What answering a step does.
fn done(flow: &Flow, step: &Step, state: &mut State) {
    if let Act::ProveDead(proof) = &step.act {
        for (source, _) in &proof.sources {
            state.insert(source.it.clone(), PROVED);
        }
    }
    for (source, setting) in &step.sets {
        let may = match setting {
            Setting::Opened | Setting::Unlocked | Setting::Waited | Setting::Stopped => OPENED,
            Setting::Locked => LOCKED,
            Setting::Blocked => PROVED,
            Setting::Closed | Setting::Freed => LIVE,
        };
        state.insert(source.it.clone(), may);
        if *setting == Setting::Closed {
            let fed = flow.energy.iter();
            for (name, _) in fed.filter(|(_, it)| it.fed_by.as_ref() == Some(&source.it)) {
                state.insert(name.clone(), LIVE);
            }
        }
    }
}
