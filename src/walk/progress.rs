//! About how many screens are to go.

use std::collections::HashMap;

use super::prompt::ToGo;
use super::state::State;
use crate::flow::edition::{Edition, ScreensAhead};
use crate::flow::model::{Act, Flow};
use crate::flow::name::{FlowName, StepName};

/// About how many screens there are from here to the end, if the job goes on and is not cut
/// short: of several ways each counts by its own length, so that an early end hardly shows. Steps
/// back to an earlier step of the file are not counted: they are the exception.
pub(super) fn to_go(edition: &Edition, state: &State) -> Option<ToGo> {
    let ahead = edition.screens_ahead(count);
    let mut job = 0.0;
    let mut part = None;
    for (depth, call) in state.stack.iter().enumerate() {
        let flow = edition.flow(&call.flow)?;
        let steps = ahead.get(&call.flow)?;
        let is_top = depth + 1 == state.stack.len();
        let here = *steps.get(&call.step)?;
        // A runner below has the run step itself behind it.
        job += if is_top {
            here
        } else {
            of_ways(flow, &call.step, steps)
        };
        part = (is_top && !(depth == 0 && runs_parts(flow))).then_some(screens(here));
    }
    Some(ToGo {
        job: screens(job),
        part,
    })
}

fn runs_parts(flow: &Flow) -> bool {
    let mut steps = flow.steps.values();
    steps.any(|step| matches!(step.act, Act::Run(_)))
}

fn screens(about: f64) -> u32 {
    about.round().max(0.0) as u32
}

fn count(edition: &Edition) -> ScreensAhead {
    let mut lengths = Lengths {
        edition,
        flows: HashMap::new(),
    };
    let flows = edition.flows();
    flows
        .map(|flow| (flow.name.clone(), lengths.steps(flow)))
        .collect()
}

struct Lengths<'e> {
    edition: &'e Edition,
    flows: HashMap<FlowName, f64>,
}

impl Lengths<'_> {
    /// From the start of a flow to its end.
    fn flow(&mut self, name: &FlowName) -> f64 {
        if let Some(known) = self.flows.get(name) {
            return *known;
        }
        self.flows.insert(name.clone(), 0.0);
        let length = self.edition.flow(name).map_or(0.0, |flow| {
            self.steps(flow).get(&flow.start).copied().unwrap_or(0.0)
        });
        self.flows.insert(name.clone(), length);
        length
    }

    /// From each step of a flow to its end, last steps of the file first.
    fn steps(&mut self, flow: &Flow) -> HashMap<StepName, f64> {
        let mut lengths = HashMap::new();
        for (name, step) in flow.steps.iter().rev() {
            let own = match &step.act {
                Act::Run(run) => self.flow(&run.flow.it),
                Act::Finish { .. } => 0.0,
                _ => 1.0,
            };
            let length = own + of_ways(flow, name, &lengths);
            lengths.insert(name.clone(), length);
        }
        lengths
    }
}

fn of_ways(flow: &Flow, name: &StepName, lengths: &HashMap<StepName, f64>) -> f64 {
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
        .filter_map(|branch| lengths.get(&branch.go.it).copied())
        .collect();
    let lengths: f64 = forward.iter().sum();
    if lengths == 0.0 {
        return 0.0;
    }
    forward.iter().map(|ahead| ahead * ahead).sum::<f64>() / lengths
}
