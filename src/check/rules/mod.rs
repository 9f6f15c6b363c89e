//! The rules, one a file, and the page of each.

mod answer_never_used;
mod answer_not_held;
mod answer_says_nothing;
mod blocked_before_it_stands;
mod branch_gap;
mod branch_never_taken;
mod branch_overlap;
mod cannot_finish;
mod charge_not_looked_at_again;
mod charge_tested_before_its_wait;
mod charge_wait_too_short;
mod closed_under_a_lock;
mod closed_without_opening;
mod competence_called_otherwise;
mod competence_never_needed;
mod cut_without_hold;
mod drained_without_wait;
mod driven_while_blocked;
mod ends_with_locks_on;
mod fed_by_nothing;
mod hard_to_read;
mod hazard_without_caution;
mod joined_without_release;
mod languages_differ;
mod left_switched_off;
mod licensed_work_unnamed;
mod limit_too_wide;
mod live_test_unguarded;
mod loading;
mod lock_by_another;
mod locked_before_opened;
mod locked_out_of_order;
mod long_with_hands_in;
mod loop_without_input;
mod message_too_long;
mod no_source;
mod picture_never_shown;
mod points_incomplete;
mod presence_can_change;
mod proof_out_of_reach;
mod proved_before_locked;
mod restored_out_of_order;
mod source_left_out;
mod touched_before_proved;
mod two_actions;
mod unlocked_without_lock;
mod unreachable_step;
mod used_before_answered;

use super::energy::{Danger, Fault};
use super::finding::{Finding, Grade};
use super::flag::{self, Flag};
use super::ground::{Ground, Place};
use super::line;
use crate::flow::model::{Act, Step};

/// One rule of the checker.
pub(super) struct Rule {
    /// The name of its findings.
    pub(super) name: &'static str,
    /// The grade of its findings.
    pub(super) grade: Grade,
    /// Its page, Markdown with fixed headings.
    pub(super) page: &'static str,
    /// Finds.
    pub(super) run: fn(&Rule, &Ground<'_>) -> Vec<Finding>,
}

/// Every rule, in the order in which they matter.
pub(super) const RULES: &[Rule] = &[
    touched_before_proved::RULE,
    source_left_out::RULE,
    fed_by_nothing::RULE,
    proved_before_locked::RULE,
    locked_before_opened::RULE,
    charge_tested_before_its_wait::RULE,
    charge_wait_too_short::RULE,
    charge_not_looked_at_again::RULE,
    blocked_before_it_stands::RULE,
    unlocked_without_lock::RULE,
    lock_by_another::RULE,
    closed_under_a_lock::RULE,
    closed_without_opening::RULE,
    driven_while_blocked::RULE,
    ends_with_locks_on::RULE,
    left_switched_off::RULE,
    locked_out_of_order::RULE,
    restored_out_of_order::RULE,
    drained_without_wait::RULE,
    points_incomplete::RULE,
    limit_too_wide::RULE,
    live_test_unguarded::RULE,
    cut_without_hold::RULE,
    joined_without_release::RULE,
    licensed_work_unnamed::RULE,
    answer_not_held::RULE,
    competence_called_otherwise::RULE,
    unreachable_step::RULE,
    cannot_finish::RULE,
    loop_without_input::RULE,
    used_before_answered::RULE,
    proof_out_of_reach::RULE,
    presence_can_change::RULE,
    message_too_long::RULE,
    branch_gap::RULE,
    branch_never_taken::RULE,
    no_source::RULE,
    hazard_without_caution::RULE,
    answer_says_nothing::RULE,
    hard_to_read::RULE,
    branch_overlap::RULE,
    long_with_hands_in::RULE,
    answer_never_used::RULE,
    competence_never_needed::RULE,
    two_actions::RULE,
    languages_differ::RULE,
    picture_never_shown::RULE,
    loading::UNREADABLE,
    loading::LANGUAGE,
    loading::BINDING,
    loading::PICTURE,
];

/// The page of one finding name.
#[derive(Clone, Copy, Debug)]
pub struct Page {
    /// The name.
    pub name: &'static str,
    /// The grade.
    pub grade: Grade,
    /// The text, Markdown.
    pub text: &'static str,
}

impl Page {
    fn of(rule: &Rule) -> Self {
        Self {
            name: rule.name,
            grade: rule.grade,
            text: rule.page,
        }
    }

    /// What stands under a heading, without space around it.
    pub fn under(&self, heading: &str) -> Option<&'static str> {
        let (_, from) = self.text.split_once(&format!("\n## {heading}\n"))?;
        let end = from.find("\n## ").unwrap_or(from.len());
        from.get(..end).map(str::trim)
    }
}

/// All pages, in the order in which the rules matter.
pub fn pages() -> impl Iterator<Item = Page> {
    RULES.iter().map(Page::of)
}

/// The page of a finding name.
pub fn page(name: &str) -> Option<Page> {
    pages().find(|page| page.name == name)
}

/// Why findings of this name matter: the paragraph of its page.
pub(super) fn why(name: &str) -> String {
    let why = page(name).and_then(|page| page.under("Why"));
    why.unwrap_or_default().replace('\n', " ")
}

/// The findings of one fault of energy sources.
fn energy_findings(
    rule: &Rule,
    ground: &Ground<'_>,
    fault: Fault,
    tell: impl Fn(&Danger, &Step) -> (String, String),
) -> Vec<Finding> {
    let dangers = ground.dangers().iter().filter(|it| it.fault == fault);
    dangers
        .map(|danger| {
            let step = ground.step(danger.at);
            let told = tell(danger, step);
            let mut finding = ground.finding(rule, danger.at.flow, step.at, told);
            finding.walk.clone_from(&danger.walk);
            finding
        })
        .collect()
}

/// The findings of one flag: `NAME does`, with the shortest walk.
fn flag_findings(
    rule: &Rule,
    ground: &Ground<'_>,
    flag: &Flag,
    does: &str,
    mend: &str,
) -> Vec<Finding> {
    let wrong = flag::solve(ground, flag);
    wrong
        .into_iter()
        .map(|wrong| {
            let step = ground.step(wrong.at);
            let told = format!("`{}` {does}.", step.name);
            let mut finding = ground.finding(rule, wrong.at.flow, step.at, (told, mend));
            finding.walk = wrong.walk;
            finding
        })
        .collect()
}

/// A shorter wait than this gives no charge its time, seconds: common practice, no source.
const SAFETY_WAIT_LEAST: f64 = 20.0;

/// Whether this is a wait that begins again after a restart, and is long enough to mean anything.
fn is_safety_wait(step: &Step) -> bool {
    match &step.act {
        Act::Wait { long, safety: true } => {
            line::constant(long).is_none_or(|seconds| seconds >= SAFETY_WAIT_LEAST)
        }
        _ => false,
    }
}

/// The outcomes that the branches of a `run` step may ask for.
fn outcomes_of<'a>(ground: &Ground<'a>, place: Place) -> Vec<&'a str> {
    let run = ground.flow(place.flow).runs[place.step];
    let names = run.map(|run| ground.flow(run).flow.outcomes.keys());
    names.into_iter().flatten().map(|it| it.as_str()).collect()
}
