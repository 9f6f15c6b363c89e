//! Typing of amounts: arithmetic by dimension, unit literals and data rows.

use cel::common::ast::{Expr, IdedExpr, LiteralValue, operators};

use super::lower::Lowering;
use super::{Amount, Facts, Measure, Node, Term, evaluate, wording};
use crate::flow::name::FactName;
use crate::flow::suggestion::nearest;
use crate::trade::formula::Value;
use crate::trade::quantity::{Kind, Unit};
use crate::trade::rows;

use Measure::{Number, Quantity};

/// A literal has no facts to look up.
struct NoFacts;

impl Facts for NoFacts {
    fn value(&self, _name: &FactName) -> Option<&Value> {
        None
    }
}

impl Lowering<'_> {
    pub(super) fn amount_call(
        &mut self,
        id: u64,
        name: &str,
        arguments: &[IdedExpr],
    ) -> Option<Node> {
        let amount = match (name, arguments) {
            (operators::NEGATE, [of]) => self.negative(id, of),
            (operators::ADD, [left, right]) => self.sum(id, left, right),
            (operators::SUBSTRACT, [left, right]) => self.difference(id, left, right),
            (operators::MULTIPLY, [left, right]) => self.product(id, left, right),
            (operators::DIVIDE, [left, right]) => self.quotient(id, left, right),
            ("abs", [of]) => self.absolute(id, of),
            ("abs", _) => self.bad_arguments(id, name, "one amount", "abs(x)"),
            ("min" | "max", _) => self.extreme(id, name, arguments),
            ("known", _) => self.bad_arguments(id, name, "the name of one fact", "known(supply)"),
            ("row", _) => self.bad_arguments(id, name, "one name in quotes", "row(\"name\")"),
            _ => match (Unit::of_literal(name), arguments) {
                (Some(unit), [of]) => self.unit_literal(id, unit, of),
                (Some(_), _) => {
                    self.bad_arguments(id, name, "one plain number", &format!("{name}(10)"))
                }
                (None, _) => self.unknown_call(id, name),
            },
        }?;
        Some(Node::Amount(amount))
    }

    /// Types a node that must be an amount.
    fn amount(&mut self, expr: &IdedExpr) -> Option<Amount> {
        match self.node(expr)? {
            Node::Amount(amount) => Some(amount),
            other => {
                let what = wording::node(&other);
                self.fault(
                    expr.id,
                    format!("Here stands {what}, where an amount is needed."),
                    "Reckon with numbers and readings only.",
                )
            }
        }
    }

    fn unit_literal(&mut self, id: u64, unit: &'static Unit, of: &IdedExpr) -> Option<Amount> {
        let number = self.amount(of)?;
        let value = match number.measure {
            Number => evaluate::amount(&number, &NoFacts).ok(),
            Quantity(_) => None,
        };
        let quantity = value.map(|value| unit.of(value));
        match quantity {
            Some(quantity) if quantity.si.is_finite() => Some(Amount::new(
                Quantity(unit.kind),
                Term::Constant(quantity.si),
            )),
            _ => self.bad_arguments(
                id,
                unit.literal,
                "one plain number, not a fact",
                &format!("{0}(10), or fact * {0}(1)", unit.literal),
            ),
        }
    }

    pub(super) fn row(&mut self, id: u64, of: &IdedExpr) -> Option<Node> {
        let Expr::Literal(LiteralValue::String(name)) = &of.expr else {
            return self.bad_arguments(id, "row", "one name in quotes", "row(\"name\")");
        };
        let Some(row) = rows::row(name.inner()) else {
            let mend = match nearest(name.inner(), rows::rows().map(|row| row.name)) {
                Some(near) => format!("Did you mean row(\"{near}\")?"),
                None => "Use the name of a row that exists.".to_owned(),
            };
            return self.fault(
                of.id,
                format!("There is no data row called {}.", name.inner()),
                mend,
            );
        };
        Some(Node::Amount(Amount::new(
            Quantity(row.kind),
            Term::Row {
                name: row.name,
                si: row.si,
            },
        )))
    }

    fn negative(&mut self, id: u64, of: &IdedExpr) -> Option<Amount> {
        let of = self.amount(of)?;
        if of.measure == Quantity(Kind::Temperature) {
            return self.fault(
                id,
                "A minus before a temperature would turn its sign in kelvin, not in degrees.",
                "Write the minus inside: deg_f(-10).",
            );
        }
        Some(Amount::new(of.measure, Term::Negative(of)))
    }

    fn absolute(&mut self, id: u64, of: &IdedExpr) -> Option<Amount> {
        let of = self.amount(of)?;
        if of.measure == Quantity(Kind::Temperature) {
            return self.fault(
                id,
                "abs(…) of a temperature has no meaning.",
                "Take abs(…) of a difference of two temperatures.",
            );
        }
        Some(Amount::new(of.measure, Term::Absolute(of)))
    }

    fn extreme(&mut self, id: u64, name: &str, arguments: &[IdedExpr]) -> Option<Amount> {
        if arguments.len() < 2 {
            let example = format!("{name}(a, b)");
            return self.bad_arguments(id, name, "two amounts or more", &example);
        }
        let amounts: Vec<Option<Amount>> = arguments
            .iter()
            .map(|argument| self.amount(argument))
            .collect();
        let amounts: Vec<Amount> = amounts.into_iter().collect::<Option<_>>()?;
        let measure = amounts.first().map_or(Number, |first| first.measure);
        if let Some(other) = amounts.iter().find(|amount| amount.measure != measure) {
            let (one, other) = (wording::measure(measure), wording::measure(other.measure));
            return self.fault(
                id,
                format!("{name}(…) has {one} and {other}."),
                "Give it amounts of one kind.",
            );
        }
        let term = if name == "min" {
            Term::Least(amounts)
        } else {
            Term::Greatest(amounts)
        };
        Some(Amount::new(measure, term))
    }

    fn sum(&mut self, id: u64, left: &IdedExpr, right: &IdedExpr) -> Option<Amount> {
        let (left, right) = self.two(left, right, Self::amount)?;
        let measure = match (left.measure, right.measure) {
            (Quantity(Kind::Temperature), Quantity(Kind::Temperature)) => {
                return self.fault(
                    id,
                    "Two temperatures can't be added.",
                    "Add a difference, such as diff_f(10).",
                );
            }
            (Quantity(Kind::Temperature), Quantity(Kind::TemperatureDifference))
            | (Quantity(Kind::TemperatureDifference), Quantity(Kind::Temperature)) => {
                Quantity(Kind::Temperature)
            }
            (one, other) if one == other => one,
            (one, other) => return self.unlike(id, "adds", one, other),
        };
        Some(Amount::new(measure, Term::Sum(left, right)))
    }

    fn difference(&mut self, id: u64, left: &IdedExpr, right: &IdedExpr) -> Option<Amount> {
        let (left, right) = self.two(left, right, Self::amount)?;
        let measure = match (left.measure, right.measure) {
            (Quantity(Kind::Temperature), Quantity(Kind::Temperature)) => {
                Quantity(Kind::TemperatureDifference)
            }
            (Quantity(Kind::Temperature), Quantity(Kind::TemperatureDifference)) => {
                Quantity(Kind::Temperature)
            }
            (one, other) if one == other => one,
            (one, other) => return self.unlike(id, "takes apart", one, other),
        };
        Some(Amount::new(measure, Term::Difference(left, right)))
    }

    fn unlike<T>(&mut self, id: u64, does: &str, left: Measure, right: Measure) -> Option<T> {
        let mend = match (left, right) {
            (Number, Quantity(kind)) | (Quantity(kind), Number) => format!(
                "Give the number its unit, as in {}.",
                wording::literal(kind)
            ),
            (Quantity(Kind::Temperature), _) | (_, Quantity(Kind::Temperature)) => {
                "Only a difference, such as diff_f(10), goes with a temperature.".to_owned()
            }
            _ => "Use two of one kind.".to_owned(),
        };
        let (left, right) = (wording::measure(left), wording::measure(right));
        self.fault(id, format!("This {does} {left} and {right}."), mend)
    }

    fn product(&mut self, id: u64, left: &IdedExpr, right: &IdedExpr) -> Option<Amount> {
        let (left, right) = self.two(left, right, Self::amount)?;
        let measure = match (left.measure, right.measure) {
            (Quantity(Kind::Temperature), _) | (_, Quantity(Kind::Temperature)) => {
                return self.temperature_scaled(id);
            }
            (Number, other) | (other, Number) => other,
            (Quantity(Kind::Ratio), other) | (other, Quantity(Kind::Ratio)) => other,
            (Quantity(Kind::Voltage), Quantity(Kind::Current))
            | (Quantity(Kind::Current), Quantity(Kind::Voltage)) => Quantity(Kind::ApparentPower),
            (one, other) => return self.needs_formula(id, "multiplies", one, other),
        };
        Some(Amount::new(measure, Term::Product(left, right)))
    }

    fn quotient(&mut self, id: u64, left: &IdedExpr, right: &IdedExpr) -> Option<Amount> {
        let (left, right) = self.two(left, right, Self::amount)?;
        let measure = match (left.measure, right.measure) {
            (Quantity(Kind::Temperature), _) | (_, Quantity(Kind::Temperature)) => {
                return self.temperature_scaled(id);
            }
            (one, other) if one == other => Number,
            (one, Number | Quantity(Kind::Ratio)) => one,
            (one, other) => return self.needs_formula(id, "divides", one, other),
        };
        Some(Amount::new(measure, Term::Quotient(left, right)))
    }

    fn temperature_scaled<T>(&mut self, id: u64) -> Option<T> {
        self.fault(
            id,
            "A temperature can't be multiplied or divided.",
            "Add or take off a difference, such as diff_f(10).",
        )
    }

    fn needs_formula<T>(
        &mut self,
        id: u64,
        does: &str,
        left: Measure,
        right: Measure,
    ) -> Option<T> {
        let (left, right) = (wording::measure(left), wording::measure(right));
        self.fault(
            id,
            format!("This {does} {left} and {right}, and the language has no unit for that."),
            "Use a formula: a work_out step.",
        )
    }
}
