//! Which facts are answered on every way to a step, across `run`.
//!
//! Forward and by intersection over each flow, the flows that are run first: a flow's own answer
//! is, for each outcome, which of its facts are answered on every way to it, where its runner
//! has given all that it needs.

use std::collections::HashMap;

use super::cases::Cases;
use super::exists;
use super::ground::{Edge, Graph, Ground, Place, Way};
use crate::flow::model::{Act, Step};
use crate::flow::name::FactName;

/// A set of the facts of one flow, by number.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Facts(Vec<u64>);

impl Facts {
    fn none(count: usize) -> Self {
        Self(vec![0; count.div_ceil(64)])
    }

    fn add(&mut self, fact: usize) {
        self.0[fact / 64] |= 1 << (fact % 64);
    }

    fn remove(&mut self, fact: usize) {
        self.0[fact / 64] &= !(1 << (fact % 64));
    }

    fn has(&self, fact: usize) -> bool {
        self.0[fact / 64] & (1 << (fact % 64)) != 0
    }

    /// Keeps what is in both; whether anything went.
    fn keep(&mut self, other: &Self) -> bool {
        let mut went = false;
        for (mine, other) in self.0.iter_mut().zip(&other.0) {
            went |= *mine & !other != 0;
            *mine &= other;
        }
        went
    }
}

/// For each outcome that can be come to, which facts are answered there.
type Ends = HashMap<usize, Facts>;

/// What is answered before each step of each flow.
pub(super) struct Answers {
    before: Vec<Vec<Option<Facts>>>,
    ends: Vec<Ends>,
}

impl Answers {
    pub(super) fn of(ground: &Ground<'_>) -> Self {
        let mut before: Vec<Vec<Option<Facts>>> = vec![Vec::new(); ground.flows.len()];
        let mut ends: Vec<Ends> = vec![Ends::new(); ground.flows.len()];
        for flow in ground.runners_first.iter().rev() {
            let found = one_flow(ground, *flow, &ends);
            ends[*flow] = ends_of(ground.flow(*flow), &found);
            before[*flow] = found;
        }
        Self { before, ends }
    }

    /// Whether a fact is answered on every way on which a branch of a step is looked at.
    pub(super) fn has_at_branch(
        &self,
        ground: &Ground<'_>,
        place: Place,
        branch: usize,
        fact: &FactName,
    ) -> bool {
        let facts = &ground.flow(place.flow).flow.facts;
        let (Some(number), Some(before)) = (
            facts.get_index_of(fact),
            self.before[place.flow][place.step].as_ref(),
        ) else {
            return true;
        };
        let edge = Edge {
            to: place.step,
            way: Way::Then(branch),
        };
        let after = after(ground, place, &edge, before, &self.ends);
        after.iter().all(|after| after.has(number))
    }

    /// Whether a fact is answered on every way to a step; true where no way leads there.
    pub(super) fn has(&self, ground: &Ground<'_>, place: Place, fact: &FactName) -> bool {
        let facts = &ground.flow(place.flow).flow.facts;
        let (Some(number), Some(before)) = (
            facts.get_index_of(fact),
            self.before[place.flow][place.step].as_ref(),
        ) else {
            return true;
        };
        before.has(number)
    }
}

/// Needs of which a flow asks whether they are known: it does without them.
pub(super) fn optional_needs<'a>(graph: &Graph<'a>) -> Vec<&'a FactName> {
    let conditions = graph.steps.iter().flat_map(|step| &step.then);
    let conditions = conditions.filter_map(|branch| branch.when.as_ref());
    let asked = conditions.flat_map(|when| when.known_asks());
    let is_need = |fact: &FactName| graph.flow.needs.iter().any(|need| need.it == *fact);
    asked.filter(|fact| is_need(fact)).collect()
}

fn ends_of(graph: &Graph<'_>, before: &[Option<Facts>]) -> Ends {
    let mut ends = Ends::new();
    for (step, before) in graph.steps.iter().zip(before) {
        if let (Act::Finish { outcome }, Some(before)) = (&step.act, before) {
            let known = ends
                .entry(graph.outcome(outcome))
                .or_insert_with(|| before.clone());
            known.keep(before);
        }
    }
    ends
}

fn one_flow(ground: &Ground<'_>, flow: usize, ends: &[Ends]) -> Vec<Option<Facts>> {
    let graph = ground.flow(flow);
    let facts = &graph.flow.facts;
    let mut before: Vec<Option<Facts>> = vec![None; graph.steps.len()];
    let mut first = Facts::none(facts.len());
    let optional = optional_needs(graph);
    for need in graph
        .flow
        .needs
        .iter()
        .filter(|need| !optional.contains(&&need.it))
    {
        if let Some(fact) = facts.get_index_of(&need.it) {
            first.add(fact);
        }
    }
    before[graph.start] = Some(first);
    let mut waiting = vec![graph.start];
    while let Some(step) = waiting.pop() {
        let Some(at_step) = before[step].clone() else {
            continue;
        };
        let at = Place { flow, step };
        for edge in &graph.edges[step] {
            for after in after(ground, at, edge, &at_step, ends) {
                let changed = match &mut before[edge.to] {
                    Some(known) => known.keep(&after),
                    empty => {
                        *empty = Some(after);
                        true
                    }
                };
                if changed {
                    waiting.push(edge.to);
                }
            }
        }
    }
    before
}

/// What is answered after leaving a step by an edge: one set for each way in which a `run` step's
/// flow can have ended. What a flow or a formula gives is open again where it gives nothing.
fn after(ground: &Ground<'_>, at: Place, edge: &Edge, before: &Facts, ends: &[Ends]) -> Vec<Facts> {
    let graph = ground.flow(at.flow);
    let step = graph.steps[at.step];
    let facts = &graph.flow.facts;
    let mut after = before.clone();
    let put = |after: &mut Facts, name: &FactName, is_answered: bool| match (
        facts.get_index_of(name),
        is_answered,
    ) {
        (Some(fact), true) => after.add(fact),
        (Some(fact), false) => after.remove(fact),
        (None, _) => {}
    };
    let asks_known = |after: &mut Facts| {
        if let Way::Then(branch) = edge.way {
            let known = known_by_branch(graph, step, branch);
            known.into_iter().for_each(|fact| put(after, fact, true));
        }
    };
    if let Some(fact) = step.asks_for() {
        put(&mut after, fact, true);
    }
    if let Act::WorkOut(work) = &step.act {
        let is_worked_out = matches!(edge.way, Way::Then(_));
        let stored = work.store.keys();
        stored.for_each(|fact| put(&mut after, fact, is_worked_out));
    }
    let (Act::Run(run), Some(inner)) = (&step.act, graph.runs[at.step]) else {
        asks_known(&mut after);
        return vec![after];
    };
    let inner_flow = ground.flow(inner).flow;
    let mut each = Vec::new();
    for (outcome, given) in &ends[inner] {
        let Some((name, _)) = inner_flow.outcomes.get_index(*outcome) else {
            continue;
        };
        if let Way::Then(branch) = edge.way
            && !exists::may_take(step, branch, &[], Some(name.as_str()))
        {
            continue;
        }
        let mut after = after.clone();
        for (own, theirs) in &run.take {
            let theirs = inner_flow.facts.get_index_of(theirs);
            let is_given = theirs.is_some_and(|theirs| given.has(theirs));
            put(&mut after, own, is_given);
        }
        asks_known(&mut after);
        each.push(after);
    }
    each
}

/// Facts of which a branch is taken only where they are known.
fn known_by_branch<'a>(graph: &Graph<'a>, step: &'a Step, branch: usize) -> Vec<&'a FactName> {
    let conditions = step.then.iter().filter_map(|it| it.when.as_ref());
    let mut asked: Vec<&FactName> = conditions.flat_map(|when| when.known_asks()).collect();
    asked.dedup();
    if asked.is_empty() {
        return asked;
    }
    let Some(cases) = Cases::of(graph, step, &[]) else {
        return Vec::new();
    };
    let unknown = |fact: &FactName| {
        cases
            .each()
            .any(|case| !case.knows(fact) && case.taken(step) == Some(branch))
    };
    asked.retain(|fact| !unknown(fact));
    asked
}
