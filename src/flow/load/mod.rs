//! From YAML text to a [`Flow`]: every name resolved, every expression typed, or every problem
//! told with its place.

mod act;
mod fields;
mod header;
mod proof;
mod run;
pub(crate) mod scope;
mod step;
pub(in crate::flow) mod tables;
mod work_out;

use indexmap::IndexMap;

use super::model::{At, Fact, Flow, Located, Step};
use super::name::{ChoiceKey, FactName, FlowName, OutcomeName, StepName};
use super::problem::Problem;
use super::tree::{self, Tree};
use fields::{Fields, Report, did_you_mean};
use step::Head;

/// A pause may last so long where a flow says nothing, seconds.
const PAUSE_LIMIT_SECONDS: u32 = 30 * 60;

/// A file whose head is read: enough for other flows to refer to it.
pub(super) struct Opened {
    pub(super) file: String,
    pub(super) name: FlowName,
    pub(super) outcomes: IndexMap<OutcomeName, String>,
    tree: Tree,
}

/// Reads a file as far as its name and outcomes.
///
/// # Errors
/// What is wrong with it, with places.
pub(super) fn open(file: &str, text: &str) -> Result<Opened, Vec<Problem>> {
    let tree = tree::read(file, text).map_err(|problem| vec![problem])?;
    let mut report = Report::new(file);
    let mut fields = Fields::of(&mut report, &tree, "The flow");
    let name = fields
        .require(&mut report, "flow")
        .and_then(|tree| flow_name(&mut report, tree));
    let outcomes = fields
        .require(&mut report, "outcomes")
        .map(|tree| header::outcomes(&mut report, tree))
        .unwrap_or_default();
    let problems = report.into_problems();
    match name {
        Some(name) if problems.is_empty() => Ok(Opened {
            file: file.to_owned(),
            name,
            outcomes,
            tree,
        }),
        _ => Err(problems),
    }
}

fn flow_name(report: &mut Report<'_>, tree: &Tree) -> Option<FlowName> {
    let name = report.text(tree, "The name")?;
    let plain = name
        .chars()
        .all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-');
    if plain && name.starts_with(|c: char| c.is_ascii_lowercase()) && name.len() <= 48 {
        return Some(FlowName::from(name));
    }
    report.add(
        tree.at,
        format!("`{name}` cannot be the name of a flow."),
        "Use small letters, digits and dashes, at most 48, beginning with a letter.",
    );
    None
}

/// Reads the rest of an opened file.
///
/// # Errors
/// Everything that is wrong with it, in the order of the file.
pub(super) fn flow(
    opened: &Opened,
    outcomes_of: &dyn Fn(&FlowName) -> Option<Vec<ChoiceKey>>,
) -> Result<Flow, Vec<Problem>> {
    let mut report = Report::new(&opened.file);
    let mut fields = Fields::of(&mut report, &opened.tree, "The flow");
    fields.take("flow");
    fields.take("outcomes");
    let title = words(&mut report, &mut fields, ("title", "The title"));
    let language = words(&mut report, &mut fields, ("language", "The language"));
    let pause_limit_seconds = fields
        .take("pause_limit")
        .and_then(|tree| step::seconds(&mut report, tree))
        .unwrap_or(PAUSE_LIMIT_SECONDS);
    let hands_off = fields
        .take("hands_off")
        .is_some_and(|tree| step::truth(&mut report, tree, "`hands_off`"));
    let facts: IndexMap<FactName, Fact> = fields
        .take("facts")
        .map(|tree| header::facts(&mut report, tree))
        .unwrap_or_default();
    let competences = header::competences(&mut report, fields.take("competences"));
    let check_ins = header::check_ins(&mut report, fields.take("check_ins"), &facts);
    let energy = fields
        .take("energy")
        .map(|tree| header::energy(&mut report, tree, &facts))
        .unwrap_or_default();
    let look_again = fields
        .take("look_again")
        .and_then(|tree| header::look_again(&mut report, tree, &facts));
    let needs = header::fact_names(&mut report, fields.take("needs"), &facts, "needs");
    let gives = header::fact_names(&mut report, fields.take("gives"), &facts, "gives");
    let start = start(&mut report, &mut fields);
    let head = Head {
        facts: &facts,
        competences: &competences,
        energy: &energy,
        outcomes: &opened.outcomes,
        hands_off,
        outcomes_of,
    };
    let (steps, broken) = steps(&mut report, &mut fields, &head);
    fields.finish(&mut report);
    let mut flow = Flow {
        name: opened.name.clone(),
        title,
        language,
        file: opened.file.clone(),
        pause_limit_seconds,
        look_again,
        check_ins,
        outcomes: opened.outcomes.clone(),
        competences,
        energy,
        facts,
        needs,
        gives,
        start: StepName::from(""),
        steps,
    };
    let start = start.unwrap_or(Located {
        at: At::default(),
        it: StepName::from(""),
    });
    resolve(&mut report, &flow, &start, &broken);
    flow.start = start.it;
    let problems = report.into_problems();
    if problems.is_empty() {
        Ok(flow)
    } else {
        Err(problems)
    }
}

/// The first step.
fn start(report: &mut Report<'_>, fields: &mut Fields<'_>) -> Option<Located<StepName>> {
    let tree = fields.require(report, "start")?;
    let it = report.text(tree, "`start`").map(StepName::from)?;
    Some(Located { at: tree.at, it })
}

/// The words under a key that must be there.
fn words(
    report: &mut Report<'_>,
    fields: &mut Fields<'_>,
    (key, what): (&'static str, &str),
) -> String {
    let tree = fields.require(report, key);
    let words = tree.and_then(|tree| report.text(tree, what));
    words.unwrap_or_default()
}

/// Reads the steps; also gives the names of those that cannot be used.
fn steps(
    report: &mut Report<'_>,
    fields: &mut Fields<'_>,
    head: &Head<'_>,
) -> (IndexMap<StepName, Step>, Vec<StepName>) {
    let mut steps = IndexMap::new();
    let mut broken = Vec::new();
    if let Some(tree) = fields.require(report, "steps") {
        for (name, tree) in report.map(tree, "steps") {
            let named = header::plain_name(report, name, "a step");
            match step::step(report, head, name, tree) {
                Some(step) if named => drop(steps.insert(step.name.clone(), step)),
                _ => broken.push(StepName::from(name.it.as_str())),
            }
        }
    }
    (steps, broken)
}

/// Complains about every step that is named but not there.
fn resolve(report: &mut Report<'_>, flow: &Flow, start: &Located<StepName>, broken: &[StepName]) {
    let mut named: Vec<&Located<StepName>> = Vec::new();
    if start.at != At::default() {
        named.push(start);
    }
    for step in flow.steps.values() {
        named.extend(step.then.iter().map(|branch| &branch.go));
        named.extend(step.other_ways().map(|(way, _)| way));
    }
    for name in named {
        if !flow.steps.contains_key(&name.it) && !broken.contains(&name.it) {
            report.add(
                name.at,
                format!("There is no step `{}`.", name.it),
                did_you_mean(name.it.as_str(), flow.steps.keys().map(StepName::as_str)),
            );
        }
    }
}
