//! Reading the keys of a map, with a complaint for every key that nobody asked for.

use super::super::expression::Fault;
use super::super::model::{At, Located};
use super::super::problem::{Family, Problem};
use super::super::tree::{Shape, Tree};

/// Collects what is wrong with one file; reading never stops at the first problem.
pub(super) struct Report<'a> {
    file: &'a str,
    problems: Vec<Problem>,
}

impl<'a> Report<'a> {
    pub(super) fn new(file: &'a str) -> Self {
        Self {
            file,
            problems: Vec::new(),
        }
    }

    pub(super) fn add(&mut self, at: At, wrong: impl Into<String>, mend: impl Into<String>) {
        self.problems.push(Problem {
            family: Family::Language,
            file: self.file.to_owned(),
            at,
            wrong: wrong.into(),
            mend: mend.into(),
        });
    }

    /// Adds the faults of the expression or template that `tree` holds.
    pub(super) fn add_faults(&mut self, tree: &Tree, faults: Vec<Fault>) {
        for fault in faults {
            let at = if tree.verbatim { fault.at } else { tree.at };
            self.add(at, fault.wrong, fault.mend);
        }
    }

    pub(super) fn into_problems(mut self) -> Vec<Problem> {
        self.problems.sort_by_key(|problem| problem.at);
        self.problems
    }

    /// The text of a scalar.
    pub(super) fn text(&mut self, tree: &Tree, what: &str) -> Option<String> {
        match &tree.shape {
            Shape::Scalar(text) if !text.trim().is_empty() => Some(text.trim().to_owned()),
            Shape::Scalar(_) | Shape::Empty => {
                self.add(
                    tree.at,
                    format!("{what} is empty."),
                    "Write it, or take the key away.",
                );
                None
            }
            Shape::List(_) | Shape::Map(_) => {
                self.add(tree.at, format!("{what} must be a single value."), "");
                None
            }
        }
    }

    /// A whole number.
    pub(super) fn whole(&mut self, tree: &Tree, what: &str) -> Option<u32> {
        let text = self.text(tree, what)?;
        let number = text.parse().ok();
        if number.is_none() {
            self.add(
                tree.at,
                format!("{what} must be a whole number such as 12."),
                "",
            );
        }
        number
    }

    /// A list of texts; a single text stands for a list of one.
    pub(super) fn texts(&mut self, tree: &Tree, what: &str) -> Vec<Located<String>> {
        match &tree.shape {
            Shape::List(items) => items
                .iter()
                .filter_map(|item| self.text(item, what).map(|it| Located { at: item.at, it }))
                .collect(),
            _ => self
                .text(tree, what)
                .map(|it| Located { at: tree.at, it })
                .into_iter()
                .collect(),
        }
    }

    /// The entries of a map.
    pub(super) fn map<'t>(&mut self, tree: &'t Tree, what: &str) -> &'t [(Located<String>, Tree)] {
        match &tree.shape {
            Shape::Map(entries) => entries,
            Shape::Empty => &[],
            Shape::Scalar(_) | Shape::List(_) => {
                self.add(
                    tree.at,
                    format!("{what} must be a map of keys and values."),
                    "Write `key: value`, one a line, or `{ key: value }`.",
                );
                &[]
            }
        }
    }
}

/// The keys of one map that are not read yet.
pub(super) struct Fields<'t> {
    at: At,
    what: String,
    left: Vec<&'t (Located<String>, Tree)>,
    asked: Vec<&'static str>,
}

impl<'t> Fields<'t> {
    pub(super) fn of(report: &mut Report<'_>, tree: &'t Tree, what: &str) -> Self {
        let left = report.map(tree, what).iter().collect();
        Self {
            at: tree.at,
            what: what.to_owned(),
            left,
            asked: Vec::new(),
        }
    }

    pub(super) fn at(&self) -> At {
        self.at
    }

    /// The value of `key`, if the file says it.
    pub(super) fn take(&mut self, key: &'static str) -> Option<&'t Tree> {
        self.take_entry(key).map(|(_, value)| value)
    }

    /// The key with its place and its value, if the file says it.
    pub(super) fn take_entry(&mut self, key: &'static str) -> Option<&'t (Located<String>, Tree)> {
        self.asked.push(key);
        let index = self.left.iter().position(|(name, _)| name.it == key)?;
        Some(self.left.remove(index))
    }

    /// The value of `key`, or a complaint.
    pub(super) fn require(
        &mut self,
        report: &mut Report<'_>,
        key: &'static str,
    ) -> Option<&'t Tree> {
        let found = self.take(key);
        if found.is_none() {
            report.add(
                self.at,
                format!("{} lacks `{key}`.", self.what),
                format!("Add `{key}: …`."),
            );
        }
        found
    }

    /// Complains about every key that nobody took.
    pub(super) fn finish(self, report: &mut Report<'_>) {
        for (key, _) in &self.left {
            report.add(
                key.at,
                format!("{} has no key `{}`.", self.what, key.it),
                did_you_mean(&key.it, self.asked.iter().copied()),
            );
        }
    }
}

/// `Did you mean `x`?` where one of `names` is close, else the names.
pub(super) fn did_you_mean<'n>(said: &str, names: impl Iterator<Item = &'n str>) -> String {
    let names: Vec<&str> = names.collect();
    let close = names
        .iter()
        .map(|name| (strsim::damerau_levenshtein(said, name), name))
        .min()
        .filter(|(distance, _)| *distance <= 2);
    match close {
        Some((_, name)) => format!("Did you mean `{name}`?"),
        None if names.is_empty() => String::new(),
        None => {
            let shown: Vec<String> = names
                .iter()
                .take(12)
                .map(|name| format!("`{name}`"))
                .collect();
            format!("It can be {}.", shown.join(", "))
        }
    }
}
