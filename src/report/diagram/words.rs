//! Conditions and texts of a flow in words: labels of choices, not the expressions of the file.

use indexmap::IndexMap;

use crate::flow::OUTCOME;
use crate::flow::expression::{Amount, Comparison, Measure, Node, Term, Truth, Word, WordTerm};
use crate::flow::model::{FactType, Flow};
use crate::flow::name::{ChoiceKey, FactName, OutcomeName};
use crate::flow::template::Template;
use crate::trade::quantity::{Quantity, Unit, plain_number};

/// What one step's words are made of.
pub(super) struct Words<'a> {
    /// The flow.
    pub(super) flow: &'a Flow,
    /// The fact that the step asks for: its choices need no name before them.
    pub(super) asked: Option<&'a FactName>,
    /// How the flow that the step runs can end.
    pub(super) outcomes: Option<&'a IndexMap<OutcomeName, String>>,
}

impl Words<'_> {
    /// A text of the flow, each pair of braces replaced by what it will show.
    pub(super) fn text(&self, template: &Template) -> String {
        let mut shown = template.expressions();
        let mut text = String::new();
        let mut rest = template.source.as_str();
        while let Some(brace) = rest.find(['{', '}']) {
            let (before, from) = rest.split_at(brace);
            text.push_str(before);
            if let Some(after) = from.strip_prefix("{{") {
                text.push('{');
                rest = after;
            } else if let Some(after) = from.strip_prefix("}}") {
                text.push('}');
                rest = after;
            } else {
                let expression = shown.next().map(|it| self.node(it.node()));
                text.push_str(&format!("‹{}›", expression.unwrap_or_default()));
                rest = from.split_once('}').map_or("", |(_, after)| after);
            }
        }
        text.push_str(rest);
        text
    }

    /// Any expression in words.
    pub(super) fn node(&self, node: &Node) -> String {
        match node {
            Node::Truth(truth) => self.truth(truth),
            Node::Amount(amount) => self.amount(amount, None),
            Node::Word(word) => self.word(word, None),
            Node::Words { fact, .. } | Node::Quantities { fact, .. } | Node::Text(fact) => {
                self.fact(fact)
            }
        }
    }

    fn truth(&self, truth: &Truth) -> String {
        match truth {
            Truth::Constant(true) => "always".to_owned(),
            Truth::Constant(false) => "never".to_owned(),
            Truth::Known(fact) => format!("{} is known", self.fact(fact)),
            Truth::Not(inside) => match inside.as_ref() {
                Truth::Known(fact) => format!("{} is not known", self.fact(fact)),
                Truth::Has { word, within } => {
                    format!(
                        "{}without “{}”",
                        self.of(within),
                        self.word(word, Some(within))
                    )
                }
                other => format!("not ({})", self.truth(other)),
            },
            Truth::And(left, right) => {
                format!("{} and {}", self.part(left), self.part(right))
            }
            Truth::Or(left, right) => format!("{} or {}", self.choice(left), self.choice(right)),
            Truth::Choice {
                when,
                then,
                otherwise,
            } => format!(
                "{} if {}, else {}",
                self.part(then),
                self.part(when),
                self.part(otherwise)
            ),
            Truth::Compare { how, left, right } => self.compare(*how, left, right),
            Truth::Is { left, right, same } => {
                let fact = fact_of(left).or_else(|| fact_of(right));
                let (named, key) = if fact_of(left).is_some() {
                    (left, right)
                } else {
                    (right, left)
                };
                let label = self.word(key, fact);
                match fact {
                    Some(fact) if *same => format!("{}{label}", self.of(fact)),
                    Some(fact) => format!("{}anything but “{label}”", self.of(fact)),
                    None if *same => format!("{} is {label}", self.word(named, None)),
                    None => format!("{} is not {label}", self.word(named, None)),
                }
            }
            Truth::OneOf { word, keys } => {
                let fact = fact_of(word);
                let labels: Vec<String> = keys.iter().map(|key| self.label(fact, key)).collect();
                let before = fact.map_or_else(|| self.word(word, None), |fact| self.of(fact));
                format!("{before}{}", labels.join(" or "))
            }
            Truth::Has { word, within } => {
                format!(
                    "{}with “{}”",
                    self.of(within),
                    self.word(word, Some(within))
                )
            }
        }
    }

    /// One side of `and`, in brackets where `or` would be misread.
    fn part(&self, truth: &Truth) -> String {
        match truth {
            Truth::Or(..) | Truth::Choice { .. } => format!("({})", self.truth(truth)),
            _ => self.truth(truth),
        }
    }

    /// One side of `or`.
    fn choice(&self, truth: &Truth) -> String {
        match truth {
            Truth::And(..) | Truth::Choice { .. } => format!("({})", self.truth(truth)),
            _ => self.truth(truth),
        }
    }

    fn compare(&self, how: Comparison, left: &Amount, right: &Amount) -> String {
        let how = match how {
            Comparison::Less => "below",
            Comparison::AtMost => "at most",
            Comparison::More => "above",
            Comparison::AtLeast => "at least",
            Comparison::Equal => "the same as",
            Comparison::Different => "other than",
        };
        let unit = self.unit(left).or_else(|| self.unit(right));
        let right = self.amount(right, unit);
        match left.term.as_ref() {
            Term::Fact(fact) if Some(fact) == self.asked => format!("{how} {right}"),
            _ => format!("{} {how} {right}", self.amount(left, unit)),
        }
    }

    fn amount(&self, amount: &Amount, unit: Option<&'static Unit>) -> String {
        let inner = |amount: &Amount| self.amount(amount, unit);
        let list = |amounts: &[Amount]| {
            let words: Vec<String> = amounts.iter().map(inner).collect();
            words.join(", ")
        };
        match amount.term.as_ref() {
            Term::Constant(number) => constant(amount.measure, *number, unit),
            Term::Row { si, .. } => constant(amount.measure, *si, unit),
            Term::Fact(fact) => self.fact(fact),
            Term::Negative(of) => format!("−{}", inner(of)),
            Term::Absolute(of) => format!("the size of {}", inner(of)),
            Term::Sum(left, right) => format!("{} + {}", inner(left), inner(right)),
            Term::Difference(left, right) => format!("{} − {}", inner(left), inner(right)),
            Term::Product(left, right) => format!("{} × {}", inner(left), inner(right)),
            Term::Quotient(left, right) => format!("{} / {}", inner(left), inner(right)),
            Term::Least(all) => format!("the least of {}", list(all)),
            Term::Greatest(all) => format!("the most of {}", list(all)),
            Term::Choice {
                when,
                then,
                otherwise,
            } => format!(
                "({} if {}, else {})",
                inner(then),
                self.truth(when),
                inner(otherwise)
            ),
        }
    }

    fn word(&self, word: &Word, beside: Option<&FactName>) -> String {
        match &word.term {
            WordTerm::Key(key) => self.label(beside, key),
            WordTerm::Fact(fact) => self.fact(fact),
            WordTerm::Choice {
                when,
                then,
                otherwise,
            } => format!(
                "{} if {}, else {}",
                self.word(then, beside),
                self.truth(when),
                self.word(otherwise, beside)
            ),
        }
    }

    /// `Defrost: `, or nothing where the step itself asks for it.
    fn of(&self, fact: &FactName) -> String {
        if Some(fact) == self.asked || fact.as_str() == OUTCOME {
            return String::new();
        }
        format!("{}: ", self.fact(fact))
    }

    /// What a fact is called, beginning with a capital letter.
    pub(super) fn fact(&self, name: &FactName) -> String {
        let label = match self.flow.facts.get(name) {
            Some(fact) => fact.label.clone(),
            None => name.as_str().replace('_', " "),
        };
        let mut letters = label.chars();
        let first = letters.next().map(char::to_uppercase);
        first.into_iter().flatten().chain(letters).collect()
    }

    fn label(&self, fact: Option<&FactName>, key: &ChoiceKey) -> String {
        let spaced = || key.as_str().replace('_', " ");
        let Some(fact) = fact else { return spaced() };
        if fact.as_str() == OUTCOME {
            let label = self.outcomes.and_then(|all| all.get(key.as_str()));
            return label.cloned().unwrap_or_else(spaced);
        }
        match self.flow.facts.get(fact).map(|fact| &fact.holds) {
            Some(FactType::OneOf(choices) | FactType::SomeOf(choices)) => {
                choices.get(key).cloned().unwrap_or_else(spaced)
            }
            _ => spaced(),
        }
    }

    /// What is left for the last branch when all before it ask for one choice each.
    pub(super) fn rest<'t>(&self, conditions: impl Iterator<Item = &'t Node>) -> Option<String> {
        let mut taken: Vec<&ChoiceKey> = Vec::new();
        let mut of: Option<&FactName> = None;
        for condition in conditions {
            let Node::Truth(truth) = condition else {
                return None;
            };
            let (fact, keys) = simple(truth)?;
            if of.is_some_and(|other| other != fact) {
                return None;
            }
            of = Some(fact);
            taken.extend(keys);
        }
        let of = of?;
        let all: Vec<String> = if of.as_str() == OUTCOME {
            let all = self.outcomes?.iter();
            all.filter(|(key, _)| !taken.iter().any(|taken| taken.as_str() == key.as_str()))
                .map(|(_, label)| label.clone())
                .collect()
        } else {
            match &self.flow.facts.get(of)?.holds {
                FactType::OneOf(choices) => choices
                    .iter()
                    .filter(|(key, _)| !taken.contains(key))
                    .map(|(_, label)| label.clone())
                    .collect(),
                _ => return None,
            }
        };
        if all.is_empty() || all.len() > 2 {
            return None;
        }
        Some(format!("{}{}", self.of(of), all.join(" or ")))
    }

    fn unit(&self, amount: &Amount) -> Option<&'static Unit> {
        match amount.term.as_ref() {
            Term::Fact(fact) => match self.flow.facts.get(fact)?.holds {
                FactType::Measures { show_in, .. } => Some(show_in),
                _ => None,
            },
            Term::Sum(left, right)
            | Term::Difference(left, right)
            | Term::Product(left, right)
            | Term::Quotient(left, right) => self.unit(left).or_else(|| self.unit(right)),
            _ => None,
        }
    }
}

/// The fact and the keys of a condition that asks for nothing but a choice.
fn simple(truth: &Truth) -> Option<(&FactName, Vec<&ChoiceKey>)> {
    match truth {
        Truth::Is {
            left,
            right,
            same: true,
        } => match (&left.term, &right.term) {
            (WordTerm::Fact(fact), WordTerm::Key(key))
            | (WordTerm::Key(key), WordTerm::Fact(fact)) => Some((fact, vec![key])),
            _ => None,
        },
        Truth::OneOf { word, keys } => Some((fact_of(word)?, keys.iter().collect())),
        Truth::Or(left, right) => {
            let (fact, mut keys) = simple(left)?;
            let (other, more) = simple(right)?;
            keys.extend(more);
            (fact == other).then_some((fact, keys))
        }
        _ => None,
    }
}

fn fact_of(word: &Word) -> Option<&FactName> {
    match &word.term {
        WordTerm::Fact(fact) => Some(fact),
        _ => None,
    }
}

fn constant(measure: Measure, si: f64, unit: Option<&'static Unit>) -> String {
    match measure {
        Measure::Number => plain_number(si),
        Measure::Quantity(kind) => {
            let unit = unit.filter(|unit| unit.kind == kind);
            Quantity { kind, si }.show(unit.unwrap_or_else(|| kind.usual_unit()))
        }
    }
}
