//! Whether an expression can do without a fact: it is evaluated with that fact missing and every
//! other one as it may be, each on its own, after the rules of [`super::evaluate`].

use super::{Amount, Node, Term, Truth, Word, WordTerm};
use crate::flow::name::FactName;

/// What may come out.
#[derive(Clone, Copy, Default)]
struct May {
    /// It holds.
    hold: bool,
    /// It does not hold; of what is no condition, that it has a value.
    fail: bool,
    /// It has no value.
    lack: bool,
}

impl May {
    const ANY: Self = Self {
        hold: true,
        fail: true,
        lack: false,
    };

    fn or(self, other: Self) -> Self {
        Self {
            hold: self.hold || other.hold,
            fail: self.fail || other.fail,
            lack: self.lack || other.lack,
        }
    }

    fn not(self) -> Self {
        Self {
            hold: self.fail,
            fail: self.hold,
            lack: self.lack,
        }
    }

    /// Both: one that does not hold decides, whatever the other lacks.
    fn and(self, other: Self) -> Self {
        let (mine, theirs) = (self.lack, other.lack);
        Self {
            hold: self.hold && other.hold,
            fail: self.fail || other.fail,
            lack: mine && (other.hold || theirs) || theirs && self.hold,
        }
    }

    /// One of two, as this condition says.
    fn choose(self, then: Self, otherwise: Self) -> Self {
        let mut may = Self {
            lack: self.lack,
            ..Self::default()
        };
        if self.hold {
            may = may.or(then);
        }
        if self.fail {
            may = may.or(otherwise);
        }
        may
    }

    /// What follows from values of which all must be there.
    fn of_all(lacks: impl IntoIterator<Item = Self>) -> Self {
        let (mut has, mut lack) = (true, false);
        for one in lacks {
            has &= one.hold || one.fail;
            lack |= one.lack;
        }
        Self {
            hold: has,
            fail: has,
            lack,
        }
    }

    fn given(fact: &FactName, missing: &FactName) -> Self {
        match fact == missing {
            true => Self {
                lack: true,
                ..Self::default()
            },
            false => Self::ANY,
        }
    }
}

/// Whether the expression may have no value where this fact is missing.
pub(super) fn may_lack_a_value(node: &Node, missing: &FactName) -> bool {
    let may = match node {
        Node::Truth(of) => truth(of, missing),
        Node::Amount(of) => amount(of, missing),
        Node::Word(of) => word(of, missing),
        Node::Words { fact, .. } | Node::Text(fact) | Node::Quantities { fact, .. } => {
            May::given(fact, missing)
        }
    };
    may.lack
}

fn truth(of: &Truth, missing: &FactName) -> May {
    match of {
        Truth::Constant(value) => May {
            hold: *value,
            fail: !*value,
            lack: false,
        },
        Truth::Known(fact) => May {
            hold: fact != missing,
            fail: true,
            lack: false,
        },
        Truth::Not(of) => truth(of, missing).not(),
        Truth::And(left, right) => truth(left, missing).and(truth(right, missing)),
        Truth::Or(left, right) => {
            let neither = truth(left, missing).not().and(truth(right, missing).not());
            neither.not()
        }
        Truth::Choice {
            when,
            then,
            otherwise,
        } => truth(when, missing).choose(truth(then, missing), truth(otherwise, missing)),
        Truth::Compare { left, right, .. } => {
            May::of_all([amount(left, missing), amount(right, missing)])
        }
        Truth::Is { left, right, .. } => May::of_all([word(left, missing), word(right, missing)]),
        Truth::OneOf { word: of, .. } => May::of_all([word(of, missing)]),
        Truth::Has { word: of, within } => {
            May::of_all([word(of, missing), May::given(within, missing)])
        }
    }
}

fn amount(of: &Amount, missing: &FactName) -> May {
    match of.term.as_ref() {
        Term::Constant(_) | Term::Row { .. } => May::ANY,
        Term::Fact(fact) => May::given(fact, missing),
        Term::Negative(of) | Term::Absolute(of) => amount(of, missing),
        Term::Sum(left, right)
        | Term::Difference(left, right)
        | Term::Product(left, right)
        | Term::Quotient(left, right) => {
            May::of_all([amount(left, missing), amount(right, missing)])
        }
        Term::Least(list) | Term::Greatest(list) => {
            May::of_all(list.iter().map(|one| amount(one, missing)))
        }
        Term::Choice {
            when,
            then,
            otherwise,
        } => truth(when, missing).choose(amount(then, missing), amount(otherwise, missing)),
    }
}

fn word(of: &Word, missing: &FactName) -> May {
    match &of.term {
        WordTerm::Key(_) => May::ANY,
        WordTerm::Fact(fact) => May::given(fact, missing),
        WordTerm::Choice {
            when,
            then,
            otherwise,
        } => truth(when, missing).choose(word(then, missing), word(otherwise, missing)),
    }
}
