//! What a text with expressions in braces shows.

use fanwright::flow::expression::Fault;
use fanwright::flow::template::Template;
use fanwright::trade::formula::Value;
use proptest::prelude::{any, proptest};

use super::scope::{AT, Example, Known};

fn compile(text: &str) -> Result<Template, Vec<Fault>> {
    Template::compile(text, AT, &Example)
}

fn facts() -> Known {
    Known::default()
        .measured("supply", "volt", 208.0)
        .measured("rated", "volt", 0.23)
        .measured("box_temperature", "deg_f", 38.0)
        .measured("suction", "deg_c", -2.5)
        .measured("tolerance", "percent", 10.0)
        .number("fans_dead", 2.0)
        .word("lead", "cut")
        .word("end_found", "corroded")
        .words("ice_pattern", &["top", "even"])
        .with("remark", Value::Text("Pan {is} cracked".to_owned()))
}

#[test]
fn braces_show_values_in_the_units_and_words_of_people() {
    for (text, expected) in [
        ("Supply: {supply}.", "Supply: 208 V."),
        ("At least {0.9 * supply}", "At least 187.2 V"),
        ("{rated} and {rated / 2}", "230 mV and 115 mV"),
        ("{supply + rated}", "208,230 mV"),
        ("{suction}, {box_temperature}", "-2.5 °C, 38 °F"),
        ("{suction - deg_c(-10)} warmer", "7.5 K warmer"),
        ("{box_temperature - deg_f(30)}", "8 F°"),
        ("{tolerance} of {fans_dead + 1} fans", "10% of 3 fans"),
        ("{lead}", "It does not fit"),
        ("{end_found}", "corroded"),
        ("{known(plate) ? \"no_photo\" : lead}", "It does not fit"),
        ("{ice_pattern}", "At the top, even"),
        ("{remark}", "Pan {is} cracked"),
        ("{{braces}} {minute(5)}", "{braces} 5 min"),
        ("{draw} at {fans_dead / 0}", "not known at not known"),
        ("Plain", "Plain"),
        ("", ""),
    ] {
        let template = compile(text).unwrap_or_else(|faults| panic!("{text}: {faults:?}"));
        assert_eq!(template.fill(&facts()), expected, "{text}");
        assert_eq!(template.source, text);
    }
}

#[test]
fn nothing_ticked_is_shown_as_none() {
    let template = compile("Ice: {ice_pattern}").unwrap();
    let facts = Known::default().words("ice_pattern", &[]);
    assert_eq!(template.fill(&facts), "Ice: none");
}

#[test]
fn faults_stand_at_their_brace() {
    for (text, column, wrong) in [
        ("Supply {suply}", 8, "no fact called suply"),
        ("Überall {suply}", 9, "no fact called suply"),
        ("a } b", 2, "never opened"),
        ("a {supply", 2, "never closed"),
        ("a {}", 3, "no expression"),
        ("a { }", 3, "no expression"),
        ("a {plate}", 3, "is a photo"),
        ("{supply < rated}", 1, "A condition can't be shown"),
        ("{supply + draw}", 8, "adds a voltage and a current"),
    ] {
        let faults = compile(text).expect_err(text);
        assert!(faults[0].wrong.contains(wrong), "{text}: {faults:?}");
        assert_eq!(
            faults[0].at.column - AT.column,
            column,
            "{text}: {faults:?}"
        );
    }
    assert_eq!(compile("{suply} } {ratd}").unwrap_err().len(), 3);
}

#[test]
fn the_longest_text_is_at_least_as_long_as_any_filled_one() {
    for (text, characters) in [
        ("{supply}", 14),
        ("{fans_dead}", 12),
        ("{lead}", "The plug fits and locks".len()),
        ("{ice_pattern}", "At the top, At the bottom, even".len()),
        ("{remark}!", 201),
        ("{defrost}", "not known".len()),
    ] {
        let longest = compile(text).unwrap().longest();
        assert_eq!(longest.chars().count(), characters, "{text}");
    }
}

#[test]
fn facts_are_listed_once() {
    let template = compile("{supply} of {rated}: {supply / rated}").unwrap();
    let facts: Vec<&str> = template.facts().iter().map(|fact| fact.as_str()).collect();
    assert_eq!(facts, ["supply", "rated"]);
    assert_eq!(template.expressions().count(), 3);
}

proptest! {
    #[test]
    fn no_text_makes_it_panic(text in any::<String>()) {
        if let Ok(template) = compile(&text) {
            let _ = template.fill(&facts());
        }
    }

    #[test]
    fn doubled_braces_come_back_single(text in "[a-z{}\n ]{0,40}") {
        let doubled = text.replace('{', "{{").replace('}', "}}");
        assert_eq!(compile(&doubled).unwrap().fill(&Known::default()), text);
    }

    #[test]
    fn no_filled_text_is_longer_than_the_longest(volts in -1e5..1e5f64, fans in 0..200u32) {
        let template = compile("{supply}, {fans_dead}, {lead}, {draw}").unwrap();
        let facts = facts()
            .measured("supply", "volt", volts)
            .number("fans_dead", f64::from(fans));
        let longest = template.longest().chars().count();
        assert!(template.fill(&facts).chars().count() <= longest);
    }
}
