//! The `work-out` command, run inside the test with its own streams.

use std::process::ExitCode;

use clap::Parser;
use fanwright::work_out::{Streams, WorkOutArgs, run};
use serde_json::Value;

#[derive(Parser)]
#[command(disable_help_flag = true)]
struct Line {
    #[command(flatten)]
    args: WorkOutArgs,
}

/// Exit code, standard output and standard error of `work-out` with these arguments.
fn work_out(arguments: &[&str], stdin: &str) -> (ExitCode, String, String) {
    let line = Line::parse_from(std::iter::once(&"work-out").chain(arguments));
    let (mut output, mut error) = (Vec::new(), Vec::new());
    let mut streams = Streams {
        input: &mut stdin.as_bytes(),
        output: &mut output,
        error: &mut error,
    };
    let code = run(line.args, &mut streams);
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
    (code, text(output), text(error))
}

pub(super) fn json(name: &str, object: &str) -> Value {
    let (code, output, error) = work_out(&[name, "--json", object], "");
    assert_eq!(code, ExitCode::SUCCESS, "{output}{error}");
    serde_json::from_str(&output).unwrap()
}

#[test]
fn a_result_shows_its_formula_and_source() {
    let (code, output, _) = work_out(
        &[
            "energy-saved",
            "watts_before=135W",
            "watts_after=45 W",
            "motors=2",
            "cop=3.634",
        ],
        "",
    );
    assert_eq!(code, ExitCode::SUCCESS);
    assert!(
        output.starts_with("energy             2011 kWh\n"),
        "{output}"
    );
    assert!(
        output.contains("Formula: ") && output.contains("Source: "),
        "{output}"
    );
}

#[test]
fn json_goes_in_and_comes_out_with_units() {
    let answer = json(
        "energy_saved",
        r#"{"watts_before":{"value":135,"unit":"W"},"watts_after":"45 W","motors":2,"cop":3.634}"#,
    );
    assert!((answer["result"]["value"].as_f64().unwrap() - 2010.7).abs() < 2.0);
    assert_eq!(answer["result"]["unit"], "kWh");
    for key in ["formula", "symbols", "source", "confidence", "warnings"] {
        assert!(!answer[key].is_null(), "{key}");
    }
}

#[test]
fn json_is_read_from_standard_input_too() {
    let (code, output, _) = work_out(
        &["--json", "cop_from_eer"],
        r#"{"eer":{"value":12.4,"unit":"Btu/Wh"}}"#,
    );
    assert_eq!(code, ExitCode::SUCCESS);
    let answer: Value = serde_json::from_str(&output).unwrap();
    assert!((answer["result"]["value"].as_f64().unwrap() - 3.6341).abs() < 0.002);
}

#[test]
fn bad_input_gets_one_sentence_and_no_result() {
    for (arguments, said) in [
        (&["energy_savd"][..], "Did you mean energy_saved?"),
        (
            &["energy_saved", "watts_befor=1 W"],
            "Did you mean watts_before?",
        ),
        (
            &["energy_saved", "watts_before=1"],
            "is not a power with its unit",
        ),
        (
            &["energy_saved", "watts_before=1 V"],
            "write a number and one of: W, kW, hp",
        ),
        (&["energy_saved", "motors"], "write KEY=VALUE"),
        (&["energy_saved", "motors=2", "motors=2"], "is given twice"),
        (&["energy_saved", "motors=two"], "is not a plain number"),
        (&["energy_saved"], "watts_before is missing"),
        (
            &["gains", "before_known_by=guess"],
            "must be one of wattmeter",
        ),
        (&["payback", "cost=1", "money_a_year=0"], "never paid back"),
        (
            &[
                "payback",
                "--kit",
                "/no/such/kit.yaml",
                "cost=1",
                "money_a_year=1",
            ],
            "cannot be read",
        ),
        (&[], "Say what to work out"),
    ] {
        let (code, output, error) = work_out(arguments, "");
        assert_ne!(code, ExitCode::SUCCESS, "{arguments:?}");
        assert!(
            output.is_empty() && error.contains(said),
            "{arguments:?}: {error}"
        );
        assert_eq!(error.trim_end().lines().count(), 1, "{error}");
    }
}

#[test]
fn bad_json_is_refused_in_json() {
    for (object, said) in [
        (
            r#"{"eer":12.4}"#,
            "must be a cooling efficiency with its unit",
        ),
        (
            r#"{"eer":{"value":12.4,"unit":"W"}}"#,
            "is not a cooling efficiency",
        ),
        (r#"{"eer":"8 EER","eer":"9 EER"}"#, "is given twice"),
        (r#"{"eer":"#, "must be one JSON object"),
    ] {
        let (code, output, error) = work_out(&["cop_from_eer", "--json", object], "");
        assert_eq!(code, ExitCode::from(1));
        let answer: Value = serde_json::from_str(&output).unwrap();
        let why = answer["cannot_work_out"].as_str().unwrap();
        assert!(why.contains(said) && error.is_empty(), "{object}: {why}");
    }
}

#[test]
fn the_list_describes_every_computation_with_formula_and_source() {
    let (code, output, _) = work_out(&["--list"], "");
    assert_eq!(code, ExitCode::SUCCESS);
    for formula in fanwright::trade::formulas() {
        assert!(output.contains(&format!("{}\n  {}", formula.name, formula.about)));
        let (_, one, _) = work_out(&[formula.name, "--help"], "");
        assert!(
            one.contains("  Formula: ") && one.contains("  Source: "),
            "{one}"
        );
        assert!(one.contains("  Gives:\n"), "{one}");
    }
}

#[test]
fn names_of_formulas_inputs_and_results_are_unique_and_snake_case() {
    let snake = |name: &str| {
        name.chars()
            .all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '_')
    };
    let mut names = std::collections::BTreeSet::new();
    for formula in fanwright::trade::formulas() {
        assert!(
            snake(formula.name) && names.insert(formula.name),
            "{}",
            formula.name
        );
        let mut inside = std::collections::BTreeSet::new();
        for parameter in formula.takes {
            assert!(
                snake(parameter.name) && inside.insert(parameter.name),
                "{}",
                parameter.name
            );
        }
        let mut inside = std::collections::BTreeSet::new();
        for output in formula.gives {
            assert!(
                snake(output.name) && inside.insert(output.name),
                "{}",
                output.name
            );
        }
    }
}
