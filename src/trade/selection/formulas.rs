//! The choice of a replacement as a named formula.

mod place;

use super::{Candidate, Origin, Outlook, Ranking, Verdict, rank};
use crate::trade::formula::{
    Arguments, CannotWorkOut, Confidence, Formula, Output, Results, TRUTH, Value, ValueType,
};
use crate::trade::goods::Goods;
use crate::trade::quantity::{Kind, Quantity};
use crate::trade::speed_book::Need;

/// More assemblies than this are counted, not listed.
const LISTED_MAX: usize = 10;

/// The named formulas of this topic.
pub(crate) const FORMULAS: &[Formula] = &[Formula {
    name: "choose_replacement",
    version: 2,
    about: "Which assembly on the truck fits this evaporator, with reasons, and its setting.",
    symbols: "hard rules, then the fan curve against the air path at each speed",
    source: "the crew's kit and speed book; fan laws, ANSI/AMCA 210; IEC 60529; rules of the \
             trade, common practice, no source",
    confidence: Confidence::CommonPractice,
    takes: place::TAKES,
    gives: &[
        Output::of(
            "verdict",
            ValueType::Word(Verdict::WORDS),
            "the best assembly's verdict",
        ),
        Output::of(
            "best",
            ValueType::Text,
            "key of the best assembly; absent if none fits",
        ),
        Output::of("title", ValueType::Text, "what it is called"),
        Output::of("setting", ValueType::Text, "setting to use"),
        Output::of(
            "speed",
            ValueType::Quantity(Kind::RotationalSpeed),
            "its speed, rpm",
        ),
        Output::of(
            "air_flow",
            ValueType::Quantity(Kind::AirFlow),
            "air of one fan at the setting, cfm; absent where it cannot be told",
        ),
        Output::of(
            "input",
            ValueType::Quantity(Kind::Power),
            "electrical input here, W",
        ),
        Output::of(
            "face_velocity",
            ValueType::Quantity(Kind::Velocity),
            "speed of the air over the coil, fpm; absent where it cannot be told",
        ),
        Output::of(
            "set_by",
            ValueType::Text,
            "how the speed is set, by its sheet",
        ),
        Output::of(
            "as_shipped",
            ValueType::Word(TRUTH),
            "whether it comes at this setting",
        ),
        Output::of("one_down", ValueType::Text, "what one step slower gives"),
        Output::of("one_up", ValueType::Text, "what one step faster gives"),
        Output::of(
            "settings",
            ValueType::Text,
            "every setting of it, slowest first, one a line",
        ),
        Output::of(
            "setting_speeds",
            ValueType::Quantities(Kind::RotationalSpeed),
            "the speed of each setting, rpm",
        ),
        Output::of(
            "setting_air_flows",
            ValueType::Quantities(Kind::AirFlow),
            "air of one fan at each setting on this coil, cfm; absent where it cannot be told",
        ),
        Output::of(
            "setting_inputs",
            ValueType::Quantities(Kind::Power),
            "electrical input at each setting here, W",
        ),
        Output::of(
            "drain",
            ValueType::Text,
            "which drain openings to open and close",
        ),
        Output::of("reasons", ValueType::Text, "what needs a person's eye"),
        Output::of(
            "needed",
            ValueType::Text,
            "what the fan needs and how that is known",
        ),
        Output::of(
            "needed_speed",
            ValueType::Quantity(Kind::RotationalSpeed),
            "the speed that it needs, rpm; absent where air is what is known",
        ),
        Output::of(
            "needed_air_flow",
            ValueType::Quantity(Kind::AirFlow),
            "the air that one fan needs, cfm; absent where a speed is what is known",
        ),
        Output::of(
            "needed_from",
            ValueType::Word(Origin::WORDS),
            "how the need is known",
        ),
        Output::of(
            "supervisor_hold",
            ValueType::Word(TRUTH),
            "whether a supervisor has to release it, as the need is a rule of thumb",
        ),
        Output::of(
            "ranking",
            ValueType::Text,
            "every assembly with its reasons, best first",
        ),
    ],
    run,
}];

fn run(arguments: &Arguments, goods: &Goods<'_>) -> Result<Results, CannotWorkOut> {
    let place = place::place(arguments)?;
    if goods.kit.assemblies().is_empty() {
        return Err(CannotWorkOut(
            "The kit is empty, so nothing can be chosen; read in the crew's kit first.".into(),
        ));
    }
    let ranking = rank(&place, goods)?;
    let text = |text: String| Value::Text(text);
    let word = |word: &str| Value::Word(word.to_owned());
    let truth = |truth: bool| word(if truth { "true" } else { "false" });
    let mut results = match ranking.best() {
        Some(best) => chosen(best, place.old.shaft),
        None => Results::default()
            .with("verdict", word(Verdict::DoesNotFit.word()))
            .say("Nothing on the truck fits this evaporator; stop and ask your supervisor."),
    };
    let needed = &ranking.needed;
    results = results.with("needed", text(needed.sentence()));
    results = match needed.need {
        Need::Speed(speed) => results.with_si("needed_speed", Kind::RotationalSpeed, speed.value),
        Need::AirFlow(flow) => results.with_si("needed_air_flow", Kind::AirFlow, flow.value),
    };
    results = results
        .with("needed_from", word(needed.origin.word()))
        .with("supervisor_hold", truth(needed.origin.needs_supervisor()))
        .with("ranking", text(listed(&ranking)));
    results.warnings.extend(needed.assumed.iter().cloned());
    if needed.origin.needs_supervisor() {
        results
            .warnings
            .push("A supervisor has to release this: a rule of thumb.".into());
    }
    Ok(results)
}

fn chosen(best: &Candidate<'_>, shaft: crate::trade::kit::ShaftPosition) -> Results {
    let text = |text: String| Value::Text(text);
    let mut results = Results::default()
        .with("verdict", Value::Word(best.verdict.word().to_owned()))
        .with("best", text(best.assembly.key.to_string()))
        .with("title", text(best.assembly.title.clone()));
    if let Some(settings) = &best.settings {
        let chosen = &settings.chosen;
        results = results
            .with("setting", text(chosen.setting.to_string()))
            .with_si("speed", Kind::RotationalSpeed, chosen.speed.value);
        if let Some(air) = chosen.air {
            results = results.with_si("air_flow", Kind::AirFlow, air.value);
        }
        results = results.with_si("input", Kind::Power, chosen.input.value);
        if let Some(velocity) = chosen.face_velocity {
            results = results.with_si("face_velocity", Kind::Velocity, velocity.value);
        }
        let step = |outlook: &Option<Outlook>, end: &str| {
            text(
                outlook
                    .as_ref()
                    .map_or_else(|| end.to_owned(), Outlook::sentence),
            )
        };
        let as_shipped = if settings.as_shipped { "true" } else { "false" };
        results = results
            .with("set_by", text(best.assembly.set_by.clone()))
            .with("as_shipped", Value::Word(as_shipped.to_owned()))
            .with(
                "one_down",
                step(&settings.down, "This is its slowest setting."),
            )
            .with("one_up", step(&settings.up, "This is its fastest setting."));
        results = all_settings(results, &settings.all);
    }
    results
        .with("drain", text(best.assembly.drain.sentence(shaft)))
        .with("reasons", text(words(best)))
        .say(sentence(best))
}

/// What each setting gives here, as lists of one length.
fn all_settings(results: Results, all: &[Outlook]) -> Results {
    let names: Vec<String> = all.iter().map(|one| one.setting.to_string()).collect();
    let list = |kind: Kind, si: Vec<f64>| {
        Value::Quantities(si.into_iter().map(|si| Quantity { kind, si }).collect())
    };
    let speeds = all.iter().map(|one| one.speed.value).collect();
    let inputs = all.iter().map(|one| one.input.value).collect();
    let air: Option<Vec<f64>> = all.iter().map(|one| Some(one.air?.value)).collect();
    let mut results = results
        .with("settings", Value::Text(names.join("\n")))
        .with("setting_speeds", list(Kind::RotationalSpeed, speeds));
    if let Some(air) = air {
        results = results.with("setting_air_flows", list(Kind::AirFlow, air));
    }
    results.with("setting_inputs", list(Kind::Power, inputs))
}

fn sentence(best: &Candidate<'_>) -> String {
    let title = &best.assembly.title;
    match &best.settings {
        Some(settings) => {
            format!(
                "{title} {}. {}",
                best.verdict.phrase(),
                settings.chosen.sentence()
            )
        }
        None => format!("{title} {}.", best.verdict.phrase()),
    }
}

fn words(candidate: &Candidate<'_>) -> String {
    let words: Vec<&str> = candidate
        .reasons
        .iter()
        .map(|reason| reason.words.as_str())
        .collect();
    words.join(" ")
}

fn listed(ranking: &Ranking<'_>) -> String {
    let mut lines: Vec<String> = ranking
        .candidates
        .iter()
        .take(LISTED_MAX)
        .map(|candidate| {
            let verdict = candidate.verdict.phrase();
            format!(
                "{} {verdict}. {}",
                candidate.assembly.title,
                words(candidate)
            )
            .trim_end()
            .to_owned()
        })
        .collect();
    if ranking.candidates.len() > LISTED_MAX {
        lines.push(format!(
            "and {} more.",
            ranking.candidates.len() - LISTED_MAX
        ));
    }
    lines.join("\n")
}
