//! All flows of a library as step graphs with numbers for names: what every rule looks at.

use std::cell::OnceCell;
use std::collections::HashMap;

use super::energy::{self, Danger};
use super::finding::{Finding, Stop};
use super::rules::{self, Rule};
use crate::flow::library::Library;
use crate::flow::model::{Act, At, Flow, Run, Step};
use crate::flow::name::{FlowName, OutcomeName};

/// A step of a flow, both by number.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub(super) struct Place {
    pub(super) flow: usize,
    pub(super) step: usize,
}

/// How an edge leaves its step.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Way {
    /// By this branch of `then`.
    Then(usize),
    /// Because something could not be worked out.
    Unable,
    /// Because something was live.
    NotDead,
}

/// One way from a step to another of the same flow.
#[derive(Clone, Copy, Debug)]
pub(super) struct Edge {
    pub(super) to: usize,
    pub(super) way: Way,
}

/// One flow as a graph.
pub(super) struct Graph<'a> {
    pub(super) flow: &'a Flow,
    pub(super) steps: Vec<&'a Step>,
    pub(super) edges: Vec<Vec<Edge>>,
    /// The flow that each `run` step runs.
    pub(super) runs: Vec<Option<usize>>,
    pub(super) start: usize,
    /// Whether a `run` step of another flow runs it.
    pub(super) is_run: bool,
    /// Whether only a job can begin with it: no other flow runs it or leans on its proof.
    pub(super) is_root: bool,
}

impl<'a> Graph<'a> {
    fn of(flow: &'a Flow, numbers: &HashMap<&FlowName, usize>) -> Self {
        let edges_of = |step: &Step| -> Vec<Edge> {
            let to = |name| flow.steps.get_index_of(name);
            let then = step.then.iter().enumerate();
            let then = then.filter_map(|(at, branch)| {
                Some(Edge {
                    to: to(&branch.go.it)?,
                    way: Way::Then(at),
                })
            });
            let other = step.other_ways().filter_map(|(name, key)| {
                let way = match key {
                    "unable" => Way::Unable,
                    _ => Way::NotDead,
                };
                Some(Edge {
                    to: to(&name.it)?,
                    way,
                })
            });
            then.chain(other).collect()
        };
        let run_of = |step: &Step| match &step.act {
            Act::Run(run) => numbers.get(&run.flow.it).copied(),
            _ => None,
        };
        Self {
            flow,
            steps: flow.steps.values().collect(),
            edges: flow.steps.values().map(edges_of).collect(),
            runs: flow.steps.values().map(run_of).collect(),
            start: flow.steps.get_index_of(&flow.start).unwrap_or(0),
            is_run: false,
            is_root: true,
        }
    }

    /// Which steps can be come to from one, by any edge.
    pub(super) fn reached_from(&self, step: usize) -> Vec<bool> {
        let mut reached = vec![false; self.steps.len()];
        let mut waiting = vec![step];
        while let Some(step) = waiting.pop() {
            if !std::mem::replace(&mut reached[step], true) {
                waiting.extend(self.edges[step].iter().map(|edge| edge.to));
            }
        }
        reached
    }

    /// The number of an outcome.
    pub(super) fn outcome(&self, name: &OutcomeName) -> usize {
        self.flow.outcomes.get_index_of(name).unwrap_or(usize::MAX)
    }
}

/// Everything that rules look at.
pub(super) struct Ground<'a> {
    pub(super) library: &'a Library,
    pub(super) flows: Vec<Graph<'a>>,
    numbers: HashMap<&'a FlowName, usize>,
    /// Every flow after all that run it.
    pub(super) runners_first: Vec<usize>,
    dangers: OnceCell<Vec<Danger>>,
}

impl<'a> Ground<'a> {
    pub(super) fn of(library: &'a Library) -> Self {
        let flows = library.flows();
        let numbers: HashMap<&FlowName, usize> = flows.keys().zip(0..).collect();
        let mut graphs: Vec<Graph<'_>> = flows
            .values()
            .map(|flow| Graph::of(flow, &numbers))
            .collect();
        let run: Vec<usize> = graphs
            .iter()
            .flat_map(|graph| graph.runs.iter().flatten().copied())
            .collect();
        for number in run {
            graphs[number].is_run = true;
            graphs[number].is_root = false;
        }
        for prover in provers(flows.values(), &numbers) {
            graphs[prover].is_root = false;
        }
        let runners_first = runners_first(&graphs);
        Self {
            library,
            flows: graphs,
            numbers,
            runners_first,
            dangers: OnceCell::new(),
        }
    }

    pub(super) fn number(&self, flow: &FlowName) -> Option<usize> {
        self.numbers.get(flow).copied()
    }

    pub(super) fn flow(&self, number: usize) -> &Graph<'a> {
        &self.flows[number]
    }

    pub(super) fn step(&self, place: Place) -> &'a Step {
        self.flows[place.flow].steps[place.step]
    }

    pub(super) fn run(&self, place: Place) -> Option<&'a Run> {
        match &self.step(place).act {
            Act::Run(run) => Some(run),
            _ => None,
        }
    }

    /// Every step of every flow.
    pub(super) fn places(&self) -> impl Iterator<Item = (Place, &'a Step)> + '_ {
        self.flows.iter().enumerate().flat_map(|(flow, graph)| {
            let steps = graph.steps.iter().enumerate();
            steps.map(move |(step, it)| (Place { flow, step }, *it))
        })
    }

    pub(super) fn stop(&self, place: Place, note: Option<String>) -> Stop {
        Stop {
            flow: self.flow(place.flow).flow.name.clone(),
            step: self.step(place).name.clone(),
            note,
        }
    }

    /// What the energy analysis found; worked out once for all rules that tell of it.
    pub(super) fn dangers(&self) -> &[Danger] {
        self.dangers.get_or_init(|| energy::dangers(self))
    }

    /// A finding of `rule` in the file of a flow.
    pub(super) fn finding(
        &self,
        rule: &Rule,
        flow: usize,
        at: At,
        (wrong, mend): (String, impl Into<String>),
    ) -> Finding {
        Finding {
            name: rule.name,
            grade: rule.grade,
            file: self.flow(flow).flow.file.clone(),
            line: at.line,
            column: at.column,
            wrong,
            why: rules::why(rule.name),
            mend: mend.into(),
            walk: Vec::new(),
        }
    }
}

/// The flows that prove a source of another flow.
fn provers<'f>(
    flows: impl Iterator<Item = &'f Flow>,
    numbers: &HashMap<&FlowName, usize>,
) -> Vec<usize> {
    let named = flows.flat_map(|flow| {
        let provers = flow.energy.values().filter_map(|it| it.proved_by.as_ref());
        provers.filter(|prover| **prover != flow.name)
    });
    named
        .filter_map(|prover| numbers.get(prover).copied())
        .collect()
}

/// The flows in an order in which each comes after all that run it; the loader has seen to it
/// that none comes to run itself.
fn runners_first(graphs: &[Graph<'_>]) -> Vec<usize> {
    let mut runners = vec![0_usize; graphs.len()];
    for run in graphs.iter().flat_map(|graph| graph.runs.iter().flatten()) {
        runners[*run] += 1;
    }
    let mut order: Vec<usize> = (0..graphs.len()).filter(|at| runners[*at] == 0).collect();
    let mut next = 0;
    while let Some(flow) = order.get(next).copied() {
        for run in graphs[flow].runs.iter().flatten() {
            runners[*run] -= 1;
            if runners[*run] == 0 {
                order.push(*run);
            }
        }
        next += 1;
    }
    order
}
