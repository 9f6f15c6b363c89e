//! About how many screens are to go.

use std::collections::HashMap;

use super::state::State;
use crate::flow::edition::{Edition, ScreensAhead};
use crate::flow::model::{Act, Flow};
use crate::flow::name::{FlowName, StepName};

/// The mean number of screens from here to the end; a long branch counts more than a short one.
/// Steps back to an earlier step of the file are not counted: they are the exception.
pub(super) fn to_go(edition: &Edition, state: &State) -> Option<u32> {
    let ahead = edition.screens_ahead(count);
    let mut sum = 0.0;
    for (depth, call) in state.stack.iter().enumerate() {
        let flow = edition.flow(&call.flow)?;
        let steps = ahead.get(&call.flow)?;
        let is_top = depth + 1 == state.stack.len();
        let here = *steps.get(&call.step)?;
        // A runner below has the run step itself behind it.
        sum += if is_top {
            here
        } else {
            after(flow, &call.step, steps)
        };
    }
    Some(sum.round().max(0.0) as u32)
}

fn count(edition: &Edition) -> ScreensAhead {
    let mut means = Means {
        edition,
        flows: HashMap::new(),
    };
    let flows = edition.flows();
    flows
        .map(|flow| (flow.name.clone(), means.steps(flow)))
        .collect()
}

fn after(flow: &Flow, step: &StepName, steps: &HashMap<StepName, f64>) -> f64 {
    mean_of_ways(flow, step, steps)
}

struct Means<'e> {
    edition: &'e Edition,
    flows: HashMap<FlowName, f64>,
}

impl Means<'_> {
    /// The mean from the start of a flow to its end.
    fn flow(&mut self, name: &FlowName) -> f64 {
        if let Some(known) = self.flows.get(name) {
            return *known;
        }
        self.flows.insert(name.clone(), 0.0);
        let mean = self.edition.flow(name).map_or(0.0, |flow| {
            self.steps(flow).get(&flow.start).copied().unwrap_or(0.0)
        });
        self.flows.insert(name.clone(), mean);
        mean
    }

    /// The mean from each step of a flow to its end, last steps of the file first.
    fn steps(&mut self, flow: &Flow) -> HashMap<StepName, f64> {
        let mut means = HashMap::new();
        for (name, step) in flow.steps.iter().rev() {
            let own = match &step.act {
                Act::Run(run) => self.flow(&run.flow.it),
                Act::Finish { .. } => 0.0,
                Act::ProveDead(proof) => {
                    5.0 + proof
                        .sources
                        .iter()
                        .map(|(_, p)| p.ac.len() + p.dc.len())
                        .sum::<usize>() as f64
                }
                _ => 1.0,
            };
            let mean = own + mean_of_ways(flow, name, &means);
            means.insert(name.clone(), mean);
        }
        means
    }
}

fn mean_of_ways(flow: &Flow, name: &StepName, means: &HashMap<StepName, f64>) -> f64 {
    let here = flow.steps.get_index_of(name).unwrap_or(0);
    let ways = flow
        .step(name)
        .map(|step| step.then.as_slice())
        .unwrap_or_default();
    let forward: Vec<f64> = ways
        .iter()
        .filter(|branch| {
            flow.steps
                .get_index_of(&branch.go.it)
                .is_some_and(|to| to > here)
        })
        .filter_map(|branch| means.get(&branch.go.it).copied())
        .collect();
    if forward.is_empty() {
        0.0
    } else {
        forward.iter().sum::<f64>() / forward.len() as f64
    }
}
