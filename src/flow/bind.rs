//! What must hold between flows: needs given, gives taken, sources bound, no flow inside itself.

use indexmap::IndexMap;

use super::circles;
use super::load::scope::type_of;
use super::model::{Act, At, Danger, Flow, Run};
use super::name::{FactName, FlowName, SourceName};
use super::problem::{Family, Problem};

type Flows = IndexMap<FlowName, Flow>;

/// Everything that does not fit between the flows.
pub(super) fn problems(flows: &Flows) -> Vec<Problem> {
    let mut problems = Vec::new();
    for flow in flows.values() {
        for step in flow.steps.values() {
            if let Act::Run(run) = &step.act
                && let Some(other) = flows.get(&run.flow.it)
            {
                problems.extend(Binding { flow, run, other }.problems());
            }
        }
        problems.extend(proofs(flows, flow));
    }
    problems.extend(inside_themselves(flows));
    problems
}

impl Flow {
    /// The flows that this one can come to run directly.
    pub fn leads_to(&self) -> impl Iterator<Item = &FlowName> {
        let runs = self.steps.values().filter_map(|step| match &step.act {
            Act::Run(run) => Some(&run.flow.it),
            _ => None,
        });
        runs.chain(
            self.energy
                .values()
                .filter_map(|source| source.proved_by.as_ref()),
        )
    }
}

fn problem(flow: &Flow, at: At, wrong: String, mend: impl Into<String>) -> Problem {
    Problem {
        family: Family::Binding,
        file: flow.file.clone(),
        at,
        wrong,
        mend: mend.into(),
    }
}

/// One `run` step with the two flows that it binds.
struct Binding<'a> {
    flow: &'a Flow,
    run: &'a Run,
    other: &'a Flow,
}

impl Binding<'_> {
    fn problems(&self) -> Vec<Problem> {
        let mut problems = self.needs();
        problems.extend(self.takes());
        problems.extend(self.sources());
        problems
    }

    fn at(&self) -> At {
        self.run.flow.at
    }

    fn needs(&self) -> Vec<Problem> {
        let Self { flow, run, other } = self;
        let mut problems = Vec::new();
        for need in &other.needs {
            let Some(wanted) = other.facts.get(&need.it).map(|fact| type_of(&fact.holds)) else {
                continue;
            };
            let given = match run.with.get(&need.it) {
                Some(expression) => Some(expression.gives.clone()),
                None => flow.facts.get(&need.it).map(|fact| type_of(&fact.holds)),
            };
            let told = match given {
                None => format!(
                    "`{}` needs `{}`, and nothing here has that name.",
                    other.name, need.it
                ),
                Some(given) if !given.fits(&wanted) => {
                    format!("`{}` needs `{}` of another type.", other.name, need.it)
                }
                Some(_) => continue,
            };
            problems.push(problem(
                flow,
                self.at(),
                told,
                format!("Add `with: {{ {}: … }}`.", need.it),
            ));
        }
        for name in run.with.keys() {
            if !other.needs.iter().any(|need| need.it == *name) {
                let told = format!("`{}` does not need `{name}`.", other.name);
                problems.push(problem(flow, self.at(), told, "Take it away."));
            }
        }
        problems
    }

    fn takes(&self) -> Vec<Problem> {
        let Self { flow, run, other } = self;
        let mut problems = Vec::new();
        for (own, given) in &run.take {
            if !other.gives.iter().any(|gives| gives.it == *given) {
                let told = format!("`{}` does not give `{given}`.", other.name);
                problems.push(problem(
                    flow,
                    self.at(),
                    told,
                    "Add it there under `gives`.",
                ));
                continue;
            }
            let types = (other.facts.get(given), flow.facts.get(own));
            if let (Some(given_fact), Some(own_fact)) = types
                && !type_of(&given_fact.holds).fits(&type_of(&own_fact.holds))
            {
                let told = format!(
                    "`{own}` cannot hold what `{}` gives as `{given}`.",
                    other.name
                );
                problems.push(problem(flow, self.at(), told, "Declare both alike."));
            }
        }
        problems
    }

    fn sources(&self) -> Vec<Problem> {
        let Self { flow, run, other } = self;
        let mut problems = Vec::new();
        for (name, source) in &other.energy {
            let own: &SourceName = run.energy.get(name).unwrap_or(name);
            let told = match flow.energy.get(own) {
                Some(bound) if bound.kind == source.kind => continue,
                Some(_) => format!(
                    "The source `{name}` of `{}` is of another kind here.",
                    other.name
                ),
                None => format!(
                    "The source `{name}` of `{}` is bound to nothing here.",
                    other.name
                ),
            };
            let mend =
                format!("Declare `{name}` under `energy`, or add `energy: {{ {name}: … }}`.");
            problems.push(problem(flow, self.at(), told, mend));
        }
        problems
    }
}

/// Every source that is touched has a flow that proves it, and that flow finds what it needs.
fn proofs(flows: &Flows, flow: &Flow) -> Vec<Problem> {
    let mut problems = Vec::new();
    let touched = flow.steps.values().filter_map(|step| match &step.danger {
        Danger::Touches(sources) => Some(sources),
        Danger::HandsOff | Danger::TestsLive { .. } => None,
    });
    for name in touched.flatten() {
        let Some(source) = flow.energy.get(&name.it) else {
            continue;
        };
        match source
            .proved_by
            .as_ref()
            .map(|prover| (prover, flows.get(prover)))
        {
            None => problems.push(problem(
                flow,
                name.at,
                format!(
                    "Nothing proves the source `{}` that is touched here.",
                    name.it
                ),
                "Add `proved_by: FLOW` to its declaration.",
            )),
            Some((prover, None)) => problems.push(problem(
                flow,
                source.at,
                format!("There is no flow `{prover}` to prove `{}`.", name.it),
                "Write it, or correct the name.",
            )),
            Some((_, Some(prover))) if prover.name != flow.name => {
                problems.extend(prover_needs(flow, source.at, prover));
            }
            Some(_) => {}
        }
    }
    problems.dedup();
    problems
}

fn prover_needs(flow: &Flow, at: At, prover: &Flow) -> Vec<Problem> {
    let lacks = |need: &FactName| {
        let wanted = prover.facts.get(need).map(|fact| type_of(&fact.holds));
        let own = flow.facts.get(need).map(|fact| type_of(&fact.holds));
        !matches!((own, wanted), (Some(own), Some(wanted)) if own.fits(&wanted))
    };
    let mut problems: Vec<Problem> = prover
        .needs
        .iter()
        .filter(|need| lacks(&need.it))
        .map(|need| {
            let told = format!(
                "`{}` proves sources here and needs the fact `{}`, declared alike.",
                prover.name, need.it
            );
            problem(
                flow,
                at,
                told,
                format!("Add `{}` to `needs` and `facts`.", need.it),
            )
        })
        .collect();
    for (name, source) in &prover.energy {
        if flow
            .energy
            .get(name)
            .is_none_or(|own| own.kind != source.kind)
        {
            let told = format!(
                "`{}` proves sources here and works on `{name}` too.",
                prover.name
            );
            problems.push(problem(
                flow,
                at,
                told,
                format!("Declare `{name}` under `energy`."),
            ));
        }
    }
    problems
}

/// A flow may not run itself, directly or through others; proving is no such run.
fn inside_themselves(flows: &Flows) -> Vec<Problem> {
    let next_of = |flow: &Flow| -> Vec<usize> {
        let numbers = runs(flow).filter_map(|(name, _)| flows.get_index_of(name));
        numbers.collect()
    };
    let next: Vec<Vec<usize>> = flows.values().map(next_of).collect();
    let groups = circles::groups(&next);
    let closes = flows.values().enumerate().filter_map(|(number, flow)| {
        let mut runs = runs(flow);
        let (_, at) = runs.find(|(name, _)| {
            let run = flows.get_index_of(*name);
            run.is_some_and(|run| groups[run] == groups[number])
        })?;
        let told = format!("The flow `{}` comes to run itself.", flow.name);
        Some(problem(flow, at, told, "Break the circle."))
    });
    closes.collect()
}

fn runs(flow: &Flow) -> impl Iterator<Item = (&FlowName, At)> {
    flow.steps.values().filter_map(|step| match &step.act {
        Act::Run(run) => Some((&run.flow.it, run.flow.at)),
        _ => None,
    })
}
