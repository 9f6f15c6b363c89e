//! One energy source of one beginning flow, followed by its local names through every flow.

use super::super::exists;
use super::super::ground::{Ground, Place, Way};
use super::super::track::{Leaving, Track};
use super::ladder::{self, ABSENT, Done};
use crate::flow::model::{Act, Danger, Flow, Setting, Source, Step};
use crate::flow::name::{ChoiceKey, FactName, SourceName};

/// The outcome with which a job may end while locks hang.
const LEFT_LOCKED: &str = "left_locked_out";

/// The flows with which a walk begins: those that no other runs, and that prove nothing for
/// others.
pub(super) fn begins(ground: &Ground<'_>) -> Vec<usize> {
    let flows = 0..ground.flows.len();
    flows
        .filter(|flow| ground.flow(*flow).is_root && !ground.flow(*flow).flow.energy.is_empty())
        .collect()
}

/// What a source is called inside a flow.
#[derive(Clone, PartialEq, Eq, Hash)]
pub(super) struct Names {
    own: Vec<SourceName>,
    feeders: Vec<SourceName>,
    /// The facts that its existence rests on: here, and as the beginning flow calls them.
    facts: Vec<(FactName, FactName)>,
}

/// One source, with every flow's branches that its existence decides.
pub(super) struct SourceTrack<'g, 'a> {
    ground: &'g Ground<'a>,
    root: usize,
    name: &'a SourceName,
    source: &'a Source,
}

impl<'g, 'a> SourceTrack<'g, 'a> {
    pub(super) fn new(ground: &'g Ground<'a>, root: usize, name: &SourceName) -> Option<Self> {
        let (name, source) = ground.flow(root).flow.energy.get_key_value(name)?;
        Some(Self {
            ground,
            root,
            name,
            source,
        })
    }

    pub(super) fn name(&self) -> &'a SourceName {
        self.name
    }

    pub(super) fn source(&self) -> &'a Source {
        self.source
    }

    fn done(&self, names: &Names, at: Place) -> Done {
        let step: &Step = self.ground.step(at);
        let is = |list: &[SourceName], name: &SourceName| list.contains(name);
        let set_on = |list: &[SourceName]| -> Option<Setting> {
            let mut sets = step.sets.iter();
            sets.find(|(source, _)| is(list, &source.it))
                .map(|(_, set)| *set)
        };
        let only_answered = !matches!(step.act, Act::Run(_));
        Done {
            sets: set_on(&names.own).filter(|_| only_answered),
            feeder: set_on(&names.feeders).filter(|_| only_answered),
            tests: match &step.act {
                Act::ProveDead(proof) => {
                    let mut sources = proof.sources.iter();
                    sources.any(|(source, _)| is(&names.own, &source.it))
                }
                _ => false,
            },
            touches: match &step.danger {
                Danger::Touches(list) => list.iter().any(|source| is(&names.own, &source.it)),
                Danger::HandsOff | Danger::TestsLive { .. } => false,
            },
            ends: self.ground.flow(at.flow).is_root
                && matches!(&step.act, Act::Finish { outcome } if outcome.as_str() != LEFT_LOCKED),
        }
    }

    /// The names in a flow that binds by the same names.
    fn named_alike(&self, names: &Names, flow: usize) -> Names {
        let inner = self.ground.flow(flow).flow;
        let has = |name: &SourceName| inner.energy.contains_key(name);
        let needs = |name: &FactName| inner.needs.iter().any(|need| need.it == *name);
        let kept = |list: &[SourceName]| list.iter().filter(|it| has(it)).cloned().collect();
        Names {
            own: kept(&names.own),
            feeders: kept(&names.feeders),
            facts: names
                .facts
                .iter()
                .filter(|(here, _)| needs(here))
                .cloned()
                .collect(),
        }
    }

    /// Whether the branch can be taken where the source is there, or where it is not.
    fn is_open(&self, names: &Names, leaving: &Leaving, present: bool) -> bool {
        let Way::Then(branch) = leaving.edge.way else {
            return true;
        };
        let flow = self.ground.flow(leaving.at.flow).flow;
        let step = self.ground.step(leaving.at);
        let outcome = leaving.outcome.and_then(|outcome| {
            let run = self.ground.flow(leaving.at.flow).runs[leaving.at.step]?;
            self.ground.flow(run).flow.outcomes.get_index(outcome)
        });
        let outcome = outcome.map(|(name, _)| name.as_str());
        if step.then.len() < 2 {
            return true;
        }
        let asked: Vec<&FactName> = names.facts.iter().map(|(here, _)| here).collect();
        let combinations = match &self.source.exists_when {
            Some(_) if !asked.is_empty() => exists::combinations(&flow.facts, &asked),
            _ => None,
        };
        let combinations = combinations.unwrap_or_else(|| vec![Vec::new()]);
        combinations.iter().any(|taken| {
            self.fits(names, taken, present) && exists::may_take(step, branch, taken, outcome)
        })
    }

    /// Whether the facts as taken let the source be there, or be absent.
    fn fits(&self, names: &Names, taken: &[(&FactName, ChoiceKey)], present: bool) -> bool {
        let Some(exists_when) = &self.source.exists_when else {
            return true;
        };
        let at_root: Vec<(&FactName, &str)> = taken
            .iter()
            .filter_map(|(here, key)| {
                let (_, root) = names.facts.iter().find(|(name, _)| name == *here)?;
                Some((root, key.as_str()))
            })
            .collect();
        exists::holds(exists_when, &at_root) != Some(!present)
    }
}

impl Track for SourceTrack<'_, '_> {
    type Frame = Names;

    fn states(&self) -> usize {
        ladder::STATES
    }

    fn begins(&self) -> Vec<(usize, Names, Vec<u8>)> {
        let flow = self.ground.flow(self.root).flow;
        let mut feeders: Vec<SourceName> = Vec::new();
        let mut next = self.source.fed_by.as_ref();
        while let Some(feeder) = next
            && !feeders.contains(feeder)
        {
            feeders.push(feeder.clone());
            next = flow.energy.get(feeder).and_then(|it| it.fed_by.as_ref());
        }
        let facts = match &self.source.exists_when {
            Some(condition) => condition.facts().into_iter().cloned().collect(),
            None => Vec::new(),
        };
        let names = Names {
            own: vec![self.name.clone()],
            feeders,
            facts: facts
                .into_iter()
                .map(|name: FactName| (name.clone(), name))
                .collect(),
        };
        let mut states = vec![ladder::live()];
        if self.source.exists_when.is_some() {
            states.push(ABSENT);
        }
        let mut begins = vec![(self.root, names.clone(), states.clone())];
        // A flow that is only named as the one that proves is walked by the engine alone.
        let provers = flow.energy.values().filter_map(|it| it.proved_by.as_ref());
        let mut provers: Vec<usize> = provers.filter_map(|it| self.ground.number(it)).collect();
        provers.sort_unstable();
        provers.dedup();
        for prover in provers {
            if self.ground.flow(prover).is_run || prover == self.root {
                continue;
            }
            begins.push((prover, self.named_alike(&names, prover), states.clone()));
        }
        begins
    }

    fn enter(&self, names: &Names, at: Place, flow: usize) -> Names {
        let inner: &Flow = self.ground.flow(flow).flow;
        let Some(run) = self.ground.run(at) else {
            return names.clone();
        };
        let bound = |list: &[SourceName]| -> Vec<SourceName> {
            let mine = inner.energy.keys();
            mine.filter(|name| list.contains(run.energy.get(*name).unwrap_or(name)))
                .cloned()
                .collect()
        };
        let mut facts: Vec<(FactName, FactName)> = Vec::new();
        for need in &inner.needs {
            let given = match run.with.get(&need.it) {
                Some(expression) => expression.bare_fact(),
                None => Some(&need.it),
            };
            let root = names.facts.iter().find(|(here, _)| Some(here) == given);
            if let Some((_, root)) = root
                && !facts.iter().any(|(_, known)| known == root)
            {
                facts.push((need.it.clone(), root.clone()));
            }
        }
        let (own, feeders) = (bound(&names.own), bound(&names.feeders));
        if own.is_empty() && feeders.is_empty() {
            facts.clear();
        }
        Names {
            own,
            feeders,
            facts,
        }
    }

    fn is_idle(&self, names: &Names) -> bool {
        names.own.is_empty() && names.feeders.is_empty()
    }

    fn arrive(&self, names: &Names, at: Place, state: u8) -> Option<(u8, u8)> {
        let done = self.done(names, at);
        let (fault, then) = ladder::fault(self.source.kind, state, done)?;
        Some((fault.number(), then))
    }

    fn leave(&self, names: &Names, leaving: &Leaving, state: u8) -> Option<u8> {
        if !self.is_open(names, leaving, state != ABSENT) {
            return None;
        }
        let done = self.done(names, leaving.at);
        let passed = leaving.edge.way != Way::NotDead;
        Some(ladder::after(self.source.kind, state, done, passed))
    }

    fn deals_with(&self, names: &Names, at: Place) -> bool {
        let done = self.done(names, at);
        done.sets.is_some() || done.feeder.is_some() || done.tests
    }

    fn describe(&self, state: u8) -> String {
        let words = ladder::words(self.source.kind, state);
        format!("{}: {words}", self.source.label)
    }
}
