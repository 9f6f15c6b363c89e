//! A job whose steps are tried again and again, without a store and without a desk.

use std::collections::BTreeSet;

use fanwright::flow::edition::Edition;
use fanwright::flow::model::Role;
use fanwright::flow::name::FlowName;
use fanwright::record::entry::{Channel, Pins};
use fanwright::record::person::PersonId;
use fanwright::trade::goods::Goods;
use fanwright::trade::kit::Kit;
use fanwright::trade::speed_book::SpeedBook;
use fanwright::walk::context::{Context, Viewer, Way};
use fanwright::walk::input::Input;
use fanwright::walk::prompt::Prompt;
use fanwright::walk::{self, Decided, State};
use jiff::Timestamp;
use uuid::Uuid;

use crate::rounds::{answer, library};

/// So many steps are walked, and then done again and again.
const STEPS: usize = 60;

/// A job at which steps are tried: each with the state before it.
pub(crate) struct Course {
    edition: Edition,
    roles: BTreeSet<Role>,
    goods: (Kit, SpeedBook),
    pub(crate) steps: Vec<(State, Input)>,
}

const WHO: PersonId = PersonId(Uuid::from_u128(1));

impl Course {
    /// The steps of a job along the rounds.
    pub(crate) fn around() -> Course {
        let rounds = FlowName::from("rounds");
        Course::along(library().edition(&rounds).unwrap())
    }

    /// The steps of a job along this flow, as somebody answers who presses the first button.
    pub(crate) fn along(edition: Edition) -> Course {
        let mut course = Course {
            edition,
            roles: [Role::Technician, Role::Electrician].into(),
            goods: Default::default(),
            steps: Vec::new(),
        };
        let pins = Pins {
            flow: course.edition.root().clone(),
            edition: course.edition.hash().to_owned(),
            crew: Uuid::from_u128(2).to_string(),
            evaporator: Uuid::from_u128(3).to_string(),
            kit: String::new(),
            speed_book: String::new(),
            training: false,
        };
        let begun = walk::begin(&course.edition, pins, WHO, &course.context()).unwrap();
        let mut state = State::fold(&begun).unwrap();
        for _ in 0..STEPS {
            let prompt = walk::prompt(&course.edition, &state, course.viewer(), now());
            let input = answer(&prompt);
            let decided = walk::decide(&course.edition, &state, &input, &course.context());
            let Ok(entries) = decided else { break };
            course.steps.push((state.clone(), input));
            for entry in &entries {
                walk::apply(&mut state, entry);
            }
        }
        course
    }

    fn goods(&self) -> Goods<'_> {
        Goods {
            kit: &self.goods.0,
            speed_book: &self.goods.1,
        }
    }

    fn context(&self) -> Context<'_> {
        Context {
            who: Some(WHO),
            roles: &self.roles,
            shown: &[],
            way: Way::ReadThenDo,
            channel: Channel::Telegram,
            now: now(),
            goods: self.goods(),
        }
    }

    fn viewer(&self) -> Viewer<'_> {
        Viewer {
            who: WHO,
            roles: &self.roles,
            shown: &[],
            way: Way::ReadThenDo,
        }
    }

    /// Decides every step.
    pub(crate) fn decided(&self) -> Vec<Decided> {
        let decide = |(state, input): &(State, Input)| {
            walk::decide_and_apply(&self.edition, state, input, &self.context()).unwrap()
        };
        self.steps.iter().map(decide).collect()
    }

    /// Makes the screen of every step.
    pub(crate) fn prompted(&self) -> Vec<Prompt> {
        let states = self.steps.iter().map(|(state, _)| state);
        let prompt = |state| walk::prompt(&self.edition, state, self.viewer(), now());
        states.map(prompt).collect()
    }
}

fn now() -> Timestamp {
    Timestamp::UNIX_EPOCH
}
