//! What is given hostile input: one function for each thing that reads what people send.
//!
//! Each says what the input came to, in as few words as tell it from others; the words have no
//! other use.

use fanwright::channel::telegram::decode::decode;
use fanwright::channel::telegram::token::{DATA_BYTES_MAX, Token};
use fanwright::check;
use fanwright::desk::photo;
use fanwright::flow::library::{Library, Sources};
use fanwright::flow::template::Template;
use fanwright::record::verify::{Verdict, verify};
use fanwright::trade::kit::Kit;
use fanwright::trade::quantity::UNITS;
use fanwright::trade::speed_book::SpeedBook;
use fanwright::walk::reading::{Wanted, parse, parse_count, parse_number};
use teloxide::types::Update;

use crate::flow::scope::{AT, Example, Known, compile};
use crate::mutants::fuzz::PIECES;

/// Something that reads what people send.
pub(crate) struct Target {
    /// By which it is called.
    pub(crate) name: &'static str,
    /// What is put into its seeds.
    pub(crate) pieces: &'static [&'static str],
    /// Reads an input; panics if what must hold does not.
    pub(crate) read: fn(&[u8]) -> String,
    /// So many inputs are tried in a test.
    pub(crate) short_run: u64,
}

/// All of them but those that need a server, which stand in `tests/telegram/fuzz.rs` and
/// `tests/api/fuzz.rs`.
pub(crate) const TARGETS: &[Target] = &[
    Target {
        name: "loader",
        pieces: PIECES,
        read: loader,
        short_run: 60,
    },
    Target {
        name: "expression",
        pieces: WORDS,
        read: expression,
        short_run: 500,
    },
    Target {
        name: "reading",
        pieces: &[
            "V", "mV", " 1/2", "'", "\"", "½", ",", ".", "e9", "-", "+", "°F", "to",
        ],
        read: reading,
        short_run: 2_000,
    },
    Target {
        name: "button",
        pieces: &["-", "_", "A", "~"],
        read: button,
        short_run: 5_000,
    },
    Target {
        name: "update",
        pieces: &[
            "\"from\":",
            "\"chat\":",
            "{",
            "}",
            "[",
            "]",
            "null",
            "\"text\":",
            ",",
        ],
        read: update,
        short_run: 1_000,
    },
    Target {
        name: "verify",
        pieces: &[
            "{", "}", "\"", "\\", "\\u0000", "[]", ":", ",", "null", "\n",
        ],
        read: verified,
        short_run: 300,
    },
    Target {
        name: "photo",
        pieces: &[
            "Exif\0\0",
            "IHDR",
            "IDAT",
            "iCCP",
            "eXIf",
            "RIFF",
            "VP8L",
            "\u{0}\u{0}",
        ],
        read: photo,
        short_run: 200,
    },
    Target {
        name: "goods",
        pieces: PIECES,
        read: goods,
        short_run: 300,
    },
];

/// What expressions are made of.
const WORDS: &[&str] = &[
    "supply",
    "rated",
    "lead",
    "ice_pattern",
    "known(",
    "volt(",
    "row(\"",
    "min(",
    "in",
    "?",
    ":",
    "&&",
    "||",
    "!",
    "==",
    "<",
    "(",
    ")",
    "[",
    "]",
    "\"cut\"",
    "1e308",
    "-1",
    "/ 0",
    "{",
    "}",
    ".matches('(a+)+$')",
    "\u{0}",
];

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

/// A sentence without what differs from input to input: its numbers and what it quotes.
fn bare(sentence: &str) -> String {
    let words = sentence.split_whitespace();
    let plain = words.filter(|word| word.chars().all(|c| c.is_ascii_alphabetic()));
    plain.take(12).collect::<Vec<_>>().join(" ")
}

pub(crate) fn loader(bytes: &[u8]) -> String {
    let mut sources = Sources::default();
    sources.files.insert("a.yaml".to_owned(), text(bytes));
    match Library::load(sources) {
        Ok(library) => {
            let mut found: Vec<&str> = check::of_library(&library)
                .iter()
                .map(|finding| finding.name)
                .collect();
            found.dedup();
            format!("read {}", found.join(" "))
        }
        Err(problems) => problems
            .iter()
            .take(3)
            .map(|problem| bare(&problem.to_string()))
            .collect(),
    }
}

pub(crate) fn expression(bytes: &[u8]) -> String {
    let source = text(bytes);
    let facts = Known::default()
        .measured("supply", "volt", 208.0)
        .number("fans_dead", 2.0)
        .word("lead", "cut")
        .words("ice_pattern", &["bottom"]);
    if let Ok(template) = Template::compile(&source, AT, &Example) {
        template.fill(&facts);
    }
    match compile(&source) {
        Ok(expression) => format!(
            "{:?} {:?}",
            expression.gives,
            expression
                .eval(&facts)
                .map(|value| std::mem::discriminant(&value))
        ),
        Err(faults) => faults
            .iter()
            .take(2)
            .map(|fault| bare(&format!("{fault:?}")))
            .collect(),
    }
}

pub(crate) fn reading(bytes: &[u8]) -> String {
    let (first, rest) = bytes.split_first().unwrap_or((&0, &[]));
    let typed = text(rest);
    let unit = &UNITS[usize::from(*first) % UNITS.len()];
    let wanted = Wanted::new(unit.kind).shown_in(unit);
    if let Ok(count) = parse_count(&typed, "fans", 1, 12) {
        assert!((1..=12).contains(&count));
    }
    if let Ok(number) = parse_number(&typed, "fans") {
        assert!(number.is_finite());
    }
    match parse(&typed, &wanted) {
        Ok(typed) => {
            assert!(typed.quantity.si.is_finite(), "{typed:?}");
            format!("{:?} in {}", wanted.kind, typed.unit.literal)
        }
        Err(trouble) => bare(&format!("{trouble:?}")),
    }
}

pub(crate) fn button(bytes: &[u8]) -> String {
    let Some(token) = Token::decode(&text(bytes)) else {
        return "nothing".to_owned();
    };
    let written = token.encode();
    assert!(written.len() <= DATA_BYTES_MAX, "{token:?}");
    assert_eq!(Token::decode(&written), Some(token));
    let told = format!("{token:?}");
    told.split(['(', ' ', ',']).take(2).collect()
}

pub(crate) fn update(bytes: &[u8]) -> String {
    let Ok(update) = serde_json::from_slice::<Update>(bytes) else {
        return "no update".to_owned();
    };
    match decode(&update, Some("bench_bot")) {
        None => "for nobody".to_owned(),
        Some(arrived) => bare(&format!("{:?}", arrived.came).replace(['(', '{'], " ")),
    }
}

pub(crate) fn verified(bytes: &[u8]) -> String {
    match verify(bytes) {
        Ok(report) => {
            let verdict = report.verdict(&[]);
            let is_whole = super::seeds::is_a_seed("verify", bytes);
            assert!(
                verdict == Verdict::Changed || is_whole,
                "a changed record is taken for whole"
            );
            let lines = report.lines(&[]);
            lines.iter().map(|line| bare(line)).collect()
        }
        Err(told) => bare(&told.to_string()),
    }
}

pub(crate) fn photo(bytes: &[u8]) -> String {
    match photo::take_in(bytes) {
        Ok(taken_in) => {
            assert!(!taken_in.jpeg.windows(4).any(|four| four == b"Exif"));
            format!("taken in {}", taken_in.taken.is_some())
        }
        Err(error) => {
            assert!(!error.is_fault(), "{}", error.for_the_log());
            error.to_string()
        }
    }
}

pub(crate) fn goods(bytes: &[u8]) -> String {
    let text = text(bytes);
    let kit = match Kit::read(&text) {
        Ok(kit) => format!("kit {}", kit.assemblies().len().min(2)),
        Err(problem) => bare(&problem.to_string()),
    };
    let book = match SpeedBook::read(&text) {
        Ok(book) => format!("book {}", book.rows().len().min(2)),
        Err(problem) => bare(&problem.to_string()),
    };
    kit + &book
}
