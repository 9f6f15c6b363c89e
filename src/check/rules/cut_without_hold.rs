//! Line-voltage leads are cut and joined by the licensed person only, behind their hold point.

use super::super::finding::Grade;
use super::super::flag::Flag;
use super::{Rule, flag_findings};
use crate::flow::model::{Act, Danger, Leads, Role, Step};

pub(super) const RULE: Rule = Rule {
    name: "cut_without_hold",
    grade: Grade::Error,
    page: include_str!("../pages/cut_without_hold.md"),
    run: |rule, ground| {
        let mut findings = flag_findings(
            rule,
            ground,
            &HELD,
            "cuts or joins leads without the electrician's hold point before it",
            "Put a `hold: electrician` before it on every way; other hands in between end it.",
        );
        for (place, step) in ground.places() {
            let Some(leads) = &step.leads else {
                continue;
            };
            if !is_electricians_hold(step) && !by_electrician_alone(step) {
                let told = format!(
                    "`{}` lets others than an electrician do licensed work.",
                    step.name
                );
                let mend = "Say `by: [electrician]`.";
                findings.push(ground.finding(rule, place.flow, leads.at, (told, mend)));
            }
        }
        findings
    },
};

/// The electrician has the work in hand: released by them, and nobody else has reached in since.
const HELD: Flag = Flag {
    says: ["the electrician has it in hand", "other hands went in"],
    at_first: false,
    sets: is_electricians_hold,
    clears: |step| matches!(step.danger, Danger::Touches(_)) && !by_electrician_alone(step),
    wants: |step| works_on_leads(step).then_some(true),
};

fn works_on_leads(step: &Step) -> bool {
    let leads = step.leads.as_ref().map(|leads| leads.it);
    matches!(leads, Some(Leads::Cut | Leads::Joined)) && !is_electricians_hold(step)
}

fn is_electricians_hold(step: &Step) -> bool {
    let electrician = Role::Electrician;
    matches!(step.act, Act::Hold { role, .. } if role == electrician)
}

fn by_electrician_alone(step: &Step) -> bool {
    step.by == [Role::Electrician]
}
