//! Our evaluation against the `cel` crate's own, on the same text and the same values.
//!
//! The text is made from random bytes. Numbers are written as doubles, because plain CEL does
//! not mix them with whole numbers; unit literals, `row`, `abs`, `min` and `max` are given to
//! the crate as functions on SI doubles, and `known(x)` as a macro.

use std::sync::{Arc, LazyLock};

use cel::common::ast::Expr;
use cel::parser::Macro;
use cel::{Context, Env, Value as CelValue};
use fanwright::flow::expression::{Expression, Facts, Missing};
use fanwright::flow::name::FactName;
use fanwright::trade::formula::Value;
use fanwright::trade::quantity::{UNITS, nearly_equal};
use fanwright::trade::rows;
use proptest::prelude::{any, prop_assert, prop_assert_eq, proptest};
use proptest::test_runner::Config;

use super::scope::{Known, compile};

/// Decisions drawn from random bytes; when they run out, the first choice is taken.
struct Draw<'a> {
    bytes: std::slice::Iter<'a, u8>,
    /// Both sides of every comparison of amounts that was written.
    compared: Vec<(String, String)>,
}

impl Draw<'_> {
    fn of(&mut self, choices: usize) -> usize {
        usize::from(self.bytes.next().copied().unwrap_or(0)) % choices
    }

    fn one<'t>(&mut self, of: &[&'t str]) -> &'t str {
        of[self.of(of.len())]
    }

    fn truth(&mut self, depth: u8) -> String {
        if depth == 0 {
            return self.simple_truth();
        }
        match self.of(9) {
            0 => self.simple_truth(),
            1 => format!("!({})", self.truth(depth - 1)),
            2 | 3 => format!("({} && {})", self.truth(depth - 1), self.truth(depth - 1)),
            4 | 5 => format!("({} || {})", self.truth(depth - 1), self.truth(depth - 1)),
            6 => {
                let (when, then) = (self.truth(depth - 1), self.truth(depth - 1));
                format!("({when} ? {then} : {})", self.truth(depth - 1))
            }
            _ => self.comparison(depth - 1),
        }
    }

    fn simple_truth(&mut self) -> String {
        match self.of(7) {
            0 => self.one(&["true", "false"]).to_owned(),
            1 => format!(
                "known({})",
                self.one(&["supply", "lead", "plate", "superheat"])
            ),
            2 => format!("lead == \"{}\"", self.one(&["plug", "cut", "bare"])),
            3 => format!("\"{}\" != lead", self.one(&["plug", "cut", "bare"])),
            4 => self
                .one(&["lead == end_found", "lead in [\"cut\", \"bare\"]"])
                .to_owned(),
            5 => format!(
                "\"{}\" in ice_pattern",
                self.one(&["top", "bottom", "even"])
            ),
            _ => self.comparison(0),
        }
    }

    fn comparison(&mut self, depth: u8) -> String {
        let kind = self.of(5);
        let (left, right) = (self.amount(kind, depth), self.amount(kind, depth));
        let how = self.one(&["<", "<=", ">", ">=", "==", "!="]);
        self.compared.push((left.clone(), right.clone()));
        format!("{left} {how} {right}")
    }

    /// An amount: 0 plain number, 1 voltage, 2 temperature, 3 temperature difference, 4 ratio.
    fn amount(&mut self, kind: usize, depth: u8) -> String {
        if depth == 0 {
            return self.simple_amount(kind);
        }
        let below = depth - 1;
        match (self.of(8), kind) {
            (0, _) => self.simple_amount(kind),
            (1, _) => {
                let when = self.truth(below);
                format!(
                    "({when} ? {} : {})",
                    self.amount(kind, below),
                    self.amount(kind, below)
                )
            }
            (2, _) => {
                let name = self.one(&["min", "max"]);
                format!(
                    "{name}({}, {})",
                    self.amount(kind, below),
                    self.amount(kind, below)
                )
            }
            (3, 2) => format!("({} + {})", self.amount(2, below), self.amount(3, below)),
            (4, 2) => format!("({} - {})", self.amount(2, below), self.amount(3, below)),
            (_, 2) => self.simple_amount(2),
            (3, 3) => format!("({} - {})", self.amount(2, below), self.amount(2, below)),
            (3, 0) => {
                // No divisor is zero: plain CEL would go on with an infinity.
                format!(
                    "({} / {})",
                    self.amount(1, below),
                    self.one(&["rated", "volt(0.5)"])
                )
            }
            (3 | 4, _) => format!(
                "({} - {})",
                self.amount(kind, below),
                self.amount(kind, below)
            ),
            (5, _) => format!(
                "({} + {})",
                self.amount(kind, below),
                self.amount(kind, below)
            ),
            (6, _) => format!("({} * {})", self.amount(0, below), self.amount(kind, below)),
            _ => match self.of(3) {
                0 => format!("abs({})", self.amount(kind, below)),
                1 => format!("(-{})", self.amount(kind, below)),
                _ => format!(
                    "({} / {})",
                    self.amount(kind, below),
                    self.number_but_zero()
                ),
            },
        }
    }

    fn simple_amount(&mut self, kind: usize) -> String {
        let number = self.number_but_zero();
        match (kind, self.of(3)) {
            (0, 0) => self.one(&["fans_dead", "fans_total", "factor"]).to_owned(),
            (0, _) => number,
            (1, 0) => self.one(&["supply", "rated"]).to_owned(),
            (1, 1) => "row(\"never_dead_voltage\")".to_owned(),
            (1, _) => format!("{}({number})", self.one(&["volt", "millivolt", "kilovolt"])),
            (2, 0) => self.one(&["box_temperature", "suction"]).to_owned(),
            (2, _) => format!("{}({number})", self.one(&["deg_f", "deg_c", "kelvin"])),
            (3, 0) => "superheat".to_owned(),
            (3, _) => format!("{}({number})", self.one(&["diff_f", "diff_k"])),
            (_, 0) => "tolerance".to_owned(),
            (_, _) => format!("{}({number})", self.one(&["percent", "ratio"])),
        }
    }

    fn number_but_zero(&mut self) -> String {
        let quarters = self.of(250) + 1;
        format!("{:?}", quarters as f64 / 4.0)
    }
}

/// Some facts are known, as `mask` says; no value is zero.
fn facts(mask: u16) -> Known {
    let all = Known::default()
        .measured("supply", "volt", 208.0)
        .measured("rated", "volt", 230.0)
        .measured("box_temperature", "deg_f", 38.0)
        .measured("suction", "deg_c", -2.5)
        .measured("superheat", "diff_f", 10.0)
        .measured("tolerance", "percent", 10.0)
        .number("fans_dead", 2.0)
        .number("fans_total", 3.0)
        .number("factor", 0.75)
        .word("lead", "cut")
        .word("end_found", "corroded")
        .words("ice_pattern", &["bottom", "even"]);
    let kept = all.0.into_iter().enumerate();
    let kept = kept.filter(|(place, _)| mask & (1 << place) != 0);
    Known(kept.map(|(_, fact)| fact).collect())
}

static ENVIRONMENT: LazyLock<Arc<Env>> = LazyLock::new(|| {
    let mut env = Env::stdlib();
    let known = Macro::global("known", 1, |helper, _target, args| {
        let name = match args.pop().map(|argument| argument.expr) {
            Some(Expr::Ident(name)) => name,
            _ => return Ok(None),
        };
        Ok(Some(helper.next_expr(Expr::Ident(format!("known_{name}")))))
    });
    env.add_macro(known).unwrap();
    Arc::new(env)
});

/// What the crate makes of the text; nothing where it has no value.
fn by_the_crate(source: &str, facts: &Known) -> Option<CelValue> {
    let program = ENVIRONMENT.compile(source).unwrap();
    let mut context = Context::with_env(Arc::clone(&ENVIRONMENT));
    for unit in UNITS {
        let (scale, offset) = (unit.scale, unit.offset);
        let to_si = move |value: f64| value * scale + offset;
        context.add_function(unit.literal, to_si).unwrap();
    }
    let row = |name: Arc<String>| rows::row(&name).unwrap().si;
    context.add_function("row", row).unwrap();
    context
        .add_function("abs", |value: f64| value.abs())
        .unwrap();
    context.add_function("min", cel::functions::min).unwrap();
    context.add_function("max", cel::functions::max).unwrap();
    for name in ["supply", "lead", "plate", "superheat"] {
        let known = facts.value(&FactName::from(name)).is_some();
        context.add_variable_from_value(format!("known_{name}"), known);
    }
    for (name, value) in &facts.0 {
        let value = match value.clone() {
            Value::Quantity(quantity) => CelValue::from(quantity.si),
            Value::Number(number) => CelValue::from(number),
            Value::Word(word) | Value::Text(word) => CelValue::from(word),
            Value::Words(words) => CelValue::from(words),
            Value::Quantities(_) => continue,
        };
        context.add_variable_from_value(name.as_str().to_owned(), value);
    }
    program.execute(&context).ok()
}

fn amount_by_the_crate(source: &str, facts: &Known) -> Option<f64> {
    match by_the_crate(source, facts) {
        Some(CelValue::Float(value)) => Some(value),
        _ => None,
    }
}

/// Whether two sides differ by rounding alone: there we call them equal on purpose.
fn differ_by_rounding(sides: &(String, String), facts: &Known) -> bool {
    let left = amount_by_the_crate(&sides.0, facts);
    let right = amount_by_the_crate(&sides.1, facts);
    match (left, right) {
        (Some(left), Some(right)) => left != right && nearly_equal(left, right),
        _ => false,
    }
}

/// The expression, unless it is larger than a flow may hold.
fn compiled(source: &str) -> Option<Expression> {
    match compile(source) {
        Ok(expression) => Some(expression),
        Err(faults) => {
            let size = ["operators", "brackets are open", "bytes"];
            let too_large = size.iter().any(|word| faults[0].wrong.contains(word));
            assert!(too_large, "{source}: {faults:?}");
            None
        }
    }
}

#[test]
fn both_agree_on_plain_cases() {
    let facts = facts(u16::MAX);
    for (source, expected) in [
        ("supply > volt(187.0) && lead == \"cut\"", true),
        ("known(plate) || \"top\" in ice_pattern", false),
        ("box_temperature - suction > diff_f(10.0)", true),
    ] {
        assert_eq!(
            by_the_crate(source, &facts),
            Some(CelValue::Bool(expected)),
            "{source}"
        );
        assert_eq!(
            compile(source).unwrap().holds(&facts),
            Ok(expected),
            "{source}"
        );
    }
}

proptest! {
    #![proptest_config(Config { cases: 512, ..Config::default() })]

    #[test]
    fn conditions_hold_as_in_the_crate(
        bytes in proptest::collection::vec(any::<u8>(), 0..80),
        mask in any::<u16>(),
    ) {
        let mut draw = Draw { bytes: bytes.iter(), compared: Vec::new() };
        let source = draw.truth(4);
        let known = facts(mask);
        let by_rounding = draw.compared.iter().any(|sides| differ_by_rounding(sides, &known));
        if let (Some(expression), false) = (compiled(&source), by_rounding) {
            match (expression.holds(&known), by_the_crate(&source, &known)) {
                (Ok(ours), theirs) => {
                    prop_assert_eq!(Some(CelValue::Bool(ours)), theirs, "{}", source);
                }
                (Err(Missing::Fact(_)), theirs) => prop_assert_eq!(None, theirs, "{}", source),
                (Err(other), _) => prop_assert!(false, "{}: {}", source, other),
            }
        }
    }

    #[test]
    fn amounts_come_out_as_in_the_crate(
        bytes in proptest::collection::vec(any::<u8>(), 0..80),
        kind in 0..5_usize,
        mask in any::<u16>(),
    ) {
        let mut draw = Draw { bytes: bytes.iter(), compared: Vec::new() };
        let source = draw.amount(kind, 4);
        let known = facts(mask);
        let by_rounding = draw.compared.iter().any(|sides| differ_by_rounding(sides, &known));
        if let (Some(expression), false) = (compiled(&source), by_rounding) {
            let ours = match expression.eval(&known) {
                Ok(Value::Number(number)) => Some(number),
                Ok(Value::Quantity(quantity)) => Some(quantity.si),
                Ok(other) => panic!("{source}: {other:?}"),
                Err(Missing::Fact(_)) => None,
                Err(other) => panic!("{source}: {other}"),
            };
            prop_assert_eq!(ours, amount_by_the_crate(&source, &known), "{}", source);
        }
    }
}
