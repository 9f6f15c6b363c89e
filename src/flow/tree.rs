//! A YAML file as a tree in which every node and key knows its place.

use std::fmt;

use serde::de::{Deserialize, Deserializer, MapAccess, SeqAccess, Visitor};
use serde_yaml::Spanned;

use super::model::{At, Located};
use super::problem::{Family, Problem};

/// The most bytes one file may have.
pub const FILE_BYTES_MAX: usize = 256 * 1024;
const DEPTH_MAX: usize = 32;
const ALIASES_MAX: usize = 64;
const NODES_MAX: usize = 50_000;

/// A node with its place.
#[derive(Clone, Debug)]
pub struct Tree {
    /// Where it begins; a value in quotes begins inside them.
    pub at: At,
    /// Whether the file says a value letter by letter at its place. A text over several lines
    /// is folded by YAML: no place inside it is certain.
    pub verbatim: bool,
    /// What it is.
    pub shape: Shape,
}

impl Tree {
    fn of(spanned: Spanned<Shape>) -> Self {
        Self {
            at: place(&spanned),
            verbatim: false,
            shape: spanned.value,
        }
    }

    /// Compares every value with what the file says at its place.
    fn settle(&mut self, lines: &[&str]) {
        match &mut self.shape {
            Shape::Empty => {}
            Shape::Scalar(value) => {
                let from = from_place(lines, self.at);
                let inside = from.strip_prefix(['"', '\'']);
                self.verbatim = inside.unwrap_or(from).starts_with(value.trim_end());
                if inside.is_some() && self.verbatim {
                    self.at.column += 1;
                }
            }
            Shape::List(items) => items.iter_mut().for_each(|item| item.settle(lines)),
            Shape::Map(entries) => entries.iter_mut().for_each(|(_, item)| item.settle(lines)),
        }
    }
}

/// What the line of a place says from that place on.
fn from_place<'t>(lines: &[&'t str], at: At) -> &'t str {
    let index = |one_based: u32| usize::try_from(one_based).unwrap_or(0).checked_sub(1);
    let line = index(at.line).and_then(|line| lines.get(line));
    let (Some(line), Some(column)) = (line, index(at.column)) else {
        return "";
    };
    let start = line
        .char_indices()
        .nth(column)
        .map_or(line.len(), |(start, _)| start);
    line.get(start..).unwrap_or("")
}

/// What a node is.
#[derive(Clone, Debug)]
pub enum Shape {
    /// Nothing.
    Empty,
    /// A single value, as text.
    Scalar(String),
    /// A list.
    List(Vec<Tree>),
    /// A map, in the order of the file.
    Map(Vec<(Located<String>, Tree)>),
}

/// Reads the one YAML document in `text`.
///
/// # Errors
/// A file that is too large, is not YAML, says a key twice, is nested too deeply or leans on
/// aliases too much: one problem with its place.
pub fn read(file: &str, text: &str) -> Result<Tree, Problem> {
    if text.len() > FILE_BYTES_MAX {
        return Err(Problem {
            family: Family::File,
            file: file.to_owned(),
            at: At { line: 1, column: 1 },
            wrong: format!(
                "The file has {} KiB; a flow may have {} KiB.",
                text.len().div_ceil(1024),
                FILE_BYTES_MAX / 1024
            ),
            mend: "Split it into flows that run each other.".to_owned(),
        });
    }
    let options = serde_yaml::options! {
        budget: serde_yaml::budget! {
            max_depth: DEPTH_MAX,
            max_aliases: ALIASES_MAX,
            max_anchors: ALIASES_MAX,
            max_nodes: NODES_MAX,
        },
        strict_booleans: true,
    };
    serde_yaml::from_str_with_options::<Spanned<Shape>>(text, options)
        .map(|spanned| {
            let lines: Vec<&str> = text.lines().collect();
            let mut tree = Tree::of(spanned);
            tree.settle(&lines);
            tree
        })
        .map_err(|error| not_yaml(file, &error))
}

fn not_yaml(file: &str, error: &serde_yaml::Error) -> Problem {
    let at = error.location().map_or(At { line: 1, column: 1 }, at_of);
    let told = error.without_snippet().to_string();
    let first_line = told.lines().next().unwrap_or("It is not readable.").trim();
    Problem {
        family: Family::File,
        file: file.to_owned(),
        at,
        wrong: format!("This is not YAML as expected here: {first_line}."),
        mend: "Look at the indentation and the quotes of this line and the one before.".to_owned(),
    }
}

fn at_of(location: serde_yaml::Location) -> At {
    At {
        line: u32::try_from(location.line()).unwrap_or(u32::MAX),
        column: u32::try_from(location.column()).unwrap_or(u32::MAX),
    }
}

fn place<T>(spanned: &Spanned<T>) -> At {
    at_of(spanned.referenced)
}

struct ShapeVisitor;

impl<'de> Deserialize<'de> for Shape {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_any(ShapeVisitor)
    }
}

impl<'de> Visitor<'de> for ShapeVisitor {
    type Value = Shape;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a value, a list or a map")
    }

    fn visit_unit<E>(self) -> Result<Shape, E> {
        Ok(Shape::Empty)
    }

    fn visit_none<E>(self) -> Result<Shape, E> {
        Ok(Shape::Empty)
    }

    fn visit_bool<E>(self, value: bool) -> Result<Shape, E> {
        Ok(Shape::Scalar(value.to_string()))
    }

    fn visit_i64<E>(self, value: i64) -> Result<Shape, E> {
        Ok(Shape::Scalar(value.to_string()))
    }

    fn visit_u64<E>(self, value: u64) -> Result<Shape, E> {
        Ok(Shape::Scalar(value.to_string()))
    }

    fn visit_f64<E>(self, value: f64) -> Result<Shape, E> {
        Ok(Shape::Scalar(value.to_string()))
    }

    fn visit_str<E>(self, value: &str) -> Result<Shape, E> {
        Ok(Shape::Scalar(value.to_owned()))
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut list: A) -> Result<Shape, A::Error> {
        let mut items = Vec::new();
        while let Some(item) = list.next_element::<Spanned<Shape>>()? {
            items.push(Tree::of(item));
        }
        Ok(Shape::List(items))
    }

    fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<Shape, A::Error> {
        let mut entries = Vec::new();
        while let Some(key) = map.next_key::<Spanned<String>>()? {
            let value = map.next_value::<Spanned<Shape>>()?;
            let key = Located {
                at: place(&key),
                it: key.value,
            };
            entries.push((key, Tree::of(value)));
        }
        Ok(Shape::Map(entries))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_node_and_key_knows_its_place() {
        let tree = read("a.yaml", "flow: x\nsteps:\n  one: { say: Hello, n: 12 }\n").unwrap();
        let Shape::Map(top) = &tree.shape else {
            panic!("a map")
        };
        assert_eq!(top[1].0.at, At { line: 2, column: 1 });
        let Shape::Map(steps) = &top[1].1.shape else {
            panic!("a map")
        };
        assert_eq!(steps[0].0.at, At { line: 3, column: 3 });
        let Shape::Map(step) = &steps[0].1.shape else {
            panic!("a map")
        };
        assert_eq!(
            step[0].1.at,
            At {
                line: 3,
                column: 15
            }
        );
        assert!(matches!(&step[1].1.shape, Shape::Scalar(text) if text == "12"));
    }

    #[test]
    fn a_value_in_quotes_begins_inside_them_and_a_folded_one_is_not_verbatim() {
        let text = "a: 'x == 1'\nb: é # c\nc: >\n  two\n  lines\nd: one\n  two\ne: 'it''s'\n";
        let Shape::Map(top) = read("a.yaml", text).unwrap().shape else {
            panic!("a map")
        };
        let places: Vec<(u32, u32, bool)> = top
            .iter()
            .map(|(_, tree)| (tree.at.line, tree.at.column, tree.verbatim))
            .collect();
        assert_eq!(
            places,
            [
                (1, 5, true),
                (2, 4, true),
                (4, 3, false),
                (6, 4, false),
                (8, 4, false)
            ]
        );
    }

    #[test]
    fn a_key_said_twice_is_refused_with_its_place() {
        let problem = read("a.yaml", "a: 1\nb: 2\na: 3\n").unwrap_err();
        assert_eq!(problem.at.line, 3);
        assert!(problem.wrong.contains("duplicate"), "{}", problem.wrong);
    }

    #[test]
    fn bombs_and_pits_are_refused() {
        let deep = "[".repeat(500) + &"]".repeat(500);
        read("a.yaml", &deep).unwrap_err();
        let bomb = "a: &a [x,x,x,x,x,x,x,x,x]\nb: &b [*a,*a,*a,*a,*a,*a,*a,*a,*a]\n\
                    c: &c [*b,*b,*b,*b,*b,*b,*b,*b,*b]\nd: &d [*c,*c,*c,*c,*c,*c,*c,*c,*c]\n\
                    e: &e [*d,*d,*d,*d,*d,*d,*d,*d,*d]\nf: [*e,*e,*e,*e,*e,*e,*e,*e,*e]\n";
        read("a.yaml", bomb).unwrap_err();
        read("a.yaml", &"x".repeat(FILE_BYTES_MAX + 1)).unwrap_err();
    }
}
