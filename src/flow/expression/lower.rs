//! From the parser's tree to the typed tree: names, calls and conditions.

use cel::common::ast::{CallExpr, Expr, IdedExpr, LiteralValue, operators};

use super::syntax::{Place, Tree};
use super::{Amount, Fault, Measure, Node, Scope, Term, Truth, Type, Word, WordTerm, wording};
use crate::flow::name::{ChoiceKey, FactName};
use crate::flow::suggestion::nearest;
use crate::trade::quantity::Unit;

/// Types a whole tree.
pub(super) fn lower(tree: &Tree, place: &Place<'_>, scope: &dyn Scope) -> Result<Node, Vec<Fault>> {
    let mut lowering = Lowering {
        tree,
        place: *place,
        scope,
        faults: Vec::new(),
    };
    match lowering.node(&tree.root) {
        Some(node) if lowering.faults.is_empty() => Ok(node),
        _ => {
            lowering.faults.sort_by_key(|fault| fault.at);
            Err(lowering.faults)
        }
    }
}

/// One lowering at work. A part that can't be typed is `None`, and its fault is in the list.
pub(super) struct Lowering<'a> {
    tree: &'a Tree,
    place: Place<'a>,
    pub(super) scope: &'a dyn Scope,
    faults: Vec<Fault>,
}

impl Lowering<'_> {
    /// Notes a fault at a node and gives nothing, so that a caller can end with it.
    pub(super) fn fault<T>(
        &mut self,
        id: u64,
        wrong: impl Into<String>,
        mend: impl Into<String>,
    ) -> Option<T> {
        let offset = self.tree.offset(id, "");
        self.faults.push(self.place.fault(offset, wrong, mend));
        None
    }

    fn fault_at_call<T>(&mut self, id: u64, name: &str, wrong: String, mend: &str) -> Option<T> {
        let offset = self.tree.offset(id, name);
        self.faults.push(self.place.fault(offset, wrong, mend));
        None
    }

    /// Types any node.
    pub(super) fn node(&mut self, expr: &IdedExpr) -> Option<Node> {
        match &expr.expr {
            Expr::Literal(literal) => self.literal(expr.id, literal),
            Expr::Ident(name) => self.name(expr.id, name),
            Expr::Call(call) => self.call(expr.id, call),
            Expr::List(_) => self.fault(
                expr.id,
                "A list can only stand behind “in”.",
                "Write it as lead in [\"cut\", \"bare\"].",
            ),
            Expr::Select(_) => self.fault(
                expr.id,
                "Facts have no fields, so nothing can follow a dot here.",
                "Name the fact alone.",
            ),
            Expr::Map(_) | Expr::Struct(_) => self.fault(
                expr.id,
                "Braces with keys are not part of this language.",
                "Compare one fact at a time.",
            ),
            Expr::Comprehension(_) => self.fault(
                expr.id,
                "Loops over lists are not part of this language.",
                "Ask for each word with \"word\" in fact.",
            ),
            Expr::Unspecified => self.fault(
                expr.id,
                "This expression can't be read.",
                "Write it like supply < 0.9 * rated, or lead == \"cut\".",
            ),
        }
    }

    fn literal(&mut self, id: u64, literal: &LiteralValue) -> Option<Node> {
        let number = |value: f64| {
            let amount = Amount::new(Measure::Number, Term::Constant(value));
            Some(Node::Amount(amount))
        };
        match literal {
            LiteralValue::Boolean(value) => Some(Node::Truth(Truth::Constant(**value))),
            LiteralValue::Int(value) => number(**value as f64),
            LiteralValue::Double(value) if value.is_finite() => number(**value),
            LiteralValue::Double(_) => self.fault(
                id,
                "This number is too large.",
                "Write a number that can be measured.",
            ),
            LiteralValue::String(text) => {
                let key = ChoiceKey::from(text.inner());
                Some(Node::Word(Word {
                    keys: vec![key.clone()],
                    term: WordTerm::Key(key),
                }))
            }
            LiteralValue::UInt(value) => self.fault(
                id,
                "A number needs no letter behind it.",
                format!("Write {}.", **value),
            ),
            LiteralValue::Bytes(_) => self.fault(
                id,
                "A letter before a quote is not part of this language.",
                "Write the word in plain quotes.",
            ),
            LiteralValue::Null => self.fault(
                id,
                "null is not part of this language.",
                "Write !known(fact) for a fact without a value.",
            ),
        }
    }

    fn name(&mut self, id: u64, name: &str) -> Option<Node> {
        let fact = FactName::from(name);
        Some(match self.scope.fact(name) {
            Some(Type::Number) => Node::Amount(Amount::new(Measure::Number, Term::Fact(fact))),
            Some(Type::Quantity(kind)) => {
                Node::Amount(Amount::new(Measure::Quantity(kind), Term::Fact(fact)))
            }
            Some(Type::Word(keys)) => Node::Word(Word {
                keys,
                term: WordTerm::Fact(fact),
            }),
            Some(Type::Words(keys)) => Node::Words { fact, keys },
            Some(Type::Text) => Node::Text(fact),
            Some(Type::Quantities(kind)) => Node::Quantities { fact, kind },
            Some(Type::Photo) => {
                return self.fault(
                    id,
                    format!("{name} is a photo, and a photo has no value to reckon with."),
                    format!("Ask known({name})."),
                );
            }
            Some(Type::Bool) => {
                return self.fault(
                    id,
                    format!("{name} is true or false, and no fact can be that."),
                    "Declare it as one_of with two words.",
                );
            }
            None => return self.unknown_name(id, name),
        })
    }

    fn unknown_name(&mut self, id: u64, name: &str) -> Option<Node> {
        let mend = if Unit::of_literal(name).is_some() {
            format!("Write the unit with its number: {name}(10).")
        } else if let Some(fact) = self.fact_with_key(name) {
            format!("\"{name}\" is a word of {fact}: write it in quotes.")
        } else if let Some(near) = nearest(name, self.scope.names()) {
            format!("Did you mean {near}?")
        } else {
            "Declare it under facts, or check its spelling.".to_owned()
        };
        self.fault(id, format!("There is no fact called {name}."), mend)
    }

    fn fact_with_key(&self, key: &str) -> Option<String> {
        let has = |name: &&str| match self.scope.fact(name) {
            Some(Type::Word(keys) | Type::Words(keys)) => keys.iter().any(|k| k.as_str() == key),
            _ => false,
        };
        self.scope.names().into_iter().find(has).map(str::to_owned)
    }

    fn call(&mut self, id: u64, call: &CallExpr) -> Option<Node> {
        if call.target.is_some() {
            return self.fault(
                id,
                format!("Nothing here can be asked for .{}(…).", call.func_name),
                "Write min(a, b), max(a, b), abs(x) or known(x).",
            );
        }
        let name = call.func_name.as_str();
        match (name, call.args.as_slice()) {
            (operators::LOGICAL_NOT, [of]) => {
                let of = self.condition(of)?;
                Some(Node::Truth(Truth::Not(Box::new(of))))
            }
            (operators::LOGICAL_AND, [left, right]) => {
                let (left, right) = self.two(left, right, Self::condition)?;
                Some(Node::Truth(Truth::And(Box::new(left), Box::new(right))))
            }
            (operators::LOGICAL_OR, [left, right]) => {
                let (left, right) = self.two(left, right, Self::condition)?;
                Some(Node::Truth(Truth::Or(Box::new(left), Box::new(right))))
            }
            (operators::CONDITIONAL, [when, then, otherwise]) => {
                self.choice(id, when, then, otherwise)
            }
            (operators::IN, [what, within]) => self.within(id, what, within),
            (operators::INDEX, _) => self.fault(
                id,
                "Facts have no numbered parts, so square brackets can't follow here.",
                "Name the fact alone.",
            ),
            ("known", [of]) => self.known(id, of),
            ("row", [of]) => self.row(id, of),
            (_, args) => match super::words::comparison(name) {
                Some(how) => self.compare(id, how, args),
                None => self.amount_call(id, name, args),
            },
        }
    }

    /// Types two parts, so that the faults of both are noted.
    pub(super) fn two<T>(
        &mut self,
        left: &IdedExpr,
        right: &IdedExpr,
        one: impl Fn(&mut Self, &IdedExpr) -> Option<T>,
    ) -> Option<(T, T)> {
        let (left, right) = (one(self, left), one(self, right));
        Some((left?, right?))
    }

    /// Types a node that must be true or false.
    fn condition(&mut self, expr: &IdedExpr) -> Option<Truth> {
        match self.node(expr)? {
            Node::Truth(truth) => Some(truth),
            other => {
                let what = wording::node(&other);
                self.fault(
                    expr.id,
                    format!("Here stands {what}, where a condition is needed."),
                    "Compare it with something, as in supply < volt(187).",
                )
            }
        }
    }

    fn choice(
        &mut self,
        id: u64,
        when: &IdedExpr,
        then: &IdedExpr,
        otherwise: &IdedExpr,
    ) -> Option<Node> {
        let when = self.condition(when);
        let (then, otherwise) = self.two(then, otherwise, Self::node)?;
        let when = when?;
        match (then, otherwise) {
            (Node::Truth(then), Node::Truth(otherwise)) => Some(Node::Truth(Truth::Choice {
                when: Box::new(when),
                then: Box::new(then),
                otherwise: Box::new(otherwise),
            })),
            (Node::Amount(then), Node::Amount(otherwise)) if then.measure == otherwise.measure => {
                let measure = then.measure;
                let term = Term::Choice {
                    when,
                    then,
                    otherwise,
                };
                Some(Node::Amount(Amount::new(measure, term)))
            }
            (Node::Word(then), Node::Word(otherwise)) => {
                Some(Node::Word(super::words::choice(when, then, otherwise)))
            }
            (then, otherwise) => {
                let (then, otherwise) = (wording::node(&then), wording::node(&otherwise));
                let wrong = if then == otherwise {
                    format!("A choice can't give {then}.")
                } else {
                    format!("This gives {then} in one case and {otherwise} in the other.")
                };
                self.fault(
                    id,
                    wrong,
                    "Let both sides of “:” give the same kind of value.",
                )
            }
        }
    }

    fn known(&mut self, id: u64, of: &IdedExpr) -> Option<Node> {
        let Expr::Ident(name) = &of.expr else {
            return self.fault_at_call(
                id,
                "known",
                "known(…) takes the name of one fact.".to_owned(),
                "Write known(supply).",
            );
        };
        if self.scope.fact(name).is_none() {
            return self.unknown_name(of.id, name);
        }
        Some(Node::Truth(Truth::Known(FactName::from(name.as_str()))))
    }

    /// A call of something that does not exist.
    pub(super) fn unknown_call<T>(&mut self, id: u64, name: &str) -> Option<T> {
        let known = ["known", "row", "min", "max", "abs"];
        let units = crate::trade::quantity::UNITS
            .iter()
            .map(|unit| unit.literal);
        let mend = if self.scope.fact(name).is_some() {
            format!("Write {name} without brackets.")
        } else if let Some(near) = nearest(name, known.into_iter().chain(units)) {
            format!("Did you mean {near}(…)?")
        } else {
            "Use a unit such as volt(187), or known, row, min, max, abs.".to_owned()
        };
        // The parser calls the operators `_%_` and the like.
        let wrong = if name.contains(|c: char| c.is_ascii_alphabetic()) {
            format!("There is no {name}(…) in this language.")
        } else {
            let sign = name.trim_matches('_');
            format!("The operator {sign} is not part of this language.")
        };
        self.fault_at_call(id, name, wrong, &mend)
    }

    /// A call with the wrong number or sort of arguments.
    pub(super) fn bad_arguments<T>(
        &mut self,
        id: u64,
        name: &str,
        takes: &str,
        example: &str,
    ) -> Option<T> {
        let wrong = format!("{name}(…) takes {takes}.");
        self.fault_at_call(id, name, wrong, &format!("Write {example}."))
    }
}
