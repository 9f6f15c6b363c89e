//! What an expression reads: facts, `known(…)` asks and data rows.

use super::{Amount, Node, Term, Truth, Word, WordTerm};
use crate::flow::name::FactName;

/// What is met on the way through a tree.
enum Met<'a> {
    Fact(&'a FactName),
    Known(&'a FactName),
    Row(&'static str),
}

/// The facts whose values are read, each once.
pub(super) fn facts(node: &Node) -> Vec<&FactName> {
    collect(node, |met| match met {
        Met::Fact(fact) => Some(fact),
        Met::Known(_) | Met::Row(_) => None,
    })
}

/// The facts inside `known(…)`, each once.
pub(super) fn known_asks(node: &Node) -> Vec<&FactName> {
    collect(node, |met| match met {
        Met::Known(fact) => Some(fact),
        Met::Fact(_) | Met::Row(_) => None,
    })
}

/// The data rows, each once.
pub(super) fn rows(node: &Node) -> Vec<&'static str> {
    collect(node, |met| match met {
        Met::Row(row) => Some(row),
        Met::Fact(_) | Met::Known(_) => None,
    })
}

fn collect<'a, T: PartialEq>(node: &'a Node, pick: impl Fn(Met<'a>) -> Option<T>) -> Vec<T> {
    let mut found = Vec::new();
    walk_node(node, &mut |met| {
        if let Some(it) = pick(met)
            && !found.contains(&it)
        {
            found.push(it);
        }
    });
    found
}

type Meet<'m, 'a> = &'m mut dyn FnMut(Met<'a>);

fn walk_node<'a>(node: &'a Node, meet: Meet<'_, 'a>) {
    match node {
        Node::Truth(truth) => walk_truth(truth, meet),
        Node::Amount(amount) => walk_amount(amount, meet),
        Node::Word(word) => walk_word(word, meet),
        Node::Words { fact, .. } | Node::Text(fact) | Node::Quantities { fact, .. } => {
            meet(Met::Fact(fact));
        }
    }
}

fn walk_truth<'a>(truth: &'a Truth, meet: Meet<'_, 'a>) {
    match truth {
        Truth::Constant(_) => {}
        Truth::Known(fact) => meet(Met::Known(fact)),
        Truth::Not(of) => walk_truth(of, meet),
        Truth::And(left, right) | Truth::Or(left, right) => {
            walk_truth(left, meet);
            walk_truth(right, meet);
        }
        Truth::Choice {
            when,
            then,
            otherwise,
        } => {
            walk_truth(when, meet);
            walk_truth(then, meet);
            walk_truth(otherwise, meet);
        }
        Truth::Compare { left, right, .. } => {
            walk_amount(left, meet);
            walk_amount(right, meet);
        }
        Truth::Is { left, right, .. } => {
            walk_word(left, meet);
            walk_word(right, meet);
        }
        Truth::OneOf { word, .. } => walk_word(word, meet),
        Truth::Has { word, within } => {
            walk_word(word, meet);
            meet(Met::Fact(within));
        }
    }
}

fn walk_amount<'a>(amount: &'a Amount, meet: Meet<'_, 'a>) {
    match amount.term.as_ref() {
        Term::Constant(_) => {}
        Term::Row { name, .. } => meet(Met::Row(name)),
        Term::Fact(fact) => meet(Met::Fact(fact)),
        Term::Negative(of) | Term::Absolute(of) => walk_amount(of, meet),
        Term::Sum(left, right)
        | Term::Difference(left, right)
        | Term::Product(left, right)
        | Term::Quotient(left, right) => {
            walk_amount(left, meet);
            walk_amount(right, meet);
        }
        Term::Least(list) | Term::Greatest(list) => {
            for one in list {
                walk_amount(one, meet);
            }
        }
        Term::Choice {
            when,
            then,
            otherwise,
        } => {
            walk_truth(when, meet);
            walk_amount(then, meet);
            walk_amount(otherwise, meet);
        }
    }
}

fn walk_word<'a>(word: &'a Word, meet: Meet<'_, 'a>) {
    match &word.term {
        WordTerm::Key(_) => {}
        WordTerm::Fact(fact) => meet(Met::Fact(fact)),
        WordTerm::Choice {
            when,
            then,
            otherwise,
        } => {
            walk_truth(when, meet);
            walk_word(then, meet);
            walk_word(otherwise, meet);
        }
    }
}
