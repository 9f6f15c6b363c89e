//! A computation described for people: what it tells, what it takes, what it gives.

use super::show::shown_in;
use crate::trade::formula::{Formula, Parameter, ValueType};

/// Everything about `formula`.
pub(super) fn whole(formula: &Formula) -> String {
    let mut text = format!("{}\n  {}\n", formula.name, formula.about);
    text.push_str(&format!("  Formula: {}\n", formula.symbols));
    text.push_str(&format!(
        "  Source: {} ({})\n",
        formula.source,
        formula.confidence.phrase()
    ));
    if !formula.takes.is_empty() {
        text.push_str("  Takes:\n");
    }
    for parameter in formula.takes {
        text.push_str(&format!("    {}\n", takes(parameter)));
    }
    text.push_str("  Gives:\n");
    for output in formula.gives {
        let kind = type_words(output.name, &output.gives);
        text.push_str(&format!("    {} ({kind}): {}\n", output.name, output.about));
    }
    text
}

fn takes(parameter: &Parameter) -> String {
    let kind = type_words(parameter.name, &parameter.takes);
    let unless = parameter
        .unless_given
        .map_or_else(String::new, |assumed| format!("; not given: {assumed}"));
    format!("{} ({kind}): {}{unless}", parameter.name, parameter.about)
}

fn type_words(name: &str, value: &ValueType) -> String {
    match value {
        ValueType::Quantity(kind) => {
            format!("{}, such as {}", kind.word(), shown_in(name, *kind).symbol)
        }
        ValueType::Quantities(kind) => {
            format!(
                "list of {}, such as {}",
                kind.word(),
                kind.usual_unit().symbol
            )
        }
        ValueType::Number => "number".into(),
        ValueType::Word(words) => format!("one of {}", words.join(", ")),
        ValueType::Text => "text".into(),
    }
}
