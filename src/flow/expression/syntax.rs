//! From text to the parser's tree, with faults in plain words.

use cel::common::ast::{IdedExpr, SourceInfo};
use cel::parser::Parser;

use super::Fault;
use super::limits::EXPRESSION_DEPTH_MAX;
use crate::flow::model::At;

/// A text and where it stands.
#[derive(Clone, Copy)]
pub(super) struct Place<'a> {
    /// The text.
    pub(super) source: &'a str,
    /// Where its first character stands.
    pub(super) at: At,
}

/// The parser's tree with the place of every node.
pub(super) struct Tree {
    /// The whole.
    pub(super) root: IdedExpr,
    places: SourceInfo,
}

impl Place<'_> {
    /// A fault at the byte `offset` of the text.
    pub(super) fn fault(
        &self,
        offset: usize,
        wrong: impl Into<String>,
        mend: impl Into<String>,
    ) -> Fault {
        Fault {
            at: self.at_offset(offset),
            wrong: wrong.into(),
            mend: mend.into(),
        }
    }

    /// Where the byte `offset` stands. YAML may fold the lines of a longer text, so inside
    /// several lines only the beginning is certain.
    fn at_offset(&self, offset: usize) -> At {
        if self.source.contains('\n') {
            return self.at;
        }
        let before = self
            .source
            .char_indices()
            .take_while(|(at, _)| *at < offset);
        let column = u32::try_from(before.count()).unwrap_or(0);
        At {
            line: self.at.line,
            column: self.at.column.saturating_add(column),
        }
    }
}

impl Tree {
    /// The byte at which the node `id` begins; a call begins with its name.
    pub(super) fn offset(&self, id: u64, name: &str) -> usize {
        let start = self
            .places
            .offset_for(id)
            .map_or(0, |(start, _)| start as usize);
        let before = self.places.source.get(..start).unwrap_or("").trim_end();
        match before.strip_suffix(name) {
            Some(rest) if !name.is_empty() => rest.len(),
            _ => start,
        }
    }
}

/// The parser needs some 70 KiB of stack for each bracket that is open, also for those that it
/// passes over while it looks for the next thing that fits: more than a thread has for the deepest
/// text within the limits.
const STACK_BYTES: usize = 16 * 1024 * 1024;

/// Parses a text that is within the limits.
pub(super) fn parse(place: &Place<'_>) -> Result<Tree, Fault> {
    stacker::grow(STACK_BYTES, || parse_here(place))
}

fn parse_here(place: &Place<'_>) -> Result<Tree, Fault> {
    let depth = u16::try_from(EXPRESSION_DEPTH_MAX * 2).unwrap_or(u16::MAX);
    Parser::new()
        .max_recursion_depth(depth)
        .error_recovery_limit(1)
        .parse_with_source_info(place.source)
        .map(|(root, places)| Tree { root, places })
        .map_err(|errors| {
            // What follows the first error is mostly its consequence.
            let first = errors.errors.into_iter().next();
            let (line, column) = first.map_or((1, 1), |error| error.pos);
            unreadable(place, offset_of(place.source, line, column))
        })
}

/// The byte offset of a line and column that count from 1.
fn offset_of(source: &str, line: isize, column: isize) -> usize {
    let lines_before = usize::try_from(line - 1).unwrap_or(0);
    let start: usize = source
        .split_inclusive('\n')
        .take(lines_before)
        .map(str::len)
        .sum();
    (start + usize::try_from(column - 1).unwrap_or(0)).min(source.len())
}

fn unreadable(place: &Place<'_>, offset: usize) -> Fault {
    let rest = place.source.get(offset..).unwrap_or("").trim_start();
    let before = place.source.get(..offset).unwrap_or("").trim_end();
    let token = first_token(rest);
    let wrong = if token.is_empty() {
        "This expression ends too early.".to_owned()
    } else {
        format!("This expression can't be read at “{token}”.")
    };
    place.fault(offset, wrong, likely_mend(before, token))
}

/// The word, number or sign that `rest` begins with.
fn first_token(rest: &str) -> &str {
    let word = |c: char| c.is_ascii_alphanumeric() || c == '_';
    let end = match rest.chars().next() {
        None => 0,
        Some(first) if word(first) => rest.find(|c| !word(c)).unwrap_or(rest.len()),
        Some(first) => first.len_utf8(),
    };
    rest.get(..end.min(40)).unwrap_or("")
}

fn likely_mend(before: &str, token: &str) -> &'static str {
    let after_number = before.ends_with(|c: char| c.is_ascii_digit());
    match token {
        "=" => "Write == to compare.",
        "and" | "AND" => "Write && for “and”.",
        "or" | "OR" => "Write || for “or”.",
        "is" => "Write == to compare.",
        "&" => "Write && for “and”.",
        "|" => "Write || for “or”.",
        "" => "Close every bracket and quote, and end with a value.",
        "\"" | "'" => "Close the quote that is opened here.",
        _ if before.ends_with("not") => "Write ! for “not”.",
        _ if after_number && token.starts_with(|c: char| c.is_ascii_alphabetic()) => {
            "Write a number with its unit as volt(187) or inch(12)."
        }
        _ => "Write it like supply < 0.9 * rated, or lead == \"cut\".",
    }
}
