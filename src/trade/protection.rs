//! Protection classes: what an IP code promises, and what it does not.
//!
//! Source: IEC 60529, numerals; 9K by ISO 20653.

use std::fmt;

use super::formula::{
    Arguments, CannotWorkOut, Confidence, Formula, Output, Parameter, Results, ValueType,
};
use super::goods::Goods;
use super::worded::worded;

/// What the first numeral promises, 0 to 6.
const SOLIDS: [&str; 7] = [
    "nothing",
    "objects over 50 mm",
    "objects over 12.5 mm",
    "objects over 2.5 mm",
    "objects over 1 mm",
    "dust-protected",
    "dust-tight",
];

/// What the second numeral promises, 0 to 9.
const WATER: [&str; 10] = [
    "nothing",
    "vertical drops",
    "drops up to 15° from the vertical",
    "spray up to 60° from the vertical",
    "splashes from all directions",
    "water jets",
    "powerful water jets",
    "temporary immersion to 1 m",
    "continuous immersion as the maker states",
    "high-pressure hot jets from close by",
];

/// An IP code. A part may carry several second numerals, as in IP65/IP67.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct IpCode {
    /// The first numeral; `None` where the code says X: not stated.
    solids: Option<u8>,
    /// The second numerals; empty where the code says X.
    water: Vec<u8>,
}

worded! {
    /// Whether a code promises what a numeral asks.
    pub enum Promise {
        /// The code states or implies it.
        Implied = "implied",
        /// It does not.
        NotImplied = "not_implied",
        /// The code says X: nothing is stated.
        NotStated = "not_stated",
    }
}

impl IpCode {
    /// Reads a code such as `IP54`, `IPX5`, `IP65/IP67`, `IP65/67` or `IP69K`. Letters after
    /// the numerals are accepted and not judged.
    ///
    /// # Errors
    /// When the text is no IP code.
    pub fn parse(text: &str) -> Result<Self, CannotWorkOut> {
        let unknown = || {
            CannotWorkOut(format!(
                "{text} is not an IP code; write it like IP54, IPX5 or IP65/IP67."
            ))
        };
        let folded: String = text
            .chars()
            .filter(|c| !c.is_whitespace())
            .flat_map(char::to_uppercase)
            .collect();
        let body = folded.strip_prefix("IP").ok_or_else(unknown)?;
        let mut code = Self {
            solids: None,
            water: Vec::new(),
        };
        for part in body.split('/') {
            let part = part.strip_prefix("IP").unwrap_or(part);
            let mut signs = part.chars();
            let (first, second) = (signs.next(), signs.next());
            let solids = numeral(first, 6).ok_or_else(unknown)?;
            let water = numeral(second, 9).ok_or_else(unknown)?;
            let rest = signs.as_str();
            if rest.len() > 2 || !rest.chars().all(|c| "ABCDHMSWK".contains(c)) {
                return Err(unknown());
            }
            code.solids = code.solids.max(solids);
            code.water.extend(water);
        }
        code.water.sort_unstable();
        code.water.dedup();
        Ok(code)
    }

    /// The first numeral, if stated.
    pub fn solids(&self) -> Option<u8> {
        self.solids
    }

    /// The second numerals, lowest first; empty if not stated.
    pub fn water(&self) -> &[u8] {
        &self.water
    }

    /// What the first numeral promises, in words.
    pub fn solids_words(&self) -> &'static str {
        self.solids
            .and_then(|digit| SOLIDS.get(usize::from(digit)))
            .unwrap_or(&"not stated")
    }

    /// What the second numerals promise, in words.
    pub fn water_words(&self) -> String {
        let words: Vec<&str> = self
            .water
            .iter()
            .filter_map(|digit| WATER.get(usize::from(*digit)).copied())
            .collect();
        if words.is_empty() {
            "not stated".into()
        } else {
            words.join("; ")
        }
    }

    /// Whether the code keeps out solids as the first numeral `asked` does. The first numeral
    /// implies all lower ones.
    pub fn keeps_out_solids(&self, asked: u8) -> Promise {
        match self.solids {
            None if asked == 0 => Promise::Implied,
            None => Promise::NotStated,
            Some(stated) if stated >= asked => Promise::Implied,
            Some(_) => Promise::NotImplied,
        }
    }

    /// Whether the code keeps out water as the second numeral `asked` does.
    ///
    /// The second numeral implies the lower ones only up to 6: IP67 promises neither jets (5)
    /// nor powerful jets (6). 8 implies 7; 9 implies none of 5 to 8.
    pub fn keeps_out_water(&self, asked: u8) -> Promise {
        if asked == 0 {
            return Promise::Implied;
        }
        if self.water.is_empty() {
            return Promise::NotStated;
        }
        if self.water.iter().any(|stated| implies(*stated, asked)) {
            Promise::Implied
        } else {
            Promise::NotImplied
        }
    }

    /// Whether this code promises all that `old` does: the worse of the two numerals.
    pub fn covers(&self, old: &IpCode) -> Promise {
        let mut worst = self.keeps_out_solids(old.solids.unwrap_or(0));
        for asked in &old.water {
            worst = match (worst, self.keeps_out_water(*asked)) {
                (Promise::NotImplied, _) | (_, Promise::NotImplied) => Promise::NotImplied,
                (Promise::NotStated, _) | (_, Promise::NotStated) => Promise::NotStated,
                _ => Promise::Implied,
            };
        }
        worst
    }
}

impl fmt::Display for IpCode {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let first = self.solids.map_or("X".into(), |digit| digit.to_string());
        if self.water.is_empty() {
            return write!(f, "IP{first}X");
        }
        let codes: Vec<String> = self
            .water
            .iter()
            .map(|second| format!("IP{first}{second}"))
            .collect();
        f.write_str(&codes.join("/"))
    }
}

fn implies(stated: u8, asked: u8) -> bool {
    match stated {
        0..=6 => stated >= asked,
        7 | 8 => asked == stated || asked <= 4 || (stated == 8 && asked == 7),
        _ => asked == stated || asked <= 4,
    }
}

/// A numeral up to `most`, or X.
#[expect(
    clippy::option_option,
    reason = "no numeral at all, X, or a digit are three answers"
)]
fn numeral(sign: Option<char>, most: u32) -> Option<Option<u8>> {
    match sign? {
        'X' => Some(None),
        sign => {
            let digit = sign.to_digit(10).filter(|digit| *digit <= most)?;
            Some(u8::try_from(digit).ok())
        }
    }
}

const SOURCE: &str = "IEC 60529, numerals";

/// The formulas of this topic.
pub(crate) const FORMULAS: &[Formula] = &[
    Formula {
        name: "protection_class",
        version: 1,
        about: "What an IP code promises.",
        symbols: "table",
        source: SOURCE,
        confidence: Confidence::Seen,
        takes: &[Parameter::needed(
            "code",
            ValueType::Text,
            "as printed, like IP54",
        )],
        gives: &[
            Output::of("solids", ValueType::Text, "what it keeps out"),
            Output::of("water", ValueType::Text, "what water it withstands"),
        ],
        run: |arguments, _| {
            let code = IpCode::parse(arguments.word("code")?)?;
            Ok(Results::default()
                .with("solids", text(code.solids_words()))
                .with("water", text(&code.water_words())))
        },
    },
    Formula {
        name: "protection_covers",
        version: 1,
        about: "Whether a part's IP code promises all that another's does, digit by digit.",
        symbols: "each numeral; the second cumulative only up to 6",
        source: SOURCE,
        confidence: Confidence::Seen,
        takes: &[
            Parameter::needed("code", ValueType::Text, "the new part's code"),
            Parameter::needed("asked", ValueType::Text, "the old part's code"),
        ],
        gives: &[Output::of(
            "promise",
            ValueType::Word(Promise::WORDS),
            "the verdict",
        )],
        run: protection_covers,
    },
];

fn text(words: &str) -> super::formula::Value {
    super::formula::Value::Text(words.to_owned())
}

fn protection_covers(arguments: &Arguments, _: &Goods<'_>) -> Result<Results, CannotWorkOut> {
    let code = IpCode::parse(arguments.word("code")?)?;
    let asked = IpCode::parse(arguments.word("asked")?)?;
    let promise = code.covers(&asked);
    let sentence = match promise {
        Promise::Implied => format!("{code} covers {asked}."),
        Promise::NotImplied => format!("{code} does not promise all that {asked} does."),
        Promise::NotStated => format!("{code} leaves open what {asked} asks: ask the maker."),
    };
    Ok(Results::default()
        .put_word("promise", promise.word())
        .say(sentence))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn code(text: &str) -> IpCode {
        IpCode::parse(text).unwrap()
    }

    #[test]
    fn codes_read_as_printed() {
        for (given, shown) in [
            ("IP54", "IP54"),
            ("ip 54", "IP54"),
            ("IPX5", "IPX5"),
            ("IP2X", "IP2X"),
            ("IP65/IP67", "IP65/IP67"),
            ("IP65/67", "IP65/IP67"),
            ("IP69K", "IP69"),
            ("IP23CS", "IP23"),
        ] {
            assert_eq!(code(given).to_string(), shown);
        }
        for wrong in ["54", "IP", "IP7", "IP74", "IP5Y", "IP54ABC", "IP54/"] {
            assert!(IpCode::parse(wrong).is_err(), "{wrong}");
        }
    }

    #[test]
    fn immersion_does_not_imply_jets() {
        assert_eq!(code("IP67").keeps_out_water(5), Promise::NotImplied);
        assert_eq!(code("IP67").keeps_out_water(6), Promise::NotImplied);
        assert_eq!(code("IP68").keeps_out_water(7), Promise::Implied);
        assert_eq!(code("IP67").keeps_out_water(4), Promise::Implied);
        assert_eq!(code("IP66").keeps_out_water(5), Promise::Implied);
        assert_eq!(code("IP65/IP67").keeps_out_water(5), Promise::Implied);
        assert_eq!(code("IP69K").keeps_out_water(7), Promise::NotImplied);
    }

    #[test]
    fn a_replacement_is_judged_digit_by_digit() {
        assert_eq!(code("IP55").covers(&code("IP54")), Promise::Implied);
        assert_eq!(code("IP45").covers(&code("IP54")), Promise::NotImplied);
        assert_eq!(code("IP67").covers(&code("IP55")), Promise::NotImplied);
        assert_eq!(code("IPX5").covers(&code("IP54")), Promise::NotStated);
        assert_eq!(code("IP5X").covers(&code("IP54")), Promise::NotStated);
    }

    proptest! {
        #[test]
        fn any_text_is_a_code_or_a_refusal(text in ".{0,12}") {
            let _ = IpCode::parse(&text);
        }

        #[test]
        fn a_code_covers_itself(solids in 0_u8..=6, water in 0_u8..=9) {
            let code = code(&format!("IP{solids}{water}"));
            prop_assert_eq!(code.covers(&code), Promise::Implied);
        }
    }
}
