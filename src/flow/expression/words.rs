//! Typing of comparisons: words with keys of their fact, amounts within one measure.

use cel::common::ast::{Expr, IdedExpr, LiteralValue, operators};

use super::lower::Lowering;
use super::{Amount, Comparison, Measure, Node, Truth, Word, WordTerm, wording};
use crate::flow::name::ChoiceKey;
use crate::flow::suggestion::nearest;

/// The comparison that an operator of the parser's tree means.
pub(super) fn comparison(operator: &str) -> Option<Comparison> {
    Some(match operator {
        operators::LESS => Comparison::Less,
        operators::LESS_EQUALS => Comparison::AtMost,
        operators::GREATER => Comparison::More,
        operators::GREATER_EQUALS => Comparison::AtLeast,
        operators::EQUALS => Comparison::Equal,
        operators::NOT_EQUALS => Comparison::Different,
        _ => return None,
    })
}

/// A choice of two words: it may be any key of both.
pub(super) fn choice(when: Truth, then: Word, otherwise: Word) -> Word {
    let mut keys = then.keys.clone();
    for key in &otherwise.keys {
        if !keys.contains(key) {
            keys.push(key.clone());
        }
    }
    Word {
        keys,
        term: WordTerm::Choice {
            when: Box::new(when),
            then: Box::new(then),
            otherwise: Box::new(otherwise),
        },
    }
}

impl Lowering<'_> {
    pub(super) fn compare(&mut self, id: u64, how: Comparison, sides: &[IdedExpr]) -> Option<Node> {
        let [left_side, right_side] = sides else {
            return self.fault(id, "A comparison has two sides.", "Write a < b.");
        };
        let truth = match self.two(left_side, right_side, Self::node)? {
            (Node::Amount(left), Node::Amount(right)) => {
                self.compare_amounts(id, how, left, right)?
            }
            (Node::Word(left), Node::Word(right)) => {
                self.keys_fit(left_side.id, &left, &right)?;
                self.keys_fit(right_side.id, &right, &left)?;
                let same = match how {
                    Comparison::Equal => true,
                    Comparison::Different => false,
                    _ => {
                        return self.fault(
                            id,
                            "Words have no order.",
                            "Compare them with == or !=.",
                        );
                    }
                };
                Truth::Is { left, right, same }
            }
            (Node::Words { fact, .. }, Node::Word(word))
            | (Node::Word(word), Node::Words { fact, .. }) => {
                let key = word.keys.first().map_or("word", ChoiceKey::as_str);
                return self.fault(
                    id,
                    format!("{fact} holds several words, and this compares it with one."),
                    format!("Write \"{key}\" in {fact}."),
                );
            }
            (left, right) => {
                let (left, right) = (wording::node(&left), wording::node(&right));
                let wrong = if left == right {
                    format!("This compares {left} with another, and that has no meaning here.")
                } else {
                    format!("This compares {left} with {right}.")
                };
                return self.fault(id, wrong, "Compare two amounts, or a word with a word.");
            }
        };
        Some(Node::Truth(truth))
    }

    fn compare_amounts(
        &mut self,
        id: u64,
        how: Comparison,
        left: Amount,
        right: Amount,
    ) -> Option<Truth> {
        if left.measure == right.measure {
            return Some(Truth::Compare { how, left, right });
        }
        let mend = match (left.measure, right.measure) {
            (Measure::Number, Measure::Quantity(kind))
            | (Measure::Quantity(kind), Measure::Number) => format!(
                "Give the number its unit, as in {}.",
                wording::literal(kind)
            ),
            _ => "Compare two of one kind.".to_owned(),
        };
        let (left, right) = (
            wording::measure(left.measure),
            wording::measure(right.measure),
        );
        self.fault(id, format!("This compares {left} with {right}."), mend)
    }

    /// Every fixed word must be a key of the other side; two facts must have a key in common.
    fn keys_fit(&mut self, id: u64, word: &Word, other: &Word) -> Option<()> {
        match (&word.term, &other.term) {
            (WordTerm::Key(_), WordTerm::Key(_)) => self.fault(
                id,
                "This compares two fixed words.",
                "Compare a fact with a word, as in lead == \"cut\".",
            ),
            (WordTerm::Key(key), _) => self.key_of(id, key, &other.keys),
            (_, WordTerm::Key(_)) => Some(()),
            _ if word.keys.iter().any(|key| other.keys.contains(key)) => Some(()),
            _ => self.fault(
                id,
                "These two have no word in common, so they can never be the same.",
                "Compare facts that share their words.",
            ),
        }
    }

    fn key_of(&mut self, id: u64, key: &ChoiceKey, keys: &[ChoiceKey]) -> Option<()> {
        if keys.contains(key) {
            return Some(());
        }
        let mend = match nearest(key.as_str(), keys.iter().map(ChoiceKey::as_str)) {
            Some(near) => format!("Did you mean \"{near}\"?"),
            None => format!("The words are: {}.", wording::keys(keys)),
        };
        self.fault(id, format!("“{key}” is not one of the words here."), mend)
    }

    /// `what in within`
    pub(super) fn within(&mut self, id: u64, what: &IdedExpr, within: &IdedExpr) -> Option<Node> {
        if let Expr::List(list) = &within.expr {
            return self.within_list(id, what, &list.elements);
        }
        let (word, within_node) = self.two(what, within, Self::node)?;
        match (word, within_node) {
            (Node::Word(word), Node::Words { fact, keys }) => {
                if let WordTerm::Key(key) = &word.term {
                    self.key_of(what.id, key, &keys)?;
                } else if !word.keys.iter().any(|key| keys.contains(key)) {
                    return self.fault(
                        id,
                        "These two have no word in common, so this can never hold.",
                        "Ask for words that both have.",
                    );
                }
                let within = fact;
                Some(Node::Truth(Truth::Has { word, within }))
            }
            (word, within) => {
                let (word, within) = (wording::node(&word), wording::node(&within));
                self.fault(
                    id,
                    format!(
                        "“in” asks for a word in a list of words; here it has {word} in {within}."
                    ),
                    "Write \"bottom\" in ice_pattern, or lead in [\"cut\", \"bare\"].",
                )
            }
        }
    }

    fn within_list(&mut self, id: u64, what: &IdedExpr, elements: &[IdedExpr]) -> Option<Node> {
        let word = self.node(what);
        let keys: Option<Vec<ChoiceKey>> = elements
            .iter()
            .map(|element| match &element.expr {
                Expr::Literal(LiteralValue::String(text)) => Some(ChoiceKey::from(text.inner())),
                _ => None,
            })
            .collect();
        let word = match word? {
            Node::Word(word) if !matches!(word.term, WordTerm::Key(_)) => word,
            Node::Word(_) => {
                return self.fault(
                    id,
                    "This looks for a fixed word in a fixed list.",
                    "Look for a fact, as in lead in [\"cut\", \"bare\"].",
                );
            }
            other => {
                let what = wording::node(&other);
                return self.fault(
                    id,
                    format!("This looks for {what} in a list; only words can be listed."),
                    "Compare it with each value, joined by ||.",
                );
            }
        };
        let Some(keys) = keys.filter(|keys| !keys.is_empty()) else {
            return self.fault(
                id,
                "The list behind “in” must hold words in quotes, one at least.",
                "Write lead in [\"cut\", \"bare\"].",
            );
        };
        for (key, element) in keys.iter().zip(elements) {
            self.key_of(element.id, key, &word.keys)?;
        }
        Some(Node::Truth(Truth::OneOf { word, keys }))
    }
}
