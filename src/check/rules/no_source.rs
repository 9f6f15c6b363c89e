//! What protects people says where it comes from.

use super::super::finding::Grade;
use super::Rule;
use crate::flow::model::{Act, Danger, Step};

pub(super) const RULE: Rule = Rule {
    name: "no_source",
    grade: Grade::Advice,
    page: include_str!("../pages/no_source.md"),
    run: |rule, ground| {
        let bare = ground
            .places()
            .filter(|(_, step)| protects(step) && step.cite.is_empty());
        bare.map(|(place, step)| {
            let told = format!("`{}` has to do with safety and names no source.", step.name);
            let mend = "Add `cite:` with the paragraph, or `cite: common practice`.";
            ground.finding(rule, place.flow, step.at, (told, mend))
        })
        .collect()
    },
};

fn protects(step: &Step) -> bool {
    !matches!(step.danger, Danger::HandsOff)
        || !step.sets.is_empty()
        || step.duty.is_some()
        || step.caution.is_some() && !matches!(step.act, Act::Finish { .. })
        || matches!(
            step.act,
            Act::Hold { .. } | Act::ProveDead(_) | Act::Wait { safety: true, .. }
        )
}
