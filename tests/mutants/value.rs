//! A flow as plain values that can be changed and printed again, one key a line.

use std::fmt::Write;

use fanwright::flow::tree::{self, Shape, Tree};
use indexmap::IndexMap;

/// A value of a flow's file.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Value {
    Word(String),
    List(Vec<Value>),
    Map(IndexMap<String, Value>),
}

impl Value {
    /// Reads a flow's text; aliases are written out.
    pub(super) fn read(file: &str, text: &str) -> Self {
        let tree = tree::read(file, text).unwrap_or_else(|problem| panic!("{problem:?}"));
        Self::of(&tree)
    }

    fn of(tree: &Tree) -> Self {
        match &tree.shape {
            Shape::Empty => Self::Word(String::new()),
            Shape::Scalar(text) => Self::Word(text.clone()),
            Shape::List(items) => Self::List(items.iter().map(Self::of).collect()),
            Shape::Map(entries) => {
                let entries = entries.iter();
                Self::Map(
                    entries
                        .map(|(key, value)| (key.it.clone(), Self::of(value)))
                        .collect(),
                )
            }
        }
    }

    pub(super) fn word(text: &str) -> Self {
        Self::Word(text.to_owned())
    }

    pub(super) fn words(words: &[&str]) -> Self {
        Self::List(words.iter().map(|word| Self::word(word)).collect())
    }

    pub(super) fn map(entries: &[(&str, Value)]) -> Self {
        let entries = entries.iter();
        Self::Map(
            entries
                .map(|(key, value)| ((*key).to_owned(), value.clone()))
                .collect(),
        )
    }

    pub(super) fn as_word(&self) -> Option<&str> {
        match self {
            Self::Word(text) => Some(text),
            _ => None,
        }
    }

    pub(super) fn as_list(&self) -> &[Value] {
        match self {
            Self::List(items) => items,
            _ => &[],
        }
    }

    pub(super) fn as_map(&self) -> Option<&IndexMap<String, Value>> {
        match self {
            Self::Map(entries) => Some(entries),
            _ => None,
        }
    }

    /// The entries of a map that must be one.
    pub(super) fn entries(&mut self) -> &mut IndexMap<String, Value> {
        match self {
            Self::Map(entries) => entries,
            other => panic!("{other:?} is no map"),
        }
    }

    pub(super) fn get(&self, key: &str) -> Option<&Value> {
        self.as_map()?.get(key)
    }

    pub(super) fn word_at(&self, key: &str) -> Option<&str> {
        self.get(key)?.as_word()
    }

    pub(super) fn has(&self, key: &str) -> bool {
        self.get(key).is_some()
    }

    pub(super) fn set(&mut self, key: &str, value: Value) {
        self.entries().insert(key.to_owned(), value);
    }

    pub(super) fn drop_key(&mut self, key: &str) {
        self.entries().shift_remove(key);
    }

    /// The value as YAML.
    pub(super) fn print(&self) -> String {
        let mut out = String::new();
        self.print_at(&mut out, 0);
        out
    }

    fn print_at(&self, out: &mut String, depth: usize) {
        match self {
            Self::Map(entries) => {
                for (key, value) in entries {
                    let _ = write!(out, "{:1$}{key}:", "", depth * 2);
                    value.print_after(out, depth);
                }
            }
            Self::List(items) => {
                for item in items {
                    let _ = write!(out, "{:1$}-", "", depth * 2);
                    item.print_after(out, depth);
                }
            }
            Self::Word(text) => {
                let _ = writeln!(out, "{}", quoted(text));
            }
        }
    }

    /// Prints it behind a key or a dash.
    fn print_after(&self, out: &mut String, depth: usize) {
        match self.on_one_line() {
            Some(line) => {
                let _ = writeln!(out, " {line}");
            }
            None => {
                out.push('\n');
                self.print_at(out, depth + 1);
            }
        }
    }

    fn on_one_line(&self) -> Option<String> {
        match self {
            Self::Word(text) => Some(quoted(text)),
            Self::List(items) => {
                let words: Option<Vec<&str>> = items.iter().map(Self::as_word).collect();
                let words: Vec<String> = words?.iter().map(|word| quoted(word)).collect();
                Some(format!("[{}]", words.join(", ")))
            }
            Self::Map(entries) => {
                let short = entries.len() < 3;
                let words = entries.iter().filter(|_| short);
                let words: Option<Vec<String>> = words
                    .map(|(key, value)| Some(format!("{key}: {}", quoted(value.as_word()?))))
                    .collect();
                let words = words?;
                let whole = words.len() == entries.len();
                whole.then(|| format!("{{ {} }}", words.join(", ")))
            }
        }
    }
}

/// A word as YAML: bare where that is plain, in JSON's quotes where it is not.
fn quoted(text: &str) -> String {
    let bare = text.starts_with(|c: char| c.is_ascii_alphabetic())
        && text
            .chars()
            .all(|c| c.is_ascii_alphanumeric() || "_-. ".contains(c))
        && !text.ends_with(' ')
        && !["null", "y", "n", "yes", "no", "on", "off", "nan", "inf"]
            .contains(&text.to_lowercase().as_str());
    if bare {
        text.to_owned()
    } else {
        serde_json::to_string(text).unwrap_or_default()
    }
}
