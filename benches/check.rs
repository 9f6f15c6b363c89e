//! How long the checker takes, and how that grows with steps: `cargo bench --bench check`.
#![allow(
    clippy::unwrap_used,
    reason = "a bench that cannot prepare its input must stop"
)]

use std::fmt::Write as _;

use fanwright::check;
use fanwright::flow::library::{Library, Sources};

fn main() {
    divan::main();
}

/// The steps of one generated file.
const STEPS_EACH: usize = 200;

/// The common flows of the findings' examples: lock off, put back.
const LOCK_OFF: &str = include_str!("../src/check/pages/common/lock-off.yaml");
const PUT_BACK: &str = include_str!("../src/check/pages/common/put-back.yaml");

/// A root that locks off, runs every part, and puts back; each part touches, asks, branches and
/// loops.
fn sources(steps: usize) -> Sources {
    let parts = steps.div_ceil(STEPS_EACH).max(1);
    let mut sources = Sources::default();
    let mut root =
        "flow: whole\ntitle: Whole\nlanguage: en\noutcomes: { done: Done, stays: Stays }\n\
        energy: { fan: { kind: electrical, label: Fan circuit, proved_by: lock-off } }\n\
        start: lock_it\nsteps:\n  lock_it:\n    run: lock-off\n    then:\n      \
        - { when: 'outcome == \"locked\"', go: part_0 }\n      - { go: end_stays }\n"
            .to_owned();
    for part in 0..parts {
        let next = if part + 1 == parts {
            "put_back".to_owned()
        } else {
            format!("part_{}", part + 1)
        };
        writeln!(
            root,
            "  part_{part}:\n    run: part-{part}\n    then: {next}"
        )
        .unwrap();
        let name = format!("part-{part}.yaml");
        sources.files.insert(name, part_text(part));
    }
    root.push_str(
        "  put_back:\n    run: put-back\n    then: end_done\n  end_done:\n    finish: done\n    \
         say: Done.\n  end_stays:\n    finish: stays\n    say: It stays.\n",
    );
    sources.files.insert("whole.yaml".to_owned(), root);
    for (name, text) in [("lock-off.yaml", LOCK_OFF), ("put-back.yaml", PUT_BACK)] {
        sources.files.insert(name.to_owned(), text.to_owned());
    }
    sources
}

fn part_text(part: usize) -> String {
    let mut text = format!(
        "flow: part-{part}\ntitle: Part\nlanguage: en\noutcomes: {{ done: Done }}\n\
         energy: {{ fan: {{ kind: electrical, label: Fan circuit, proved_by: lock-off }} }}\n\
         facts:\n  look: {{ one_of: {{ good: It holds, loose: It is loose }} }}\n  \
         volts: {{ measures: voltage, show_in: V, label: Volts }}\n\
         start: step_0\nsteps:\n"
    );
    for step in 0..STEPS_EACH {
        let next = if step + 1 == STEPS_EACH {
            "end_done".to_owned()
        } else {
            format!("step_{}", step + 1)
        };
        let body = match step % 4 {
            0 => format!(
                "    choose: look\n    hands_off: true\n    say: Look at joint {step}.\n    \
                 then:\n      - {{ when: 'look == \"good\"', go: {next} }}\n      \
                 - {{ when: 'look == \"loose\"', go: step_{step} }}\n"
            ),
            1 => format!(
                "    measure: volts\n    hands_off: true\n    \
                 plausible: {{ from: 'volt(0)', to: 'volt(600)' }}\n    say: Type the volts.\n    \
                 then:\n      - {{ when: 'volts > volt(250)', go: step_{} }}\n      \
                 - {{ when: 'volts <= volt(250)', go: {next} }}\n",
                step - 1
            ),
            2 => format!(
                "    confirm: It is tight\n    touches: [fan]\n    say: Tighten joint {step}.\n    \
                 cite: common practice\n    then: {next}\n"
            ),
            _ => format!(
                "    tell: Go on\n    hands_off: true\n    say: Read on.\n    then: {next}\n"
            ),
        };
        writeln!(text, "  step_{step}:\n{body}").unwrap();
    }
    text.push_str("  end_done:\n    finish: done\n    say: Done.\n");
    text
}

#[divan::bench(args = [1_000, 10_000, 100_000], sample_count = 3)]
fn load_and_check(bencher: divan::Bencher<'_, '_>, steps: usize) {
    let sources = sources(steps);
    bencher
        .with_inputs(|| sources.clone())
        .bench_values(|sources| {
            let findings = check::findings(sources);
            assert!(findings.is_empty(), "{}", findings[0]);
            findings
        });
}

#[divan::bench(args = [1_000, 10_000, 100_000], sample_count = 3)]
fn check_only(bencher: divan::Bencher<'_, '_>, steps: usize) {
    let library = Library::load(sources(steps)).unwrap();
    bencher.bench(|| check::of_library(&library));
}

/// Flows that each run the next; the last one reads.
fn chain(length: usize) -> Sources {
    let mut sources = Sources::default();
    for number in 0..length {
        let act = if number + 1 < length {
            format!("run: link-{}", number + 1)
        } else {
            "tell: Go on\n    hands_off: true\n    say: Read this.".to_owned()
        };
        let text = format!(
            "flow: link-{number}\ntitle: Link\nlanguage: en\noutcomes: {{ done: Done }}\n\
             energy: {{ fan: {{ kind: electrical, label: Fan circuit }} }}\nstart: go\nsteps:\n  \
             go:\n    {act}\n    then: end_done\n  end_done:\n    finish: done\n    \
             say: It is read.\n"
        );
        sources.files.insert(format!("link-{number}.yaml"), text);
    }
    sources
}

#[divan::bench(args = [1_000, 4_000], sample_count = 3)]
fn load_and_check_a_chain(bencher: divan::Bencher<'_, '_>, length: usize) {
    let sources = chain(length);
    bencher
        .with_inputs(|| sources.clone())
        .bench_values(|sources| {
            let findings = check::findings(sources);
            assert!(findings.is_empty(), "{}", findings[0]);
            findings
        });
}
