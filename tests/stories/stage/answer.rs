//! The holder answers as the script says.

use fanwright::flow::model::Act;
use fanwright::walk::input::Input;
use fanwright::walk::prompt::{Action, Ask, Button};

use super::super::script::Script;
use super::super::way::{Deed, Way};
use super::{Place, Stage, act_of};

impl<W: Way> Stage<W> {
    /// The holder answers the screen at hand as the script says.
    pub(crate) async fn answer(&mut self, script: &Script, place: &Place) {
        let state = self.state().await;
        let name = self.holder_of(&state);
        let screen = self.screen(&name).await;
        self.told.screen(&screen, self.now());
        let revision = screen.prompt.revision;
        let proof_part = is_proof(place).then_some(state.doing.proof.len());
        let scripted = self.scripted(script, place, proof_part);
        match &screen.prompt.ask {
            Ask::Press(buttons) => {
                let wanted = scripted.or(proof_choice(&screen.prompt.say));
                let button = self.wanted(buttons, wanted, place);
                let (key, words) = (button.key.clone(), format!("[{}]", button.label));
                self.give(&name, &words, Input::Press { revision, key })
                    .await;
            }
            Ask::Tick { options, .. } => {
                let wanted: Vec<&str> = scripted.unwrap_or_default().split_whitespace().collect();
                let chosen = options.iter().filter(|b| wanted.contains(&b.key.as_str()));
                let (keys, labels): (Vec<_>, Vec<_>) =
                    chosen.map(|b| (b.key.clone(), b.label.clone())).unzip();
                assert_eq!(keys.len(), wanted.len(), "{}/{}", place.flow, place.step);
                let words = format!("[{}]", labels.join("] ["));
                self.give(&name, &words, Input::Tick { revision, keys })
                    .await;
            }
            Ask::Reading { example, .. } => {
                let typed = match (scripted, proof_part) {
                    (Some(answer), _) => answer.to_owned(),
                    (None, Some(_)) => proof_reading(&screen.prompt.say).to_owned(),
                    (None, None) => example.clone(),
                };
                self.give(&name, &typed, Input::Text(typed.clone())).await;
            }
            Ask::Words { .. } => {
                let typed = scripted.unwrap_or("Noted by hand").to_owned();
                self.give(&name, &typed, Input::Text(typed.clone())).await;
            }
            Ask::Photo { .. } => {
                self.does(&name, "(photo)", Deed::Photo).await;
            }
            Ask::Wait { until } => {
                let until = *until;
                self.told.line("(time goes by)");
                let left = until.duration_since(self.now());
                self.pass(left).await;
            }
            Ask::WaitFor { roles } => {
                let roles = roles.clone();
                self.somebody_else(&roles, place).await;
            }
            Ask::Nothing => {
                assert!(
                    screen.prompt.actions.contains(&Action::HandIn),
                    "{}",
                    self.told.tail()
                );
                self.give(&name, "[Hand the job in]", Input::HandIn).await;
            }
        }
    }

    /// What the script answers here; each part of a proof is a step of its own.
    fn scripted<'s>(
        &mut self,
        script: &'s Script,
        place: &Place,
        proof_part: Option<usize>,
    ) -> Option<&'s str> {
        match proof_part {
            Some(part) => {
                let step = format!("{}.{part}", place.step);
                let asked = self
                    .visits
                    .entry((place.flow.clone(), step.clone()))
                    .or_default();
                *asked += 1;
                script.answer(&place.flow, &step, *asked)
            }
            None => script.answer(&place.flow, &place.step, place.visit),
        }
    }

    /// The button of the key that is wanted; the only one needs no key.
    fn wanted<'b>(&self, buttons: &'b [Button], wanted: Option<&str>, place: &Place) -> &'b Button {
        let found = match (buttons, wanted) {
            ([only], None) => Some(only),
            (all, wanted) => all
                .iter()
                .find(|button| Some(button.key.as_str()) == wanted),
        };
        found.unwrap_or_else(|| {
            panic!(
                "{}/{}: no choice {wanted:?}\n{}",
                place.flow,
                place.step,
                self.told.tail()
            )
        })
    }
}

fn is_proof(place: &Place) -> bool {
    matches!(act_of(place), Some(Act::ProveDead(_)))
}

/// What a careful person finds in the parts of a proof that are chosen.
fn proof_choice(asked: &str) -> Option<&'static str> {
    if asked.contains("rating printed") {
        return Some("cat_iii_1000");
    }
    asked.contains("both leads").then_some("whole")
}

/// What a meter shows on a source that is there, and on a point that is dead.
fn proof_reading(asked: &str) -> &'static str {
    let known = asked.contains("known source");
    match (known, asked.contains("DC")) {
        (true, true) => "9.2 V",
        (true, false) => "121 V",
        (false, _) => "0.2 V",
    }
}
