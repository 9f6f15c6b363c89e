//! Walking a flow to try it: nothing is kept, and time passes only when somebody says so.

use std::collections::BTreeSet;
use std::sync::Arc;

use jiff::{SignedDuration, Timestamp};
use uuid::Uuid;

use super::context::{Context, Viewer, Way};
use super::input::Input;
use super::prompt::{Ask, Prompt};
use super::refusal::Refusal;
use super::state::{SourceState, State};
use super::{apply, begin, decide, prompt};
use crate::flow::edition::Edition;
use crate::flow::model::Role;
use crate::record::entry::{Channel, Pins, SignOff};
use crate::record::person::PersonId;
use crate::trade::goods::Goods;

/// How much time one answer takes: nothing looks hurried, and no proof grows old by itself.
const ANSWER_SECONDS: i64 = 20;

/// A walk that is tried. One person stands for each role, so that holds and locks belong to
/// different people as they would at work.
#[derive(Clone, Debug)]
pub struct Rehearsal {
    edition: Arc<Edition>,
    state: State,
    now: Timestamp,
}

impl Rehearsal {
    /// Begins a walk in the hands of `role`.
    ///
    /// # Errors
    /// A flow that cannot get to a first screen.
    pub fn begin(
        edition: Arc<Edition>,
        role: Role,
        now: Timestamp,
        goods: Goods<'_>,
    ) -> Result<Rehearsal, Refusal> {
        let pins = Pins {
            flow: edition.root().clone(),
            edition: edition.hash().to_owned(),
            crew: String::new(),
            evaporator: String::new(),
            kit: String::new(),
            speed_book: String::new(),
            training: true,
        };
        let roles = [role].into();
        let shown = Vec::new();
        let context = context(role, (&roles, &shown), now, goods);
        let entries = begin(&edition, pins, player(role), &context)?;
        let nothing = || Refusal::NotNow("This flow cannot begin.".to_owned());
        let state = State::fold(&entries).ok_or_else(nothing)?;
        Ok(Rehearsal {
            edition,
            state,
            now,
        })
    }

    /// Does what the person in this role does.
    ///
    /// # Errors
    /// What the engine refuses, as it would at work; nothing changed.
    pub fn act(&mut self, role: Role, input: &Input, goods: Goods<'_>) -> Result<(), Refusal> {
        let then = self.now + SignedDuration::from_secs(ANSWER_SECONDS);
        self.decide(role, input, then, goods)
    }

    /// Lets time pass until the wait at hand is over; without one, nothing happens.
    ///
    /// # Errors
    /// As [`Rehearsal::act`].
    pub fn let_time_pass(&mut self, goods: Goods<'_>) -> Result<(), Refusal> {
        let Some(until) = self.waits_until() else {
            return Ok(());
        };
        let then = until.max(self.now);
        let roles = BTreeSet::new();
        let context = Context {
            who: None,
            roles: &roles,
            shown: &[],
            way: Way::ReadThenDo,
            channel: Channel::Server,
            now: then,
            goods,
        };
        let entries = decide(
            &self.edition,
            &self.state,
            &Input::WaitOver { until },
            &context,
        )?;
        entries
            .iter()
            .for_each(|entry| apply(&mut self.state, entry));
        self.now = then;
        Ok(())
    }

    /// The end of the wait at hand.
    pub fn waits_until(&self) -> Option<Timestamp> {
        let mut roles = Role::ALL.iter();
        roles.find_map(|role| match self.prompt(*role).ask {
            Ask::Wait { until } => Some(until),
            _ => None,
        })
    }

    /// The screen as the person in this role sees it.
    pub fn prompt(&self, role: Role) -> Prompt {
        let roles = [role].into();
        let viewer = Viewer {
            who: player(role),
            roles: &roles,
            shown: &shown(&self.edition, role, self.now),
            way: Way::ReadThenDo,
        };
        prompt(&self.edition, &self.state, viewer, self.now)
    }

    /// The time in the walk.
    pub fn now(&self) -> Timestamp {
        self.now
    }

    /// The edition that is walked.
    pub fn edition(&self) -> &Edition {
        &self.edition
    }

    /// The energy sources as they stand in the walk.
    pub fn sources(&self) -> impl Iterator<Item = &SourceState> {
        self.state.sources.values()
    }

    /// In whose hands the walk is.
    pub fn holder(&self) -> Option<Role> {
        let mut roles = Role::ALL.into_iter();
        roles.find(|role| player(*role) == self.state.holder)
    }

    fn decide(
        &mut self,
        role: Role,
        input: &Input,
        then: Timestamp,
        goods: Goods<'_>,
    ) -> Result<(), Refusal> {
        let roles = [role].into();
        let shown = shown(&self.edition, role, then);
        let context = context(role, (&roles, &shown), then, goods);
        let entries = decide(&self.edition, &self.state, input, &context)?;
        entries
            .iter()
            .for_each(|entry| apply(&mut self.state, entry));
        self.now = then;
        Ok(())
    }
}

/// The person who stands for a role.
fn player(role: Role) -> PersonId {
    let number = 1 + Role::ALL.iter().take_while(|other| **other != role).count();
    PersonId(Uuid::from_u128(number as u128))
}

/// What the person of a role has shown: everything, but an apprentice nothing.
fn shown(edition: &Edition, role: Role, now: Timestamp) -> Vec<SignOff> {
    let mut shown = Vec::new();
    if role == Role::Apprentice {
        return shown;
    }
    let signer = Role::ALL.into_iter().rev().find(|other| *other != role);
    for (name, competence) in edition.flows().flat_map(|flow| &flow.competences) {
        shown.push(SignOff {
            competence: name.clone(),
            label: competence.label.clone(),
            person: player(role),
            by: player(signer.unwrap_or(role)),
            at: now,
            until: None,
        });
    }
    shown
}

fn context<'a>(
    role: Role,
    (roles, shown): (&'a BTreeSet<Role>, &'a [SignOff]),
    now: Timestamp,
    goods: Goods<'a>,
) -> Context<'a> {
    Context {
        who: Some(player(role)),
        roles,
        shown,
        way: Way::ReadThenDo,
        channel: Channel::Browser,
        now,
        goods,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::flow::library::{Library, Sources};
    use crate::flow::name::{ChoiceKey, FlowName};
    use crate::trade::kit::Kit;
    use crate::trade::speed_book::SpeedBook;

    /// One screen, one five-minute wait, one hold point.
    fn begun() -> Rehearsal {
        let mut sources = Sources::default();
        let text = include_str!("../flow/difference/before.yaml");
        sources.files.insert("look.yaml".into(), text.to_owned());
        let library = Library::load(sources).unwrap();
        let edition = library.edition(&FlowName::from("look")).unwrap();
        let goods = (Kit::default(), SpeedBook::default());
        Rehearsal::begin(
            Arc::new(edition),
            Role::Apprentice,
            Timestamp::UNIX_EPOCH,
            at_hand(&goods),
        )
        .unwrap()
    }

    fn at_hand(goods: &(Kit, SpeedBook)) -> Goods<'_> {
        Goods {
            kit: &goods.0,
            speed_book: &goods.1,
        }
    }

    fn press(walk: &mut Rehearsal, role: Role) -> Result<(), Refusal> {
        let input = Input::Press {
            revision: walk.prompt(role).revision,
            key: ChoiceKey::from(super::super::GO),
        };
        walk.act(role, &input, at_hand(&Default::default()))
    }

    #[test]
    fn a_wait_ends_when_time_is_let_pass_and_a_hold_needs_its_role() {
        let mut walk = begun();
        assert!(walk.prompt(Role::Apprentice).training);
        press(&mut walk, Role::Apprentice).unwrap();
        assert!(press(&mut walk, Role::Apprentice).is_err(), "the wait runs");
        walk.let_time_pass(at_hand(&Default::default())).unwrap();
        press(&mut walk, Role::Apprentice).unwrap();
        assert!(
            press(&mut walk, Role::Apprentice).is_err(),
            "not an electrician"
        );
        press(&mut walk, Role::Electrician).unwrap();
        assert_eq!(walk.prompt(Role::Apprentice).say, "What did you see?");
        let words = Input::Text("Dust.".to_owned());
        walk.act(Role::Apprentice, &words, at_hand(&Default::default()))
            .unwrap();
        assert_eq!(walk.prompt(Role::Apprentice).ask, Ask::Nothing);
    }

    #[test]
    fn without_a_wait_no_time_passes() {
        let mut walk = begun();
        let before = (walk.now(), walk.prompt(Role::Apprentice));
        walk.let_time_pass(at_hand(&Default::default())).unwrap();
        assert_eq!(before, (walk.now(), walk.prompt(Role::Apprentice)));
    }
}
