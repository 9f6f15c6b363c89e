//! What a group reads about a file that was posted there: a card, or what is wrong with it.

use teloxide::types::InlineKeyboardButton;

use super::group_words as words;
use super::links::Link;
use super::rich::{Rich, Style, TEXT_UNITS_MAX};
use super::screen::{Rows, button};
use super::token::{SharedPress, Token};
use crate::check::{Finding, Grade};
use crate::desk::shared_flows::FlowCard;
use crate::desk::shared_goods::GoodsCard;
use crate::desk::who_walks::Walked;
use crate::flow::difference::Difference;

/// So many differences, or pieces of advice, stand on a card.
const SHOWN_ON_CARD: usize = 4;

/// So many names of a list stand on a card.
const NAMES_ON_CARD: usize = 8;

/// Room for what is said after a list that does not fit.
const ROOM_BELOW: usize = 200;

/// The letters of one line at most.
const LINE_UNITS_MAX: usize = 500;

/// A flow that somebody posted.
pub(super) fn flow(card: &FlowCard) -> Rich {
    let mut rich = Rich::default();
    rich.push(Style::Bold, &card.title);
    rich.line(Style::Plain, &words::steps_by(card.steps, &card.by.name));
    rich.line(Style::Plain, &words::edition(&card.edition));
    if let Some(edition) = &card.from_edition {
        rich.line(Style::Plain, &words::taken_over(edition));
    }
    if card.is_published {
        rich.paragraph(Style::Plain, words::IS_PUBLISHED);
    } else if card.is_new {
        rich.paragraph(Style::Plain, words::IS_NEW);
    } else {
        rich.paragraph(Style::Plain, &how_much_differs(&card.differences));
        lines(&mut rich, card.differences.iter().map(difference));
    }
    if !card.advice.is_empty() {
        rich.paragraph(Style::Plain, &words::advice(card.advice.len()));
        lines(&mut rich, card.advice.iter().map(advice));
    }
    if !card.is_published {
        rich.paragraph(Style::Plain, words::UNTIL_PUBLISHED);
    }
    rich
}

/// The buttons under it. A bot cannot begin a private chat, so trying is a link.
pub(super) fn flow_buttons(card: &FlowCard, bot: Option<&str>) -> Rows {
    let press = |label: &str, press| vec![button(label, Token::Shared(press, card.mark))];
    let mut rows = Rows::new();
    let link = bot.map(|bot| Link::Try(card.mark).address(bot));
    if let Some(Ok(link)) = link.map(|link| link.parse()) {
        rows.push(vec![InlineKeyboardButton::url(words::TRY_IT, link)]);
    }
    if !card.is_published {
        rows.push(press(words::PUBLISH, SharedPress::Take));
    }
    if !card.is_new && !card.is_published {
        rows.push(press(words::CHANGES, SharedPress::Changes));
    }
    if !card.is_new {
        rows.push(press(words::WHO_USES, SharedPress::Who));
    }
    rows
}

/// A kit or speed book that somebody posted.
pub(super) fn goods(card: &GoodsCard) -> Rich {
    let mut rich = Rich::default();
    rich.push(Style::Bold, &card.name);
    let by = words::rows_by(card.which, card.rows, &card.by.name);
    rich.line(Style::Plain, &by);
    if card.is_from_others {
        rich.line(Style::Plain, words::GOODS_TAKEN_OVER);
    }
    if card.is_in_use {
        rich.paragraph(Style::Plain, &words::is_in_use(card.which));
        return rich;
    }
    let lists = [
        ("New", &card.added),
        ("Changed", &card.changed),
        ("Gone", &card.gone),
    ];
    for (what, names) in lists.into_iter().filter(|(_, names)| !names.is_empty()) {
        let shown: Vec<&str> = names
            .iter()
            .take(NAMES_ON_CARD)
            .map(String::as_str)
            .collect();
        let mut line = format!("{what}: {}", shown.join(", "));
        if names.len() > shown.len() {
            line.push_str(&format!(", {}", words::more(names.len() - shown.len())));
        }
        rich.paragraph(Style::Plain, &line);
    }
    rich
}

pub(super) fn goods_buttons(card: &GoodsCard) -> Rows {
    if card.is_in_use {
        return Rows::new();
    }
    let take = Token::Shared(SharedPress::Take, card.mark);
    vec![vec![button(&words::take(card.which), take)]]
}

/// What the checker found, the worst first, in one message.
pub(super) fn faulty(findings: &[Finding]) -> Rich {
    let errors = findings.iter().filter(|it| it.grade == Grade::Error);
    let mut rich = Rich::default();
    rich.push(Style::Bold, &words::errors(errors.count()));
    all_that_fit(&mut rich, findings.iter().map(finding));
    rich.paragraph(Style::Plain, words::MEND);
    rich
}

/// Everything that differs from what the crew walks, in one message.
pub(super) fn changes(card: &FlowCard) -> Rich {
    let mut rich = Rich::default();
    rich.push(Style::Bold, &card.title);
    rich.line(Style::Plain, &words::edition(&card.edition));
    rich.paragraph(Style::Plain, &how_much_differs(&card.differences));
    all_that_fit(&mut rich, card.differences.iter().map(difference));
    rich
}

/// Who walks what, in one message.
pub(super) fn walked(all: &[Walked], none: &str) -> Rich {
    let mut rich = Rich::default();
    let mut left = 0;
    for walked in all {
        let edition = words::edition_walked(&walked.edition, walked.is_of_today);
        if rich.units() + LINE_UNITS_MAX + ROOM_BELOW > TEXT_UNITS_MAX {
            left += walked.jobs.len();
            continue;
        }
        rich.paragraph(Style::Bold, &walked.title);
        rich.line(Style::Plain, &edition);
        for job in &walked.jobs {
            let line = format!("· {} — {}", job.evaporator.line(), job.holder.name);
            if rich.units() + line.encode_utf16().count() + ROOM_BELOW > TEXT_UNITS_MAX {
                left += 1;
            } else {
                rich.line(Style::Plain, &line);
            }
        }
    }
    if all.is_empty() {
        rich.push(Style::Plain, none);
    }
    if left > 0 {
        rich.paragraph(Style::Plain, &words::more(left));
    }
    rich
}

fn how_much_differs(differences: &[Difference]) -> String {
    let safety = differences.iter().filter(|it| it.safety).count();
    match differences.len() {
        0 => words::NOTHING_DIFFERS.to_owned(),
        count => words::differs(count, safety),
    }
}

/// The first few of a list, and how many more there are.
fn lines(rich: &mut Rich, mut all: impl ExactSizeIterator<Item = String>) {
    for line in all.by_ref().take(SHOWN_ON_CARD) {
        rich.line(Style::Plain, &shortened(&line));
    }
    if all.len() > 0 {
        rich.line(Style::Plain, &words::more(all.len()));
    }
}

/// As many of a list as one message holds, and how many more there are.
fn all_that_fit(rich: &mut Rich, all: impl ExactSizeIterator<Item = String>) {
    let mut left = 0;
    for line in all {
        let line = shortened(&line);
        let is_full = rich.units() + line.encode_utf16().count() + ROOM_BELOW > TEXT_UNITS_MAX;
        if is_full || left > 0 {
            left += 1;
        } else {
            rich.paragraph(Style::Plain, &line);
        }
    }
    if left > 0 {
        rich.paragraph(Style::Plain, &words::more(left));
    }
}

fn shortened(line: &str) -> String {
    super::rich::beginning(line, LINE_UNITS_MAX)
}

fn difference(difference: &Difference) -> String {
    let mark = if difference.safety { "❗" } else { "·" };
    format!("{mark} {difference}")
}

fn advice(finding: &Finding) -> String {
    format!(
        "· Line {}: {} {}",
        finding.line, finding.wrong, finding.mend
    )
}

fn finding(finding: &Finding) -> String {
    let mark = match finding.grade {
        Grade::Error => "❗",
        Grade::Advice => "·",
    };
    let place = format!("{}, line {}", finding.file, finding.line);
    let walk = finding.walk_in_short();
    let walk = walk.map_or(String::new(), |walk| format!("\n{walk}"));
    format!("{mark} {place}: {} {}{walk}", finding.wrong, finding.mend)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn error(line: u32, wrong: &str) -> Finding {
        Finding {
            name: "unknown-step",
            grade: Grade::Error,
            file: "look.yaml".to_owned(),
            line,
            column: 3,
            wrong: wrong.to_owned(),
            why: String::new(),
            mend: "Name a step.".to_owned(),
            walk: Vec::new(),
        }
    }

    #[test]
    fn as_many_findings_are_told_as_fit_and_the_rest_are_counted() {
        let few = faulty(&[error(4, "There is no step."), error(9, "Nor here.")]);
        assert_eq!(
            few.parts(TEXT_UNITS_MAX).join(""),
            "<b>This flow cannot be used yet: the checker found 2 errors.</b>\n\n\
             ❗ look.yaml, line 4: There is no step. Name a step.\n\n\
             ❗ look.yaml, line 9: Nor here. Name a step.\n\n\
             Mend the file and post it again."
        );
        let many: Vec<Finding> = (0..60).map(|line| error(line, &"x".repeat(300))).collect();
        let many = faulty(&many);
        let parts = many.parts(TEXT_UNITS_MAX);
        assert_eq!(parts.len(), 1, "one message");
        let shown = parts[0].matches('❗').count();
        assert!(parts[0].contains(&words::more(60 - shown)));
    }
}
