//! Reading one step.

use indexmap::IndexMap;

use super::super::model::{
    Act, Branch, Competence, Danger, Fact, Located, Role, Setting, Source, SourceKind, Step,
};
use super::super::name::{
    ChoiceKey, CompetenceName, FactName, FlowName, OutcomeName, PictureName, SourceName, StepName,
};
use super::super::template::Template;
use super::super::tree::{Shape, Tree};
use super::act;
use super::fields::{Fields, Report, did_you_mean};
use super::header::condition;
use super::run;
use super::scope::FlowScope;
use super::tables::{DUTIES, LADDERS, LEADS, Ladder};
use crate::trade::chart::Chart;

/// What is known of a flow before its steps are read.
pub(super) struct Head<'a> {
    pub(super) facts: &'a IndexMap<FactName, Fact>,
    pub(super) competences: &'a IndexMap<CompetenceName, Competence>,
    pub(super) energy: &'a IndexMap<SourceName, Source>,
    pub(super) outcomes: &'a IndexMap<OutcomeName, String>,
    pub(super) hands_off: bool,
    /// The outcomes of another flow, if there is such a flow.
    pub(super) outcomes_of: &'a dyn Fn(&FlowName) -> Option<Vec<ChoiceKey>>,
}

impl Head<'_> {
    pub(super) fn scope(&self) -> FlowScope<'_> {
        FlowScope {
            facts: self.facts,
            outcome: None,
        }
    }
}

pub(super) fn step(
    report: &mut Report<'_>,
    head: &Head<'_>,
    name: &Located<String>,
    tree: &Tree,
) -> Option<Step> {
    let mut fields = Fields::of(report, tree, &format!("The step `{}`", name.it));
    let act = act::act(report, head, &mut fields);
    let danger = danger(report, head, &mut fields, act.as_ref());
    let say = said(report, head, &mut fields, (name, act.as_ref()));
    let [caution, why, how] = ["caution", "why", "how"].map(|key| {
        fields
            .take(key)
            .and_then(|tree| template(report, head, tree, key))
    });
    let picture = fields.take("picture").and_then(|tree| {
        let name = report.text(tree, "`picture`")?;
        Some(Located {
            at: tree.at,
            it: PictureName::from(name),
        })
    });
    let chart = fields.take("chart").and_then(|tree| chart(report, tree));
    let cite = cites(report, fields.take("cite"));
    let by = roles(report, fields.take("by"));
    let needs_shown = needs_shown(report, head, fields.take("needs_shown"));
    let takes_at_least_seconds = fields
        .take("takes_at_least")
        .and_then(|tree| seconds(report, tree));
    let sets = fields
        .take("sets")
        .map(|tree| sets(report, head, tree))
        .unwrap_or_default();
    let duty = fields
        .take("duty")
        .and_then(|tree| word(report, tree, DUTIES, "`duty`"));
    let leads = fields
        .take("leads")
        .and_then(|tree| word(report, tree, LEADS, "`leads`"));
    let then = branches(report, head, &mut fields, act.as_ref(), name);
    fields.finish(report);
    Some(Step {
        name: StepName::from(name.it.as_str()),
        at: name.at,
        danger: danger?,
        act: act?,
        say: say?,
        caution,
        why,
        how,
        picture,
        chart,
        cite,
        by,
        needs_shown,
        takes_at_least_seconds,
        duty,
        leads,
        sets,
        then,
    })
}

/// The sentence of a step; one that runs another flow may do without.
fn said(
    report: &mut Report<'_>,
    head: &Head<'_>,
    fields: &mut Fields<'_>,
    (name, act): (&Located<String>, Option<&Act>),
) -> Option<Template> {
    let said = fields.take("say");
    let is_run = matches!(act, Some(Act::Run(_)));
    if said.is_none() && !is_run {
        report.add(
            fields.at(),
            format!("The step `{}` says nothing.", name.it),
            "Add `say: …`, one short sentence.",
        );
    }
    let said = said.and_then(|tree| template(report, head, tree, "`say`"));
    let nothing = || Template::compile("", name.at, &head.scope()).ok();
    said.or_else(|| is_run.then(nothing).flatten())
}

/// The name of a formula whose results have a chart.
fn chart(report: &mut Report<'_>, tree: &Tree) -> Option<&'static str> {
    let name = report.text(tree, "`chart`")?;
    let found = Chart::formulas().find(|formula| *formula == name);
    if found.is_none() {
        report.add(
            tree.at,
            format!("There is no chart of `{name}`."),
            did_you_mean(&name, Chart::formulas()),
        );
    }
    found
}

fn template(report: &mut Report<'_>, head: &Head<'_>, tree: &Tree, what: &str) -> Option<Template> {
    let text = report.text(tree, what)?;
    match Template::compile(&text, tree.at, &head.scope()) {
        Ok(template) => Some(template),
        Err(faults) => {
            report.add_faults(tree, faults);
            None
        }
    }
}

fn danger(
    report: &mut Report<'_>,
    head: &Head<'_>,
    fields: &mut Fields<'_>,
    act: Option<&Act>,
) -> Option<Danger> {
    let at = fields.at();
    let hands_off = fields
        .take("hands_off")
        .map(|tree| truth(report, tree, "`hands_off`"));
    let touches = fields
        .take("touches")
        .map(|tree| source_names(report, head, tree));
    let tests_live = fields
        .take("tests_live")
        .map(|tree| source_names(report, head, tree));
    let gear = fields.take("gear");
    let stated = [hands_off.is_some(), touches.is_some(), tests_live.is_some()];
    let count = stated.iter().filter(|said| **said).count();
    if count > 1 {
        report.add(
            at,
            "A step has exactly one place in the danger; this one says more.",
            "Keep one of `hands_off`, `touches`, `tests_live`.",
        );
        return None;
    }
    if let Some(sources) = touches {
        return Some(Danger::Touches(sources));
    }
    if let Some(sources) = tests_live {
        let gear = match gear {
            Some(tree) => super::header::fact_names(report, Some(tree), head.facts, "gear"),
            None => Vec::new(),
        };
        if gear.is_empty() {
            report.add(
                at,
                "A step that tests live parts must name the gear that is known before.",
                "Add `gear: [meter_rating, protective_gear]` with your facts for them.",
            );
        }
        return Some(Danger::TestsLive { sources, gear });
    }
    if head.hands_off
        || hands_off == Some(true)
        || matches!(act, Some(Act::Run(_) | Act::Finish { .. }))
    {
        return Some(Danger::HandsOff);
    }
    report.add(
        at,
        "This step does not say what its hands are near.",
        "Add `touches: […]`, `tests_live: […]` or `hands_off: true`.",
    );
    None
}

/// `true` or `false`.
pub(super) fn truth(report: &mut Report<'_>, tree: &Tree, what: &str) -> bool {
    match report.text(tree, what).as_deref() {
        Some("true") => true,
        Some("false") | None => false,
        Some(_) => {
            report.add(tree.at, format!("{what} is `true` or left out."), "");
            false
        }
    }
}

/// A list of declared energy sources.
fn source_names(report: &mut Report<'_>, head: &Head<'_>, tree: &Tree) -> Vec<Located<SourceName>> {
    report
        .texts(tree, "The energy source")
        .into_iter()
        .filter_map(|name| source_name(report, head, &name))
        .collect()
}

pub(super) fn source_name(
    report: &mut Report<'_>,
    head: &Head<'_>,
    name: &Located<String>,
) -> Option<Located<SourceName>> {
    if head.energy.contains_key(name.it.as_str()) {
        return Some(Located {
            at: name.at,
            it: SourceName::from(name.it.as_str()),
        });
    }
    report.add(
        name.at,
        format!("`{}` is not declared under `energy`.", name.it),
        did_you_mean(&name.it, head.energy.keys().map(SourceName::as_str)),
    );
    None
}

/// A role by its word.
pub(super) fn role(report: &mut Report<'_>, said: &Located<String>) -> Option<Role> {
    let role = Role::of_word(&said.it);
    if role.is_none() {
        report.add(
            said.at,
            format!("`{}` is not a role.", said.it),
            "It can be `apprentice`, `technician`, `electrician` or `supervisor`.",
        );
    }
    role
}

fn cites(report: &mut Report<'_>, tree: Option<&Tree>) -> Vec<String> {
    let texts = tree.map(|tree| report.texts(tree, "`cite`"));
    let texts = texts.unwrap_or_default().into_iter();
    texts.map(|cite| cite.it).collect()
}

fn roles(report: &mut Report<'_>, tree: Option<&Tree>) -> Vec<Role> {
    let Some(tree) = tree else { return Vec::new() };
    report
        .texts(tree, "The role")
        .iter()
        .filter_map(|said| role(report, said))
        .collect()
}

/// Competences that the head declares.
fn needs_shown(
    report: &mut Report<'_>,
    head: &Head<'_>,
    tree: Option<&Tree>,
) -> Vec<Located<CompetenceName>> {
    let Some(tree) = tree else { return Vec::new() };
    let mut needed = Vec::new();
    for name in report.texts(tree, "The competence") {
        if head.competences.contains_key(name.it.as_str()) {
            let it = CompetenceName::from(name.it);
            needed.push(Located { at: name.at, it });
        } else {
            report.add(
                name.at,
                format!("`{}` is not declared under `competences`.", name.it),
                did_you_mean(
                    &name.it,
                    head.competences.keys().map(CompetenceName::as_str),
                ),
            );
        }
    }
    needed
}

/// A length of time such as `20 s` or `30 min`, in seconds.
pub(super) fn seconds(report: &mut Report<'_>, tree: &Tree) -> Option<u32> {
    use crate::trade::quantity::{Kind, Unit};
    let text = report.text(tree, "The time")?;
    let split = text
        .find(|c: char| !c.is_ascii_digit())
        .unwrap_or(text.len());
    let (number, unit) = text.split_at(split);
    let parsed = number
        .parse::<u32>()
        .ok()
        .zip(Unit::typed(Kind::Duration, unit))
        .map(|(number, unit)| f64::from(number) * unit.scale)
        .filter(|seconds| *seconds <= 7.0 * 86_400.0);
    if parsed.is_none() {
        report.add(
            tree.at,
            format!("`{text}` is not a length of time."),
            "Write `20 s` or `30 min`.",
        );
    }
    parsed.map(|seconds| seconds as u32)
}

fn sets(
    report: &mut Report<'_>,
    head: &Head<'_>,
    tree: &Tree,
) -> Vec<(Located<SourceName>, Setting)> {
    let mut sets = Vec::new();
    for (name, said) in report.map(tree, "`sets`") {
        let Some(source) = source_name(report, head, name) else {
            continue;
        };
        let Some(word) = report.text(said, "The setting") else {
            continue;
        };
        let kind = head.energy[&source.it].kind;
        match settings(kind).iter().find(|(text, _)| *text == word) {
            Some((_, setting)) => sets.push((source, *setting)),
            None => report.add(
                said.at,
                format!("`{word}` is not on this source's ladder."),
                did_you_mean(&word, settings(kind).iter().map(|(text, _)| *text)),
            ),
        }
    }
    sets
}

/// One of these words, with its place.
fn word<T: Copy>(
    report: &mut Report<'_>,
    tree: &Tree,
    words: &[(&str, T)],
    what: &str,
) -> Option<Located<T>> {
    let said = report.text(tree, what)?;
    let found = words.iter().find(|(word, _)| *word == said);
    if found.is_none() {
        report.add(
            tree.at,
            format!("{what} has no word `{said}`."),
            did_you_mean(&said, words.iter().map(|(word, _)| *word)),
        );
    }
    found.map(|(_, it)| Located {
        at: tree.at,
        it: *it,
    })
}

/// The words that a step may set on a source of this kind.
fn settings(kind: SourceKind) -> Ladder {
    let ladder = LADDERS.iter().find(|(of, _)| *of == kind);
    ladder.map_or(&[], |(_, ladder)| *ladder)
}

fn branches(
    report: &mut Report<'_>,
    head: &Head<'_>,
    fields: &mut Fields<'_>,
    act: Option<&Act>,
    name: &Located<String>,
) -> Vec<Branch> {
    let at = fields.at();
    let then = fields.take("then");
    if matches!(act, Some(Act::Finish { .. })) {
        if let Some(tree) = then {
            report.add(
                tree.at,
                "A `finish` step goes nowhere.",
                "Take `then` away.",
            );
        }
        return Vec::new();
    }
    let Some(tree) = then else {
        report.add(
            at,
            format!("The step `{}` leads nowhere.", name.it),
            "Add `then: STEP`, or make it a `finish`.",
        );
        return Vec::new();
    };
    let Shape::List(items) = &tree.shape else {
        let go = report.text(tree, "`then`").map(StepName::from);
        return go
            .map(|it| Branch {
                when: None,
                go: Located { at: tree.at, it },
            })
            .into_iter()
            .collect();
    };
    let outcome = run::outcomes(head, act);
    let scope = FlowScope {
        facts: head.facts,
        outcome,
    };
    let mut branches: Vec<Branch> = Vec::new();
    for item in items {
        let mut fields = Fields::of(report, item, "The branch");
        let when = fields
            .take("when")
            .map(|tree| condition(report, tree, &scope));
        let go = fields.require(report, "go").and_then(|tree| {
            report.text(tree, "`go`").map(|it| Located {
                at: tree.at,
                it: StepName::from(it),
            })
        });
        fields.finish(report);
        if let (Some(go), false) = (go, matches!(when, Some(None))) {
            branches.push(Branch {
                when: when.flatten(),
                go,
            });
        }
    }
    check_last(report, tree, &branches);
    branches
}

fn check_last(report: &mut Report<'_>, tree: &Tree, branches: &[Branch]) {
    if let Some((_, before)) = branches.split_last() {
        if let Some(early) = before.iter().find(|branch| branch.when.is_none()) {
            report.add(
                early.go.at,
                "The branches after this one can never be taken.",
                "Give it a `when`, or make it the last.",
            );
        }
    } else {
        report.add(tree.at, "`then` names no step.", "Add `- { go: STEP }`.");
    }
}
