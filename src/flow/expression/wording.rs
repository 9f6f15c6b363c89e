//! How types are called in a fault's sentence.

use super::{Measure, Node, Type};
use crate::flow::name::ChoiceKey;
use crate::trade::quantity::Kind;

/// `a voltage`, `an air flow`.
pub(super) fn kind(kind: Kind) -> String {
    let word = kind.word();
    let article = if word.starts_with(['a', 'e', 'i', 'o', 'u']) {
        "an"
    } else {
        "a"
    };
    format!("{article} {word}")
}

/// `a voltage`, `a plain number`.
pub(super) fn measure(measure: Measure) -> String {
    match measure {
        Measure::Number => "a plain number".to_owned(),
        Measure::Quantity(of) => kind(of),
    }
}

/// `a voltage`, `a word`, `a condition`.
pub(super) fn node(node: &Node) -> String {
    type_of(&node.gives())
}

/// `a voltage`, `a word`, `a condition`.
pub(super) fn type_of(it: &Type) -> String {
    match it {
        Type::Bool => "a condition".to_owned(),
        Type::Number => "a plain number".to_owned(),
        Type::Quantity(of) => kind(*of),
        Type::Word(_) => "a word".to_owned(),
        Type::Words(_) => "a list of words".to_owned(),
        Type::Text => "a text".to_owned(),
        Type::Quantities(of) => format!("several readings of {}", of.word()),
        Type::Photo => "a photo".to_owned(),
    }
}

/// `plug, cut`
pub(super) fn keys(keys: &[ChoiceKey]) -> String {
    let names: Vec<&str> = keys.iter().map(ChoiceKey::as_str).collect();
    names.join(", ")
}

/// A literal of the kind's usual unit, as an example: `volt(10)`.
pub(super) fn literal(kind: Kind) -> String {
    format!("{}(10)", kind.usual_unit().literal)
}
