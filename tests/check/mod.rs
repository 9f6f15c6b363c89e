//! The checker: the shipped flows have no finding, and every page's examples have theirs.

mod branches;
mod command;
mod known;
mod pages;

use fanwright::check;
use fanwright::flow::embedded;
use fanwright::flow::library::Sources;

fn told(findings: &[check::Finding]) -> String {
    let lines: Vec<String> = findings
        .iter()
        .map(|finding| {
            let walk = finding.walk_in_short().unwrap_or_default();
            format!("[{}] {finding}\n    {walk}", finding.name)
        })
        .collect();
    lines.join("\n")
}

#[test]
fn the_shipped_flows_have_no_finding_at_all() {
    let findings = check::findings(embedded::sources());
    assert!(findings.is_empty(), "{}", told(&findings));
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
        let file = format!("link-{number}.yaml");
        sources.files.insert(file, text);
    }
    sources
}

#[test]
fn a_long_chain_of_flows_needs_no_deep_stack() {
    let checking = std::thread::Builder::new().stack_size(512 * 1024);
    let checking = checking.spawn(|| check::findings(chain(1_500))).unwrap();
    let findings = checking.join().unwrap();
    assert!(findings.is_empty(), "{}", told(&findings));
}

#[test]
fn every_flow_of_a_circle_is_named_and_none_beside_it() {
    let mut sources = chain(4);
    let last = sources.files.get_mut("link-3.yaml").unwrap();
    *last = last.replace(
        "tell: Go on\n    hands_off: true\n    say: Read this.",
        "run: link-1",
    );
    let findings = check::findings(sources);
    let files: Vec<&str> = findings.iter().map(|it| it.file.as_str()).collect();
    assert_eq!(files, ["link-1.yaml", "link-2.yaml", "link-3.yaml"]);
    assert!(findings.iter().all(|it| it.name == "flows_do_not_fit"));
}
