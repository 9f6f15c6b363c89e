//! After an answer that its fact declares as held, nothing goes on before that role releases.

use std::collections::VecDeque;

use super::super::exists;
use super::super::finding::{Finding, Grade};
use super::super::ground::{Edge, Graph, Ground, Place, Way};
use super::Rule;
use crate::flow::model::{Act, Danger, Fact, FactType, Role, Setting, Step};
use crate::flow::name::{ChoiceKey, FactName};

pub(super) const RULE: Rule = Rule {
    name: "answer_not_held",
    grade: Grade::Error,
    page: include_str!("../pages/answer_not_held.md"),
    run: |rule, ground| {
        let mut findings = Vec::new();
        for (flow, graph) in ground.flows.iter().enumerate() {
            for (name, fact) in &graph.flow.facts {
                for (key, role) in &fact.held {
                    let held = Held {
                        name,
                        fact,
                        key: &key.it,
                        role: *role,
                    };
                    findings.extend(held.finding(rule, ground, flow));
                }
            }
        }
        findings
    },
};

/// One answer that is held.
struct Held<'a> {
    name: &'a FactName,
    fact: &'a Fact,
    key: &'a ChoiceKey,
    role: Role,
}

/// What is known of the answer: another one or none yet; this one, not released; released.
#[derive(Clone, Copy, PartialEq, Eq)]
enum State {
    Other,
    Held,
    Released,
}

const STATES: [State; 3] = [State::Other, State::Held, State::Released];

impl Held<'_> {
    /// The first step on any way that goes on without the release.
    fn finding(&self, rule: &Rule, ground: &Ground<'_>, flow: usize) -> Option<Finding> {
        let graph = ground.flow(flow);
        let is_need = graph.flow.needs.iter().any(|need| need.it == *self.name);
        // The runner that takes the answer has to see to the release.
        let is_given = graph.flow.gives.iter().any(|it| it.it == *self.name);
        let mut before: Vec<[Option<(usize, usize)>; 3]> = vec![[None; 3]; graph.steps.len()];
        let mut waiting = VecDeque::new();
        let first: &[usize] = if is_need { &[0, 1] } else { &[0] };
        for state in first {
            before[graph.start][*state] = Some((usize::MAX, 0));
            waiting.push_back((graph.start, *state));
        }
        while let Some((step, state)) = waiting.pop_front() {
            let it = graph.steps[step];
            if STATES[state] == State::Held && goes_on(it, is_given) {
                let told = format!(
                    "`{}` goes on after `{}` was answered `{}`, without a release.",
                    it.name, self.name, self.key
                );
                let mend = format!("Put a `hold: {}` before it on every way.", self.role.word());
                let mut finding = ground.finding(rule, flow, it.at, (told, mend));
                let mut at = (step, state);
                while at.0 != usize::MAX {
                    let place = Place { flow, step: at.0 };
                    finding.walk.push(ground.stop(place, None));
                    at = before[at.0][at.1].unwrap_or((usize::MAX, 0));
                }
                finding.walk.reverse();
                return Some(finding);
            }
            for edge in &graph.edges[step] {
                for next in self.next(graph, step, edge, STATES[state]) {
                    let number = STATES.iter().position(|it| *it == next).unwrap_or(0);
                    if before[edge.to][number].is_none() {
                        before[edge.to][number] = Some((step, state));
                        waiting.push_back((edge.to, number));
                    }
                }
            }
        }
        None
    }

    fn next(&self, graph: &Graph<'_>, step: usize, edge: &Edge, state: State) -> Vec<State> {
        let it = graph.steps[step];
        let answered = it.asks_for() == Some(self.name)
            || match &it.act {
                Act::WorkOut(work) => edge.way != Way::Unable && work.store.contains_key(self.name),
                Act::Run(run) => run.take.contains_key(self.name),
                _ => false,
            };
        let releases = matches!(&it.act, Act::Hold { role, .. } if *role == self.role);
        let after = match state {
            _ if answered => vec![State::Other, State::Held],
            State::Held if releases => vec![State::Released],
            other => vec![other],
        };
        let open = |state: &State| self.is_open(it, edge, *state);
        after.into_iter().filter(open).collect()
    }

    /// Whether the edge can be taken with this answer, or with another.
    fn is_open(&self, step: &Step, edge: &Edge, state: State) -> bool {
        let Way::Then(branch) = edge.way else {
            return true;
        };
        let FactType::OneOf(keys) = &self.fact.holds else {
            return true;
        };
        let held = state != State::Other;
        let mut fitting = keys.keys().filter(|key| (*key == self.key) == held);
        fitting.any(|key| exists::may_take(step, branch, &[(self.name, key.clone())], None))
    }
}

/// Whether a step does something that a held answer forbids.
fn goes_on(step: &Step, is_given: bool) -> bool {
    let switches = |(_, set): &(_, Setting)| {
        matches!(set, Setting::Opened | Setting::Unlocked | Setting::Closed)
    };
    !matches!(step.danger, Danger::HandsOff)
        || matches!(step.act, Act::Finish { .. }) && !is_given
        || step.sets.iter().any(switches)
}
