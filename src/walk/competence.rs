//! What somebody must have shown before they may answer a step.
//!
//! Whoever lacks it may be helped like an apprentice: somebody who has it stands beside them, from
//! their own account.

use jiff::Timestamp;

use super::draft::Draft;
use super::prompt::{Note, Prompt, Tone};
use super::refusal::Refusal;
use super::show::Screen;
use crate::flow::model::{Act, Flow, Role, Step};
use crate::flow::name::CompetenceName;
use crate::record::entry::{SignOff, What};

/// What a step needs that none of these sign-offs says.
pub(super) fn lacking<'s>(
    step: &'s Step,
    shown: &[SignOff],
    now: Timestamp,
) -> Vec<&'s CompetenceName> {
    let counts = |name: &CompetenceName| {
        let mut signed = shown.iter();
        signed.any(|signed| signed.competence == *name && signed.counts_at(now))
    };
    let needed = step.needs_shown.iter().map(|name| &name.it);
    needed.filter(|name| !counts(name)).collect()
}

/// What people call these.
pub(super) fn labels(flow: &Flow, names: &[&CompetenceName]) -> Vec<String> {
    let label = |name: &&CompetenceName| {
        let declared = flow.competences.get(*name);
        declared.map_or_else(|| name.to_string(), |declared| declared.label.clone())
    };
    names.iter().map(label).collect()
}

/// The roles of whoever may stand beside somebody at this step: those who may answer it, but no
/// apprentice. Where anybody may answer, they are to have shown what the step needs. A hold point
/// is released by a person of its role alone; and whoever parts or joins line-voltage leads has
/// the job in their own hands, under their own lock and proof.
pub(super) fn beside_roles(step: &Step) -> Vec<Role> {
    if matches!(step.act, Act::Hold { .. }) || step.leads.is_some() {
        return Vec::new();
    }
    let mut roles = step.by.clone();
    if roles.is_empty() && !step.needs_shown.is_empty() {
        roles.extend(Role::ALL);
    }
    roles.retain(|role| *role != Role::Apprentice);
    roles
}

/// What this viewer would have to have shown to answer here, or to help.
pub(super) fn tell_lacking(screen: &Screen<'_>, prompt: &mut Prompt, (flow, step): (&Flow, &Step)) {
    let is_helped = screen.is_holder() && screen.state.doing.beside.is_some();
    let lacking = lacking(step, screen.viewer.shown, screen.now);
    if lacking.is_empty() || is_helped {
        return;
    }
    if screen.is_holder() || step.by.iter().any(|role| screen.has_role(*role)) {
        let labels = labels(flow, &lacking).join(", ");
        prompt.notes.push(Note {
            tone: Tone::Warning,
            text: format!("This step is for somebody who has shown: {labels}. You have not."),
        });
    }
    prompt.lacks = lacking.into_iter().cloned().collect();
}

/// Nobody cuts or joins leads on the account of somebody else.
pub(super) fn tell_to_hand_over(screen: &Screen<'_>, prompt: &mut Prompt, step: &Step) {
    if step.leads.is_none() {
        return;
    }
    let text = match screen.is_holder() {
        true => {
            "Hands off the leads. Hand the job over: whoever is licensed takes it, hangs their own \
             lock and proves for themselves."
        }
        false => "The job is handed over here to whoever is licensed for these leads.",
    };
    prompt.notes.push(Note {
        tone: Tone::Warning,
        text: text.to_owned(),
    });
}

impl Draft<'_> {
    /// The person who acts has shown what the step needs, and that is written down with what
    /// follows from it.
    pub(super) fn stand_on_sign_offs(&mut self, flow: &Flow, step: &Step) -> Result<(), Refusal> {
        let who = self.who()?;
        let lacking = lacking(step, self.context.shown, self.context.now);
        if !lacking.is_empty() {
            return Err(Refusal::NeedsShown(labels(flow, &lacking)));
        }
        if step.needs_shown.is_empty() || self.state.doing.stood_on.contains(&who) {
            return Ok(());
        }
        let (now, shown) = (self.context.now, self.context.shown.iter());
        let counts = |signed: &&SignOff| {
            let mut needed = step.needs_shown.iter();
            signed.counts_at(now) && needed.any(|name| name.it == signed.competence)
        };
        self.push(What::StoodOn {
            step: step.name.clone(),
            sign_offs: shown.filter(counts).cloned().collect(),
        });
        Ok(())
    }
}
