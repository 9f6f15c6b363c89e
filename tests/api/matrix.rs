//! Which token gets what answer at which operation: `matrix/answers.txt`, row by row.
//!
//! Every operation of the OpenAPI document stands in the table. What belongs to another crew
//! answers byte for byte like what is not there, and whoever is refused has changed nothing.
//! `UPDATE_GOLDEN=1 cargo test --locked --test all api::matrix` writes the answers anew: read each
//! change of them as carefully as one of the program.

use std::collections::BTreeMap;
use std::collections::btree_map::Entry;
use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use fanwright::desk::tokens::NewToken;
use fanwright::record::scope::Scope;
use fanwright::store::Memory;
use jiff::SignedDuration;
use reqwest::Method;
use serde_json::Value;

use super::document::{Operation, Things, body, things};
use super::{Answer, World};
use crate::support::heads::Heads;

/// With which token somebody asks, in the order of the columns.
const WITH: [&str; 6] = [
    "none",
    "made-up",
    "taken-back",
    "run-out",
    "without",
    "with",
];

/// One request, with what every token gets for an answer.
#[derive(Clone, Debug, PartialEq, Eq)]
struct Row {
    method: String,
    path: String,
    /// What else is asked for, by name.
    fields: Vec<(String, String)>,
    /// By `own` and `other`.
    answers: Vec<(String, Vec<String>)>,
}

impl Row {
    fn head(&self) -> String {
        let fields = self.fields.iter();
        let fields = fields.map(|(name, value)| format!(" {name}={value}"));
        format!(
            "{} {}{}",
            self.method,
            self.path,
            fields.collect::<String>()
        )
    }

    fn is_about(&self, operation: &Operation) -> bool {
        self.method == operation.method.as_str() && self.path == operation.path
    }

    /// Whether it names something that belongs to a crew.
    fn is_about_a_crew(&self) -> bool {
        self.path.contains('{') || self.fields.iter().any(|(_, value)| value.starts_with('$'))
    }
}

/// Reads the file: its comment, and its rows.
fn read(text: &str) -> (String, Vec<Row>) {
    let (mut comment, mut rows) = (String::new(), Vec::<Row>::new());
    for line in text.lines().filter(|line| !line.trim().is_empty()) {
        let mut words = line.split_whitespace().map(str::to_owned);
        if line.starts_with('#') {
            writeln!(comment, "{line}").unwrap();
        } else if line.starts_with(' ') {
            let whose = words.next().unwrap();
            let answers = (whose, words.collect());
            rows.last_mut().unwrap().answers.push(answers);
        } else {
            let (method, path) = (words.next().unwrap(), words.next().unwrap());
            let field = |word: String| {
                let (name, value) = word.split_once('=').unwrap();
                (name.to_owned(), value.to_owned())
            };
            rows.push(Row {
                method,
                path,
                fields: words.map(field).collect(),
                answers: Vec::new(),
            });
        }
    }
    (comment, rows)
}

/// Writes the file.
fn write(comment: &str, rows: &[Row]) -> String {
    let mut text = comment.to_owned();
    for row in rows {
        writeln!(text, "\n{}", row.head()).unwrap();
        for (whose, answers) in &row.answers {
            write!(text, "  {whose:<5}").unwrap();
            answers
                .iter()
                .for_each(|answer| write!(text, " {answer:<13}").unwrap());
            text.truncate(text.trim_end().len());
            text.push('\n');
        }
    }
    text
}

/// The tokens of the columns, made once.
struct Tokens {
    taken_back: String,
    run_out: String,
    /// Good for everything but this.
    without: BTreeMap<Scope, String>,
    /// Good for just these.
    with: BTreeMap<Vec<Scope>, String>,
}

impl Tokens {
    async fn new(world: &World, operations: &[Operation]) -> Tokens {
        let desk = &world.desk;
        let taken_back = world.token().await;
        let last = desk.tokens(&world.sam).await.unwrap().pop().unwrap();
        let revoked = desk.revoke_token(world.key(), &world.sam, last.token);
        revoked.await.unwrap();
        let new = NewToken {
            what_for: "a day".to_owned(),
            scopes: Scope::ALL.into(),
            days: 1,
        };
        let run_out = desk.make_token(world.key(), &world.sam, new).await.unwrap();
        world.after(SignedDuration::from_hours(24));
        let mut tokens = Tokens {
            taken_back,
            run_out: run_out.0.reveal(),
            without: BTreeMap::new(),
            with: BTreeMap::new(),
        };
        for operation in operations {
            let needs = operation.needs();
            assert!(!needs.is_empty(), "{} needs no scope", operation.name());
            for scope in &needs {
                if !tokens.without.contains_key(scope) {
                    let others = Scope::ALL.into_iter().filter(|one| one != scope);
                    let others: Vec<Scope> = others.collect();
                    let token = world.token_of(&world.sam, &others).await;
                    tokens.without.insert(*scope, token);
                }
            }
            if let Entry::Vacant(vacant) = tokens.with.entry(needs) {
                let token = world.token_of(&world.sam, vacant.key()).await;
                vacant.insert(token);
            }
        }
        tokens
    }

    /// The tokens that stand for a column.
    fn of(&self, column: &str, operation: &Operation) -> Vec<String> {
        let needs = operation.needs();
        match column {
            "none" => vec![String::new()],
            "made-up" => vec![format!("fanwright_{}", "0".repeat(64))],
            "taken-back" => vec![self.taken_back.clone()],
            "run-out" => vec![self.run_out.clone()],
            "without" => needs.iter().map(|it| self.without[it].clone()).collect(),
            _ => vec![self.with[&needs].clone()],
        }
    }
}

/// Everything that requests are made of.
struct Table {
    world: World,
    store: Memory,
    tokens: Tokens,
    ours: Things,
    theirs: Things,
    nothing: Things,
}

impl Table {
    async fn new(operations: &[Operation]) -> Table {
        let store = Memory::new();
        let world = World::with_store(Arc::new(store.clone())).await;
        let ours = things(&world, &world.sam, "look-twice").await;
        let theirs = things(&world, &world.olga, "look-thrice").await;
        Table {
            tokens: Tokens::new(&world, operations).await,
            world,
            store,
            ours,
            theirs,
            nothing: Things::of_nobody(),
        }
    }

    /// What every token gets for an answer.
    async fn answers(&self, operation: &Operation, row: &Row) -> Vec<(String, Vec<String>)> {
        let mut lines = Vec::new();
        // The own last: what is refused must not profit from what was done.
        if row.is_about_a_crew() {
            let mut other = Vec::new();
            for column in WITH {
                let theirs = self.answer(operation, row, (column, &self.theirs)).await;
                let nothing = self.answer(operation, row, (column, &self.nothing)).await;
                assert_eq!(
                    theirs,
                    nothing,
                    "{} {column}: another crew's answers otherwise than what is not there",
                    row.head()
                );
                other.push(theirs.0);
            }
            lines.push(("other".to_owned(), other));
        }
        let mut own = Vec::new();
        for column in WITH {
            let answer = self.answer(operation, row, (column, &self.ours)).await;
            own.push(answer.0);
        }
        lines.insert(0, ("own".to_owned(), own));
        lines
    }

    /// What stands in the cell, and the whole answer.
    async fn answer(
        &self,
        operation: &Operation,
        row: &Row,
        (column, things): (&str, &Things),
    ) -> (String, String) {
        let mut answers = Vec::new();
        for token in self.tokens.of(column, operation) {
            let before = Heads::of(&self.store).await;
            let (path, body) = asked(operation, row, things);
            let answer = operation.ask(&self.world, &token, (&path, body)).await;
            if !answer.status.is_success() {
                let written = before.written_since(&self.store).await;
                assert!(
                    written.is_empty(),
                    "{} {column} wrote into {written:?}",
                    row.head()
                );
            }
            answers.push((cell(&answer), answer.text));
        }
        let first = answers.swap_remove(0);
        for other in answers {
            assert_eq!(first.0, other.0, "{} {column}", row.head());
        }
        first
    }
}

/// The address and the body of a request about these things.
fn asked(operation: &Operation, row: &Row, things: &Things) -> (String, Option<Value>) {
    let mut path = things.fill(&row.path);
    let mut body = body(operation, things);
    for (name, value) in &row.fields {
        let value = match value.as_str() {
            "$evaporator" => things.evaporator.as_str(),
            "$person" => things.person.as_str(),
            "$flow" => things.flow.as_str(),
            word if word.starts_with('$') => panic!("nobody knows {word}"),
            word => word,
        };
        match &mut body {
            Some(body) => body[name] = value.into(),
            None => {
                let and = if path.contains('?') { '&' } else { '?' };
                write!(path, "{and}{name}={value}").unwrap();
            }
        }
    }
    (path, body)
}

fn cell(answer: &Answer) -> String {
    if answer.status.is_success() {
        return answer.status.as_str().to_owned();
    }
    answer.problem()
}

fn file() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/api/matrix/answers.txt")
}

fn is_updating() -> bool {
    std::env::var_os("UPDATE_GOLDEN").is_some()
}

/// No operation is left out, and no row is about one that there is not.
fn has_every_operation(operations: &[Operation], rows: &mut Vec<Row>) {
    for operation in operations {
        if !rows.iter().any(|row| row.is_about(operation)) {
            let name = operation.name();
            assert!(
                is_updating(),
                "{name} is not in tests/api/matrix/answers.txt: write it with UPDATE_GOLDEN=1, \
                 and read its answers"
            );
            rows.push(Row {
                method: operation.method.to_string(),
                path: operation.path.clone(),
                fields: Vec::new(),
                answers: Vec::new(),
            });
        }
    }
    for row in rows {
        let is_there = operations.iter().any(|operation| row.is_about(operation));
        assert!(is_there, "there is no {}", row.head());
    }
}

#[tokio::test]
async fn every_operation_gives_every_token_the_answer_of_the_table() {
    let text = std::fs::read_to_string(file()).unwrap();
    let (comment, mut rows) = read(&text);
    let operations = Operation::all();
    has_every_operation(&operations, &mut rows);
    let table = Table::new(&operations).await;
    let mut order: Vec<usize> = (0..rows.len()).collect();
    // What takes away comes last.
    order.sort_by_key(|at| rows[*at].method == Method::DELETE.as_str());
    let mut differ = Vec::new();
    for at in order {
        let row = &mut rows[at];
        let operation = operations.iter().find(|operation| row.is_about(operation));
        let found = table.answers(operation.unwrap(), row).await;
        if found != row.answers {
            let head = row.head();
            differ.push(format!("{head}\n{found:?}\nis not\n{:?}", row.answers));
        }
        row.answers = found;
    }
    if is_updating() {
        std::fs::write(file(), write(&comment, &rows)).unwrap();
        return;
    }
    assert!(differ.is_empty(), "{}", differ.join("\n\n"));
    assert_eq!(text, write(&comment, &rows), "the table is not tidy");
}
