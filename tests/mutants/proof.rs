//! Judging many changes on all cores, and telling how it went.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write;
use std::sync::atomic::{AtomicUsize, Ordering};

use fanwright::check::{self, Finding, Grade};
use fanwright::flow::library::Library;

use super::shelf::{Draft, Shelf};

/// So many findings are told of one change at most.
const FOUND_MAX: usize = 6;

/// A change to the shipped flows.
pub(super) struct Change {
    /// What was done, in words.
    pub(super) says: String,
    /// The files that are different.
    pub(super) drafts: Vec<Draft>,
    /// The steps of which one must be named: where a finding stands, in its sentence, or on the
    /// walk that shows it. Flow and step.
    pub(super) right: Vec<(String, String)>,
}

impl Change {
    /// A change of one file.
    pub(super) fn of(draft: Draft, right: &[&str], says: String) -> Self {
        let flow = draft.flow().to_owned();
        let right = right.iter().map(|step| (flow.clone(), (*step).to_owned()));
        Self {
            says: format!("{flow}: {says}"),
            right: right.collect(),
            drafts: vec![draft],
        }
    }
}

/// One way of changing flows.
pub(super) struct Operator {
    pub(super) name: &'static str,
    /// The names of findings of which one must come of it; none for a safe one.
    pub(super) finds: &'static [&'static str],
    pub(super) make: fn(&Shelf) -> Vec<Change>,
}

/// The shelf as it is loaded before anything is changed.
pub(super) struct Base {
    library: Library,
    texts: BTreeMap<String, String>,
}

impl Base {
    pub(super) fn of(shelf: &Shelf) -> Self {
        let mut sources = fanwright::flow::embedded::sources();
        for (file, draft) in &shelf.drafts {
            sources.files.insert(file.clone(), draft.value.print());
        }
        let texts = sources.files.clone();
        let library = Library::load(sources).unwrap_or_else(|problems| panic!("{problems:?}"));
        let findings = check::of_library(&library);
        assert!(findings.is_empty(), "printed anew: {findings:?}");
        Self { library, texts }
    }

    /// What the checker finds once this is changed, and the changed texts.
    fn findings(&self, change: &Change) -> (Vec<Finding>, BTreeMap<String, String>) {
        let drafts = change.drafts.iter();
        let texts: BTreeMap<String, String> = drafts
            .map(|draft| (draft.file.clone(), draft.value.print()))
            .collect();
        let findings = match self.library.with_files(texts.clone()) {
            Ok(library) => check::of_library(&library),
            Err(problems) => problems.iter().map(check::of_problem).collect(),
        };
        (findings, texts)
    }

    /// The lines that a change takes away and puts in.
    fn lines(&self, texts: &BTreeMap<String, String>) -> String {
        let mut out = String::new();
        for (file, text) in texts {
            let before = self.texts.get(file).map_or("", String::as_str);
            let (old, new): (Vec<&str>, Vec<&str>) =
                (before.lines().collect(), text.lines().collect());
            let same = old.iter().zip(&new).take_while(|(a, b)| a == b).count();
            let left = old.len().min(new.len()) - same;
            let (old_end, new_end) = (old[same..].iter().rev(), new[same..].iter().rev());
            let tail = old_end
                .zip(new_end)
                .take(left)
                .take_while(|(a, b)| a == b)
                .count();
            let _ = writeln!(out, "  {file}:{}", same + 1);
            let parts = [("-", &old, old.len() - tail), ("+", &new, new.len() - tail)];
            for (mark, lines, end) in parts {
                for line in lines[same..end].iter().take(40) {
                    let _ = writeln!(out, "  {mark} {line}");
                }
            }
        }
        out
    }
}

/// How one change went.
struct Judged {
    operator: usize,
    good: bool,
    brief: String,
    told: String,
}

/// What became of all changes.
pub(super) struct Outcome {
    /// A line for each operator.
    pub(super) table: String,
    /// How many changes there were.
    pub(super) count: usize,
    /// The changes that went wrong, in a word.
    pub(super) brief: Vec<String>,
    /// The changes that went wrong, told with lines and findings.
    pub(super) wrong: Vec<String>,
}

/// Judges every change of every operator: unsafe ones must be rejected, by the right name at the
/// right step; safe ones must have no error.
pub(super) fn judge(base: &Base, shelf: &Shelf, operators: &[Operator]) -> Outcome {
    let changes: Vec<(usize, Change)> = operators
        .iter()
        .enumerate()
        .flat_map(|(at, operator)| (operator.make)(shelf).into_iter().map(move |it| (at, it)))
        .collect();
    let next = AtomicUsize::new(0);
    let cores = std::thread::available_parallelism().map_or(2, std::num::NonZero::get);
    let judged: Vec<Judged> = std::thread::scope(|scope| {
        let work = || {
            let mut judged = Vec::new();
            while let Some((at, change)) = changes.get(next.fetch_add(1, Ordering::Relaxed)) {
                judged.push(one(base, *at, &operators[*at], change));
            }
            judged
        };
        let threads: Vec<_> = (0..cores).map(|_| scope.spawn(work)).collect();
        let done = threads
            .into_iter()
            .flat_map(|thread| thread.join().unwrap());
        done.collect()
    });
    let mut table = String::new();
    for (at, operator) in operators.iter().enumerate() {
        let mine: Vec<&Judged> = judged.iter().filter(|it| it.operator == at).collect();
        let good = mine.iter().filter(|it| it.good).count();
        let _ = writeln!(table, "{:<46} {:>4} {good:>5}", operator.name, mine.len());
    }
    let count = judged.len();
    let mut wrong: Vec<Judged> = judged.into_iter().filter(|it| !it.good).collect();
    wrong.sort_by(|a, b| (a.operator, &a.told).cmp(&(b.operator, &b.told)));
    Outcome {
        table,
        count,
        brief: wrong.iter().map(|it| it.brief.clone()).collect(),
        wrong: wrong.into_iter().map(|it| it.told).collect(),
    }
}

fn one(base: &Base, at: usize, operator: &Operator, change: &Change) -> Judged {
    let (findings, texts) = base.findings(change);
    let errors: Vec<&Finding> = findings
        .iter()
        .filter(|finding| finding.grade == Grade::Error)
        .collect();
    let good = if operator.finds.is_empty() {
        errors.is_empty()
    } else {
        errors.iter().any(|finding| {
            operator.finds.contains(&finding.name) && names_right(change, &texts, base, finding)
        })
    };
    let (mut brief, mut told) = (String::new(), String::new());
    if !good {
        let names: BTreeSet<&str> = errors.iter().map(|it| it.name).collect();
        brief = format!("{}: {} {names:?}", operator.name, change.says);
        let found: Vec<String> = errors
            .iter()
            .take(FOUND_MAX)
            .map(|it| {
                format!(
                    "  [{}] {it} {}",
                    it.name,
                    it.walk_in_short().unwrap_or_default()
                )
            })
            .collect();
        let found = if found.is_empty() {
            "  no error".to_owned()
        } else {
            found.join("\n")
        };
        told = format!(
            "{}: {}\n{}{found}\n",
            operator.name,
            change.says,
            base.lines(&texts)
        );
    }
    Judged {
        operator: at,
        good,
        brief,
        told,
    }
}

/// Whether a finding names one of the right steps.
fn names_right(
    change: &Change,
    texts: &BTreeMap<String, String>,
    base: &Base,
    finding: &Finding,
) -> bool {
    let text = texts
        .get(&finding.file)
        .or_else(|| base.texts.get(&finding.file));
    let stands_at = text.and_then(|text| step_at_line(text, finding.line));
    change.right.iter().any(|(flow, step)| {
        let in_file = finding.file == format!("{flow}.yaml");
        let here = in_file && stands_at.as_deref() == Some(step);
        let said = in_file && finding.wrong.contains(&format!("`{step}`"));
        let on_walk = finding
            .walk
            .iter()
            .any(|stop| stop.flow.as_str() == flow && stop.step.as_str() == step);
        here || said || on_walk
    })
}

/// The step to which a line of a printed flow belongs.
fn step_at_line(text: &str, line: u32) -> Option<String> {
    let lines: Vec<&str> = text.lines().take(line as usize).collect();
    let steps = lines.iter().position(|line| *line == "steps:")?;
    let name = lines[steps..].iter().rev().find_map(|line| {
        let (name, _) = line.strip_prefix("  ")?.split_once(':')?;
        (!name.starts_with([' ', '-'])).then_some(name)
    })?;
    Some(name.to_owned())
}
