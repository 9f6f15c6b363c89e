//! Broken flows, by chance: the loader and the checker never panic and always come to an end.

use std::collections::BTreeMap;
use std::time::{Duration, Instant};

use fanwright::check;
use fanwright::flow::embedded;
use fanwright::flow::library::{Library, Sources};
use fanwright::flow_files;

use crate::fuzz::chance::Chance;

/// Pieces that loaders trip over.
pub(crate) const PIECES: &[&str] = &[
    "{",
    "}",
    "[",
    "]",
    ": ",
    "- ",
    "\t",
    "\u{0}",
    "\u{feff}",
    "&a ",
    "*a",
    "<<: ",
    "!!binary ",
    "|",
    ">-",
    "'",
    "\"",
    "#",
    "%",
    "---\n",
    "...\n",
    "? ",
    "null",
    "true",
    "1e999",
    "-0",
    "NaN",
    "when: '",
    "go: ",
    "then:",
    "run: make-safe",
    "touches: []",
    "sets: {}",
    "held: {}",
    "volt(1e308) * 1e308",
    "((((((((((((((((((",
    "1+1+1+1+1+1+1+1+1+1+1+1",
    "row(\"\")",
    "known()",
    "{{",
    "}}",
    "{supply",
    "\u{202e}",
    "é",
    "🧊",
    "exists_when: 'false'",
];

fn broken(chance: &mut Chance, texts: &[&String]) -> String {
    let mut text = (*chance.of(texts)).clone();
    for _ in 0..=chance.below(6) {
        let mut lines: Vec<String> = text.lines().map(str::to_owned).collect();
        if lines.is_empty() {
            lines.push(String::new());
        }
        let (at, other) = (chance.below(lines.len()), chance.below(lines.len()));
        match chance.below(10) {
            0 => drop(lines.remove(at)),
            1 => {
                let line = lines[at].clone();
                lines.insert(other, line);
            }
            2 => lines.swap(at, other),
            3 => lines[at].insert_str(0, "  "),
            4 => lines[at] = lines[at].trim_start().to_owned(),
            5 => {
                let end = (at + chance.below(40)).min(lines.len());
                drop(lines.drain(at..end));
            }
            6 => {
                let strange: Vec<&str> = chance.of(texts).lines().collect();
                let from = chance.below(strange.len());
                let many = chance.below(30);
                let part = strange.iter().skip(from).take(many);
                lines.splice(at..at, part.map(|line| (*line).to_owned()));
            }
            7 => lines.truncate(at.max(1)),
            _ => {
                let mut letters: Vec<char> = lines[at].chars().collect();
                let place = chance.below(letters.len() + 1);
                let end = (place + chance.below(4)).min(letters.len());
                letters.splice(place..end, chance.of(PIECES).chars());
                lines[at] = letters.into_iter().collect();
            }
        }
        text = lines.join("\n");
        text.push('\n');
    }
    text
}

/// One case: a shipped file broken, and what is found. Tells how many findings there were.
fn case(before: &Library, texts: &[&String], seed: u64) -> usize {
    let text = broken(&mut Chance(seed), texts);
    let file = Chance(!seed)
        .of(&texts.iter().enumerate().collect::<Vec<_>>())
        .0;
    let files: Vec<&String> = before.sources().files.keys().collect();
    let changed = BTreeMap::from([(files[file].clone(), text)]);
    match before.with_files(changed) {
        Ok(library) => check::of_library(&library).len(),
        Err(problems) => problems.iter().map(check::of_problem).count(),
    }
}

#[test]
fn flows_broken_by_chance_never_panic_the_loader_or_the_checker() {
    let library = embedded::library().unwrap();
    let texts: Vec<&String> = library.sources().files.values().collect();
    let found = (0..60)
        .filter(|seed| case(&library, &texts, *seed) > 0)
        .count();
    assert!(found > 30, "only {found} of 60 broken flows have a finding");
}

/// As long as `FUZZ_SECONDS` says; run it by name. The seed of the slowest case is told.
#[test]
#[ignore = "runs as long as one wants: FUZZ_SECONDS=600"]
fn fuzz_flows() {
    let seconds = std::env::var("FUZZ_SECONDS").ok();
    let seconds = seconds.and_then(|it| it.parse().ok()).unwrap_or(10);
    let begin = std::env::var("FUZZ_SEED").ok();
    let begin: u64 = begin.and_then(|it| it.parse().ok()).unwrap_or(1_000_000);
    let end = Instant::now() + Duration::from_secs(seconds);
    let library = embedded::library().unwrap();
    let texts: Vec<&String> = library.sources().files.values().collect();
    let run = |start: u64| {
        let (mut cases, mut found, mut slowest) = (0_u64, 0_u64, (Duration::ZERO, 0));
        for seed in (start..).step_by(2) {
            if Instant::now() > end {
                break;
            }
            let from = Instant::now();
            found += u64::from(case(&library, &texts, seed) > 0);
            slowest = slowest.max((from.elapsed(), seed));
            cases += 1;
        }
        (cases, found, slowest)
    };
    let (one, other) = std::thread::scope(|scope| {
        let other = scope.spawn(|| run(begin + 1));
        (run(begin), other.join().unwrap())
    });
    let (slow, seed) = one.2.max(other.2);
    println!(
        "{} cases, {} with findings, no panic; the slowest took {slow:?} (seed {seed})",
        one.0 + other.0,
        one.1 + other.1
    );
    assert!(slow < Duration::from_secs(60), "seed {seed} took {slow:?}");
}

fn only(text: &str) -> Vec<check::Finding> {
    let mut sources = Sources::default();
    sources.files.insert("a.yaml".to_owned(), text.to_owned());
    check::findings(sources)
}

#[test]
fn a_hostile_file_has_one_clear_finding() {
    let head = "flow: a\ntitle: A\nlanguage: en\noutcomes: { over: Over }\nstart: b\nsteps:\n";
    let bomb: String = (0..30)
        .map(|n| match n {
            0 => "b0: &b0 [x, x, x, x, x, x, x, x, x]\n".to_owned(),
            _ => format!(
                "b{n}: &b{n} [{}]\n",
                vec![format!("*b{}", n - 1); 9].join(", ")
            ),
        })
        .collect();
    let cases = [
        ("an alias bomb", bomb),
        (
            "a long line",
            format!("{head}  b: {{ say: {} }}\n", "x".repeat(1 << 20)),
        ),
        (
            "deep lists",
            format!("{head}  b: {}{}\n", "[".repeat(5000), "]".repeat(5000)),
        ),
        (
            "deep maps",
            format!("{head}  b: {}\n", "{ a: ".repeat(5000)),
        ),
        (
            "deep brackets",
            format!(
                "{head}  b: {{ finish: over, say: 'x {{{}1{}}}' }}\n",
                "(".repeat(400),
                ")".repeat(400)
            ),
        ),
        (
            "a long sum",
            format!(
                "{head}  b: {{ finish: over, say: 'x {{1{}}}' }}\n",
                "+1".repeat(2000)
            ),
        ),
        ("control letters", "a: \u{1}\u{2}\u{7f}\n".to_owned()),
        (
            "two documents",
            format!("{head}  b: {{ finish: over, say: x }}\n---\nflow: b\n"),
        ),
        ("a circle of aliases", "a: &a [*a]\n".to_owned()),
        ("a merge bomb", "a: &a { <<: *a }\n".to_owned()),
    ];
    let mut wrong = Vec::new();
    for (what, text) in cases {
        let findings = only(&text);
        let told: Vec<&String> = findings.iter().map(|finding| &finding.wrong).collect();
        let clear = told
            .iter()
            .all(|told| told.ends_with('.') && told.len() < 400);
        if told.len() != 1 || !clear {
            wrong.push(format!("{what}: {told:?}"));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn a_file_that_is_no_text_has_one_clear_finding() {
    let folder = tempfile::tempdir().unwrap();
    let bytes = [b"flow: a\ntitle: ".as_slice(), &[0xff, 0xfe, 0x00, 0xd8]].concat();
    std::fs::write(folder.path().join("a.yaml"), bytes).unwrap();
    let (sources, problems) = flow_files::read_leniently(folder.path()).unwrap();
    assert!(sources.files.is_empty());
    let findings: Vec<check::Finding> = problems.iter().map(check::of_problem).collect();
    assert_eq!(findings.len(), 1, "{findings:?}");
    assert_eq!((findings[0].line, findings[0].column), (2, 8));
    assert!(findings[0].wrong.contains("UTF-8"), "{}", findings[0].wrong);
}
