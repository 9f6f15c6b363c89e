//! Every screen fits into one message of every channel, with the longest values filled in.

use super::super::finding::Grade;
use super::super::ground::{Ground, Place};
use super::Rule;
use crate::flow::model::{Act, FactType, Step};

pub(super) const RULE: Rule = Rule {
    name: "message_too_long",
    grade: Grade::Error,
    page: include_str!("../pages/message_too_long.md"),
    run: |rule, ground| {
        let mut findings = Vec::new();
        for (place, step) in ground.places() {
            for (wrong, mend) in [too_long(step), long_button(ground, place, step)]
                .into_iter()
                .flatten()
            {
                findings.push(ground.finding(rule, place.flow, step.at, (wrong, mend)));
            }
        }
        findings
    },
};

/// The most UTF-16 units of a message and under a picture, by the Bot API
/// (core.telegram.org/bots/api: `sendMessage`, `sendPhoto`).
const TEXT_MAX: usize = 4096;
const CAPTION_MAX: usize = 1024;
/// Room for what the engine adds: the title, what was recorded, who is needed.
const ADDED: usize = 500;
const CAPTION_ADDED: usize = 200;
/// The most characters of a button; longer ones are cut on a phone: common practice, no source.
const BUTTON_MAX: usize = 60;

fn units(text: &str) -> usize {
    text.encode_utf16().count()
}

fn too_long(step: &Step) -> Option<(String, &'static str)> {
    let caution = step
        .caution
        .as_ref()
        .map_or(0, |text| units(&text.longest()));
    let long = caution + units(&step.say.longest());
    let most = if step.picture.is_some() {
        CAPTION_MAX - CAPTION_ADDED
    } else {
        TEXT_MAX - ADDED
    };
    (long > most).then(|| {
        let told = format!(
            "The screen of `{}` can have {long} characters; {most} fit.",
            step.name
        );
        (
            told,
            "Say less here, make it two steps, or bound the texts that it shows.",
        )
    })
}

fn long_button(ground: &Ground<'_>, place: Place, step: &Step) -> Option<(String, &'static str)> {
    let flow = ground.flow(place.flow).flow;
    let labels: Vec<&str> = match &step.act {
        Act::Tell { button } | Act::Confirm { button } => vec![button],
        Act::Hold { release, .. } => vec![release],
        Act::Choose { fact } => match flow.facts.get(fact).map(|fact| &fact.holds) {
            Some(FactType::OneOf(choices) | FactType::SomeOf(choices)) => {
                choices.values().map(String::as_str).collect()
            }
            _ => Vec::new(),
        },
        _ => Vec::new(),
    };
    let long = labels.into_iter().find(|label| units(label) > BUTTON_MAX)?;
    let told = format!(
        "The button “{long}” of `{}` has {} characters; {BUTTON_MAX} fit on a phone.",
        step.name,
        units(long)
    );
    Some((told, "Say it shorter."))
}
