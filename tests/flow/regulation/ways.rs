//! Every way through one flow, with some facts held fixed.

use std::collections::{BTreeMap, BTreeSet};

use fanwright::flow::expression::Facts;
use fanwright::flow::model::{Flow, Step};
use fanwright::flow::name::{FactName, StepName};
use fanwright::trade::formula::Value;

/// Facts that are held fixed; all others may be anything.
#[derive(Clone, Debug, Default)]
pub(super) struct Fixed(BTreeMap<FactName, Value>);

impl Fixed {
    pub(super) fn of(facts: &[(&str, &str)]) -> Self {
        let words = facts
            .iter()
            .map(|(name, key)| (FactName::from(*name), Value::Word((*key).to_owned())));
        Self(words.collect())
    }
}

impl Facts for Fixed {
    fn value(&self, name: &FactName) -> Option<&Value> {
        self.0.get(name)
    }
}

/// Which steps something is said of.
pub(super) type Which<'a> = &'a dyn Fn(&Step) -> bool;

/// A flow with its fixed facts.
pub(super) struct Ways<'a> {
    pub(super) flow: &'a Flow,
    pub(super) fixed: Fixed,
}

impl Ways<'_> {
    /// The steps that can follow: a condition that rests on an open fact may go either way.
    fn after(&self, step: &Step) -> Vec<StepName> {
        let mut after: Vec<StepName> = step.other_ways().map(|(go, _)| go.it.clone()).collect();
        for branch in &step.then {
            let holds = branch.when.as_ref().map(|when| when.holds(&self.fixed));
            if holds != Some(Ok(false)) {
                after.push(branch.go.it.clone());
            }
            if matches!(holds, None | Some(Ok(true))) {
                break;
            }
        }
        after
    }

    /// A shortest way from one of `from` to a step of `to` that meets no step of `without`.
    pub(super) fn way(
        &self,
        from: &[StepName],
        to: Which,
        without: Which,
    ) -> Option<Vec<StepName>> {
        let mut seen: BTreeSet<StepName> = from.iter().cloned().collect();
        // Each step met, with the place in this list of the one before it.
        let mut met: Vec<(&Step, Option<usize>)> = from
            .iter()
            .map(|name| (&self.flow.steps[name], None))
            .collect();
        let mut next = 0;
        while let Some((step, before)) = met.get(next).copied() {
            if before.is_some() && to(step) {
                return Some(back_from(&met, next));
            }
            if before.is_none() || !without(step) {
                for name in self.after(step) {
                    if seen.insert(name.clone()) {
                        met.push((&self.flow.steps[&name], Some(next)));
                    }
                }
            }
            next += 1;
        }
        None
    }

    /// Sees to it that every way from the start to a step of `then` meets one of `first` before.
    pub(super) fn assert_first(&self, first: Which, then: Which, what: &str) {
        let from = [self.flow.start.clone()];
        assert!(
            !first(&self.flow.steps[&self.flow.start]),
            "{what}: it is met at the start"
        );
        self.assert_between(&from, first, then, what);
    }

    /// Sees to it that every way from `from` to a step of `then` meets one of `between`, and that
    /// there is such a way at all.
    pub(super) fn assert_between(
        &self,
        from: &[StepName],
        between: Which,
        then: Which,
        what: &str,
    ) {
        let around = self.way(from, then, between);
        assert!(
            around.is_none(),
            "{what}: {} has a way around it, with {:?}: {}",
            self.flow.name,
            self.fixed,
            told(&around.unwrap_or_default())
        );
        assert!(
            self.way(from, then, &|_| false).is_some(),
            "{what}: {} never comes to it, with {:?}",
            self.flow.name,
            self.fixed
        );
    }

    /// The steps of `which`.
    pub(super) fn all(&self, which: Which) -> Vec<StepName> {
        let steps = self.flow.steps.values().filter(|step| which(step));
        steps.map(|step| step.name.clone()).collect()
    }
}

fn back_from(met: &[(&Step, Option<usize>)], last: usize) -> Vec<StepName> {
    let mut way = Vec::new();
    let mut at = Some(last);
    while let Some((step, before)) = at.map(|at| met[at]) {
        way.push(step.name.clone());
        at = before;
    }
    way.reverse();
    way
}

fn told(way: &[StepName]) -> String {
    let names: Vec<&str> = way.iter().map(StepName::as_str).collect();
    names.join(" → ")
}
