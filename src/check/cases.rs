//! The cases that the branches of a step tell apart: every answer that could be given, as one
//! sample each.
//!
//! Choices are taken key by key. A number that is compared with constants is cut at them into
//! points and the stretches between; one sample of each decides for all of it, because an
//! expression that is a straight line in that number does not change sides in between. Any other
//! comparison is taken as less, equal or more, whatever is compared.

use super::ground::Graph;
use super::line::{self, Line};
use crate::flow::expression::{Amount, Comparison, Expression, Node, Truth, Word, WordTerm};
use crate::flow::model::{FactType, Step};
use crate::flow::name::{ChoiceKey, FactName};

/// More cases than this are not looked at.
const CASES_MAX: usize = 20_000;

/// Something that a condition asks about.
#[derive(Clone, Debug, PartialEq)]
enum Asked<'a> {
    /// Which key a fact has.
    Key(&'a FactName),
    /// Whether a fact has a key among its keys.
    Has(&'a FactName, &'a ChoiceKey),
    /// Whether a fact is known.
    Known(&'a FactName),
    /// Which value a number has.
    Value(&'a FactName),
    /// How two amounts stand to each other.
    Sign(&'a Amount, &'a Amount),
}

/// What can be answered to it.
#[derive(Clone, Debug, PartialEq)]
enum Answered<'a> {
    Key(&'a str),
    Truth(bool),
    Value(f64),
    Sign(std::cmp::Ordering),
}

/// One case: what is answered to everything that is asked about.
pub(super) struct Case<'c, 'a> {
    asked: &'c [Asked<'a>],
    answered: Vec<Answered<'a>>,
}

/// The cases of a step's branches.
pub(super) struct Cases<'a> {
    asked: Vec<Asked<'a>>,
    answers: Vec<Vec<Answered<'a>>>,
}

impl<'a> Cases<'a> {
    /// The cases of a step; `outcomes` are those of the flow that it runs. None where there are
    /// too many to look at.
    pub(super) fn of(graph: &Graph<'a>, step: &'a Step, outcomes: &[&'a str]) -> Option<Self> {
        let mut asked: Vec<Asked<'a>> = Vec::new();
        let conditions = step.then.iter().filter_map(|branch| branch.when.as_ref());
        let truths: Vec<&Truth> = conditions.filter_map(truth_of).collect();
        for truth in &truths {
            ask(truth, &mut asked);
        }
        let answers: Vec<Vec<Answered<'a>>> = asked
            .iter()
            .map(|one| answers(graph, one, &truths, outcomes))
            .collect();
        let count = answers
            .iter()
            .try_fold(1_usize, |count, one| count.checked_mul(one.len()));
        count
            .filter(|count| *count <= CASES_MAX)
            .map(|_| Self { asked, answers })
    }

    /// Every case, one after the other.
    pub(super) fn each(&self) -> impl Iterator<Item = Case<'_, 'a>> {
        let count = self.answers.iter().map(Vec::len).product::<usize>();
        (0..count).map(|number| {
            let mut rest = number;
            let answered = self.answers.iter().map(|answers| {
                let answer = answers[rest % answers.len()].clone();
                rest /= answers.len();
                answer
            });
            Case {
                answered: answered.collect(),
                asked: &self.asked,
            }
        })
    }
}

/// Whether two conditions ask about the same things, and about a number among them.
pub(super) fn weigh_the_same(one: &Expression, other: &Expression) -> bool {
    let (one, other) = (asked_by(one), asked_by(other));
    one.iter().any(|it| matches!(it, Asked::Value(_)))
        && one.iter().all(|it| other.contains(it))
        && other.iter().all(|it| one.contains(it))
}

fn asked_by(condition: &Expression) -> Vec<Asked<'_>> {
    let mut asked = Vec::new();
    if let Some(truth) = truth_of(condition) {
        ask(truth, &mut asked);
    }
    asked
}

/// The condition as something that holds or not.
fn truth_of(condition: &Expression) -> Option<&Truth> {
    match condition.node() {
        Node::Truth(truth) => Some(truth),
        _ => None,
    }
}

fn ask<'a>(truth: &'a Truth, asked: &mut Vec<Asked<'a>>) {
    match truth {
        Truth::Constant(_) => {}
        Truth::Known(fact) => add_once(asked, Asked::Known(fact)),
        Truth::Not(of) => ask(of, asked),
        Truth::And(left, right) | Truth::Or(left, right) => {
            ask(left, asked);
            ask(right, asked);
        }
        Truth::Choice {
            when,
            then,
            otherwise,
        } => {
            ask(when, asked);
            ask(then, asked);
            ask(otherwise, asked);
        }
        Truth::Compare { left, right, .. } => match line::difference(left, right) {
            Some(Line {
                fact: Some(fact), ..
            }) => {
                add_once(asked, Asked::Value(fact));
            }
            Some(Line { fact: None, .. }) => {}
            None => {
                if !asked.contains(&Asked::Sign(right, left)) {
                    add_once(asked, Asked::Sign(left, right));
                }
            }
        },
        Truth::Is { left, right, .. } => {
            for word in [left, right] {
                ask_word(word, asked);
            }
        }
        Truth::OneOf { word, .. } => ask_word(word, asked),
        Truth::Has { word, within } => {
            if let WordTerm::Key(key) = &word.term {
                add_once(asked, Asked::Has(within, key));
            }
        }
    }
}

fn add_once<'a>(asked: &mut Vec<Asked<'a>>, one: Asked<'a>) {
    if !asked.contains(&one) {
        asked.push(one);
    }
}

fn ask_word<'a>(word: &'a Word, asked: &mut Vec<Asked<'a>>) {
    match &word.term {
        WordTerm::Key(_) => {}
        WordTerm::Fact(fact) => {
            add_once(asked, Asked::Key(fact));
        }
        WordTerm::Choice {
            when,
            then,
            otherwise,
        } => {
            ask(when, asked);
            ask_word(then, asked);
            ask_word(otherwise, asked);
        }
    }
}

fn answers<'a>(
    graph: &Graph<'a>,
    asked: &Asked<'a>,
    truths: &[&'a Truth],
    outcomes: &[&'a str],
) -> Vec<Answered<'a>> {
    use std::cmp::Ordering::{Equal, Greater, Less};
    let facts = &graph.flow.facts;
    match asked {
        Asked::Key(fact) if fact.as_str() == crate::flow::OUTCOME => {
            outcomes.iter().map(|name| Answered::Key(name)).collect()
        }
        Asked::Key(fact) => match facts.get(*fact).map(|fact| &fact.holds) {
            Some(FactType::OneOf(keys)) => {
                keys.keys().map(|key| Answered::Key(key.as_str())).collect()
            }
            _ => Vec::new(),
        },
        Asked::Has(..) | Asked::Known(_) => vec![Answered::Truth(true), Answered::Truth(false)],
        Asked::Value(fact) => {
            let samples = line::samples(graph, fact, truths);
            samples.into_iter().map(Answered::Value).collect()
        }
        Asked::Sign(..) => [Less, Equal, Greater].map(Answered::Sign).to_vec(),
    }
}

impl<'a> Case<'_, 'a> {
    /// Whether a condition holds here.
    pub(super) fn holds(&self, condition: &'a Expression) -> bool {
        truth_of(condition).is_some_and(|truth| self.decide(truth))
    }

    /// Whether a fact is taken as known here.
    pub(super) fn knows(&self, fact: &'a FactName) -> bool {
        self.is_true(&Asked::Known(fact))
    }

    /// The number of the branch that is taken here, if any is.
    pub(super) fn taken(&self, step: &'a Step) -> Option<usize> {
        let mut branches = step.then.iter();
        branches.position(|branch| branch.when.as_ref().is_none_or(|when| self.holds(when)))
    }

    /// The case in words: `procedure is missing, feeds is 3`.
    pub(super) fn told(&self, graph: &Graph<'_>) -> String {
        self.told_where(graph, |_| true)
    }

    /// As [`Case::told`], of what this condition asks about alone.
    pub(super) fn told_to(&self, graph: &Graph<'_>, condition: &Expression) -> String {
        let asked = asked_by(condition);
        self.told_where(graph, |it| asked.contains(it))
    }

    fn told_where(&self, graph: &Graph<'_>, tells: impl Fn(&Asked<'_>) -> bool) -> String {
        let told = self.asked.iter().zip(&self.answered);
        let told = told.filter(|(asked, _)| tells(asked));
        let told = told.filter_map(|(asked, answered)| match (asked, answered) {
            (Asked::Key(fact), Answered::Key(key)) => Some(format!("`{fact}` is `{key}`")),
            (Asked::Has(fact, key), Answered::Truth(true)) => Some(format!("`{fact}` has `{key}`")),
            (Asked::Has(fact, key), Answered::Truth(false)) => {
                Some(format!("`{fact}` lacks `{key}`"))
            }
            (Asked::Known(fact), Answered::Truth(known)) => {
                let word = if *known { "known" } else { "not known" };
                Some(format!("`{fact}` is {word}"))
            }
            (Asked::Value(fact), Answered::Value(value)) => {
                Some(format!("`{fact}` is {}", line::shown(graph, fact, *value)))
            }
            (Asked::Sign(..), Answered::Sign(sign)) => Some(
                match sign {
                    std::cmp::Ordering::Less => "the left side is less",
                    std::cmp::Ordering::Equal => "both sides are equal",
                    std::cmp::Ordering::Greater => "the left side is more",
                }
                .to_owned(),
            ),
            _ => None,
        });
        told.collect::<Vec<_>>().join(" and ")
    }

    fn answer(&self, asked: &Asked<'a>) -> Option<&Answered<'a>> {
        let at = self.asked.iter().position(|one| one == asked)?;
        self.answered.get(at)
    }

    fn is_true(&self, asked: &Asked<'a>) -> bool {
        matches!(self.answer(asked), Some(Answered::Truth(true)))
    }

    fn decide(&self, truth: &'a Truth) -> bool {
        match truth {
            Truth::Constant(value) => *value,
            Truth::Known(fact) => self.is_true(&Asked::Known(fact)),
            Truth::Not(of) => !self.decide(of),
            Truth::And(left, right) => self.decide(left) && self.decide(right),
            Truth::Or(left, right) => self.decide(left) || self.decide(right),
            Truth::Choice {
                when,
                then,
                otherwise,
            } => self.decide(if self.decide(when) { then } else { otherwise }),
            Truth::Compare { how, left, right } => self.compare(*how, left, right),
            Truth::Is { left, right, same } => (self.word(left) == self.word(right)) == *same,
            Truth::OneOf { word, keys } => {
                let word = self.word(word);
                keys.iter().any(|key| Some(key.as_str()) == word)
            }
            Truth::Has { word, within } => match &word.term {
                WordTerm::Key(key) => self.is_true(&Asked::Has(within, key)),
                _ => false,
            },
        }
    }

    fn word(&self, word: &'a Word) -> Option<&'a str> {
        match &word.term {
            WordTerm::Key(key) => Some(key.as_str()),
            WordTerm::Fact(fact) => match self.answer(&Asked::Key(fact)) {
                Some(Answered::Key(key)) => Some(key),
                _ => None,
            },
            WordTerm::Choice {
                when,
                then,
                otherwise,
            } => self.word(if self.decide(when) { then } else { otherwise }),
        }
    }

    fn compare(&self, how: Comparison, left: &'a Amount, right: &'a Amount) -> bool {
        use std::cmp::Ordering;
        let sign = match line::difference(left, right) {
            Some(line) => {
                let value = match line.fact.map(|fact| self.answer(&Asked::Value(fact))) {
                    Some(Some(Answered::Value(value))) => *value,
                    _ => 0.0,
                };
                line.sign_at(value)
            }
            None => match self.answer(&Asked::Sign(left, right)) {
                Some(Answered::Sign(sign)) => *sign,
                _ => match self.answer(&Asked::Sign(right, left)) {
                    Some(Answered::Sign(sign)) => sign.reverse(),
                    _ => Ordering::Equal,
                },
            },
        };
        match how {
            Comparison::Less => sign == Ordering::Less,
            Comparison::AtMost => sign != Ordering::Greater,
            Comparison::More => sign == Ordering::Greater,
            Comparison::AtLeast => sign != Ordering::Less,
            Comparison::Equal => sign == Ordering::Equal,
            Comparison::Different => sign != Ordering::Equal,
        }
    }
}
