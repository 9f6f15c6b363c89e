//! Looking into the speed book as a named formula.

use super::{FinishedJob, Found, Need, ProposedRow};
use crate::trade::formula::{
    Arguments, CannotWorkOut, Confidence, Formula, Output, Parameter, Results, Value, ValueType,
};
use crate::trade::goods::Goods;
use crate::trade::quantity::Kind;

const SOURCES: &[&str] = &["equipment_label", "literature", "measured", "finished_job"];

/// The named formulas of this topic.
pub(crate) const FORMULAS: &[Formula] = &[ROW, PROPOSAL];

const PROPOSAL: Formula = Formula {
    name: PROPOSES,
    version: 1,
    about: "The row that a finished job proposes for the crew's speed book.",
    symbols: "measured air of one fan, else measured speed, else the speed of the setting",
    source: "this job's own readings",
    confidence: Confidence::Computed,
    takes: &[
        Parameter::needed(
            "model",
            ValueType::Text,
            "the evaporator's model, as on the nameplate",
        ),
        Parameter::needed(
            "set_speed",
            ValueType::Quantity(Kind::RotationalSpeed),
            "speed of the setting by the sheet, rpm",
        ),
        Parameter::optional(
            "measured_speed",
            ValueType::Quantity(Kind::RotationalSpeed),
            "the speed of the setting counts",
            "speed by tachometer, rpm",
        ),
        Parameter::optional(
            "air_flow",
            ValueType::Quantity(Kind::AirFlow),
            "the speed is what the row says",
            "measured air of one fan, cfm",
        ),
        Parameter::optional(
            "static_pressure",
            ValueType::Quantity(Kind::Pressure),
            "not noted",
            "measured static pressure",
        ),
        Parameter::needed(
            "blade_diameter",
            ValueType::Quantity(Kind::Length),
            "diameter of the blade, in",
        ),
    ],
    gives: &[
        Output::of(
            "news",
            ValueType::Word(&["new", "differs", "same"]),
            "whether the book lacks the model, says something else, or says the same",
        ),
        Output::of("row", ValueType::Text, "the row and what the book says now"),
    ],
    run: propose,
};

/// The formula whose result a finished job proposes for the speed book.
pub const PROPOSES: &str = "speed_book_proposal";

const ROW: Formula = Formula {
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
};

fn propose(arguments: &Arguments, goods: &Goods<'_>) -> Result<Results, CannotWorkOut> {
    let job = FinishedJob::of(arguments, "this job".to_owned())?;
    let proposed = ProposedRow::from_job(&job, goods.speed_book)?;
    let (news, said) = if proposed.is_known() {
        ("same", "The speed book says as much already.".to_owned())
    } else {
        let news = if proposed.instead_of.is_some() {
            "differs"
        } else {
            "new"
        };
        (news, format!("For the speed book: {}", proposed.sentence()))
    };
    Ok(Results::default()
        .with("news", Value::Word(news.to_owned()))
        .with("row", Value::Text(proposed.sentence()))
        .say(said))
}

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
