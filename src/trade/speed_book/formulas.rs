//! Looking into the speed book as a named formula.

use super::{Found, Need};
use crate::trade::formula::{
    Arguments, CannotWorkOut, Confidence, Formula, Output, Parameter, Results, Value, ValueType,
};
use crate::trade::goods::Goods;
use crate::trade::quantity::Kind;

const SOURCES: &[&str] = &["equipment_label", "literature", "measured", "finished_job"];

/// The named formulas of this topic.
pub(crate) const FORMULAS: &[Formula] = &[Formula {
    name: "speed_book_row",
    version: 1,
    about: "What the crew's speed book says about an evaporator model.",
    symbols: "table",
    source: "the crew's own speed book",
    confidence: Confidence::CommonPractice,
    takes: &[Parameter::needed(
        "model",
        ValueType::Text,
        "the model, as on the nameplate",
    )],
    gives: &[
        Output::of(
            "found",
            ValueType::Word(&["exactly", "near", "nothing"]),
            "whether the model is in the book",
        ),
        Output::of(
            "speed",
            ValueType::Quantity(Kind::RotationalSpeed),
            "speed that its fan needs, where the row has one",
        ),
        Output::of(
            "air_flow",
            ValueType::Quantity(Kind::AirFlow),
            "air flow that one fan needs, where the row has one",
        ),
        Output::of("from", ValueType::Word(SOURCES), "where the row came from"),
        Output::of(
            "noted",
            ValueType::Text,
            "more about where the row came from",
        ),
        Output::of(
            "suggestions",
            ValueType::Text,
            "models that may have been meant",
        ),
    ],
    run,
}];

fn run(arguments: &Arguments, goods: &Goods<'_>) -> Result<Results, CannotWorkOut> {
    let typed = arguments.word("model")?;
    let found = goods.speed_book.look_up(typed);
    let word = |word: &str| Value::Word(word.to_owned());
    let results = Results::default();
    Ok(match &found {
        Found::Exactly(row) => {
            let results = results.with("found", word("exactly"));
            let results = match row.need {
                Need::Speed(speed) => results.with_si("speed", Kind::RotationalSpeed, speed.value),
                Need::AirFlow(flow) => results.with_si("air_flow", Kind::AirFlow, flow.value),
            };
            results
                .with("from", word(row.source.word()))
                .with("noted", Value::Text(row.noted.clone()))
        }
        Found::Near(rows) => {
            let models: Vec<&str> = rows.iter().map(|row| row.model.as_str()).collect();
            let results = results.with("found", word("near"));
            say(
                results.with("suggestions", Value::Text(models.join(", "))),
                &found,
                typed,
            )
        }
        Found::Nothing => say(results.with("found", word("nothing")), &found, typed),
    })
}

fn say(results: Results, found: &Found<'_>, typed: &str) -> Results {
    match found.sentence(typed) {
        Some(sentence) => results.say(sentence),
        None => results,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::trade::speed_book::RowSource;

    #[test]
    fn the_words_of_the_sources_are_those_of_the_file() {
        let words: Vec<&str> = RowSource::WORDS.iter().map(|(word, _)| *word).collect();
        assert_eq!(words, SOURCES);
    }
}
