//! What a button carries: a few typed bytes, versioned, never longer than the platform allows.
//!
//! The text is URL-safe base 64 (RFC 4648, section 5) without padding of: one byte of version and
//! kind, then the fields in the order in which they are declared, numbers with the high byte
//! first. In version 1 the kind is the low half of that byte; version 2 has the kinds from 16 on,
//! in a byte of their own. The longest is 47 bytes, 63 characters of the 64 that the platform
//! takes.

use base64::Engine;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use uuid::Uuid;

use super::action_code::{action_of, code_of};
pub use super::again_press::AgainPress;
pub use super::flow_mark::FlowMark;
pub use super::lock_off::LockOff;
pub use super::shared_press::SharedPress;
pub use super::shown_press::{CompetenceMark, ShownPress};
use super::ticked_roles::RoleChange;
pub use super::ticked_roles::RolesPress;
use crate::desk::id::{EvaporatorId, JobId};
use crate::desk::screen::{Closing, RowDecision};
use crate::desk::shared_flows::SharedMark;
use crate::desk::whereabouts::Near;
use crate::record::chain::Hash;
use crate::record::person::PersonId;
use crate::walk::prompt::{Action, Button};

/// The most bytes that a button may carry.
pub const DATA_BYTES_MAX: usize = 64;

/// The most choices that one question can offer for ticking.
pub const TICKS_MAX: usize = u128::BITS as usize;

/// The version whose kinds fit into half a byte.
const FIRST_VERSION: u8 = 1;

/// The version whose kind is the second byte, for kinds that the first has no room for.
const SECOND_VERSION: u8 = 2;

/// The first kind of the second version.
const SECOND_KINDS: u8 = 16;

/// A screen of a job: a button of another revision is stale.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct On {
    /// The job.
    pub job: JobId,
    /// The revision that the button stood on.
    pub revision: u64,
}

/// What pressing a button means.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Token {
    /// The answer at this place among the buttons.
    Choose(On, Choice),
    /// Tick or untick the choice at this place; these are ticked already.
    Toggle(On, u8, u128),
    /// All that fit are ticked.
    Ticked(On, u128),
    /// Keep the earlier answer.
    Keep(On),
    /// One of the actions.
    Do(On, Action),
    /// Show the actions that are seldom needed; these choices are ticked.
    More(On, u128),
    /// Review a job that was handed in.
    Close(On, Closing),
    /// Show a job and make it the one at hand.
    Show(JobId),
    /// Begin what is planned on an evaporator.
    Begin(EvaporatorId, Plan),
    /// Add an evaporator first; then begin what is planned there.
    Add(Plan),
    /// Ask what is to be done in a job, or in a training walk.
    New(bool),
    /// Ask on which evaporator to begin what is planned.
    Which(Plan),
    /// Show the diagram of a flow.
    Diagram(FlowMark),
    /// Offer the job to a person, or to anybody of the crew.
    HandOver(On, Option<PersonId>),
    /// About the roles of this person, or of somebody new.
    Roles(Option<PersonId>, RolesPress),
    /// About the steps of a job that are to be done again.
    Again(On, AgainPress),
    /// Run this job in the group.
    Here(JobId),
    /// About what this person has shown, or whoever is picked next.
    Shown(Option<PersonId>, ShownPress),
    /// About the lock of somebody who is away.
    LockOff(JobId, LockOff),
    /// About a file that somebody shared.
    Shared(SharedPress, SharedMark),
    /// Begin a training walk on an evaporator along a shared flow.
    Try(EvaporatorId, SharedMark),
    /// Keep that an evaporator is there.
    Locate(EvaporatorId, Near),
    /// Show what is known of an evaporator.
    Evaporator(EvaporatorId),
    /// Withdraw a code that nobody used yet.
    Withdraw(CodeMark),
    /// Show the photos of a job.
    Photos(JobId),
}

/// A code that nobody used yet: the beginning of its hash, which tells it from the crew's others.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct CodeMark(pub [u8; 16]);

impl CodeMark {
    /// The mark of a code.
    pub fn of(code: Hash) -> CodeMark {
        let mut mark = [0; 16];
        mark.copy_from_slice(&code.0[..16]);
        CodeMark(mark)
    }
}

/// What is to be begun: a flow, as a job or as a training walk.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Plan {
    /// The flow.
    pub flow: FlowMark,
    /// A training walk.
    pub training: bool,
}

/// One choice: its place, and a check that the place still means the same.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Choice {
    /// The place, from 0.
    pub index: u8,
    /// Half of the check sum of the key.
    pub check: u16,
}

impl Choice {
    /// The choice of this button at this place.
    pub fn of(index: u8, button: &Button) -> Choice {
        let sum = crc32fast::hash(button.key.as_str().as_bytes());
        Choice {
            index,
            check: (sum & 0xffff) as u16,
        }
    }

    /// The button that it means, if it is still the same.
    pub fn find(self, buttons: &[Button]) -> Option<&Button> {
        let button = buttons.get(usize::from(self.index))?;
        (Choice::of(self.index, button) == self).then_some(button)
    }
}

impl Token {
    /// The text for the button.
    pub fn encode(self) -> String {
        let mut bytes = match self.kind() {
            kind @ ..SECOND_KINDS => vec![(FIRST_VERSION << 4) | kind],
            kind => vec![SECOND_VERSION << 4, kind],
        };
        self.write(&mut bytes);
        URL_SAFE_NO_PAD.encode(bytes)
    }

    /// Adds its fields.
    fn write(self, bytes: &mut Vec<u8>) {
        match self {
            Token::Choose(screen, choice) => {
                on(bytes, screen);
                bytes.push(choice.index);
                bytes.extend(choice.check.to_be_bytes());
            }
            Token::Toggle(screen, index, ticked) => {
                on(bytes, screen);
                bytes.push(index);
                bytes.extend(ticked.to_be_bytes());
            }
            Token::Ticked(screen, ticked) | Token::More(screen, ticked) => {
                on(bytes, screen);
                bytes.extend(ticked.to_be_bytes());
            }
            Token::Keep(screen) => on(bytes, screen),
            Token::Do(screen, action) => {
                on(bytes, screen);
                bytes.push(code_of(action));
            }
            Token::Close(screen, closing) => {
                on(bytes, screen);
                bytes.push(code_of_closing(closing));
            }
            Token::Show(job) | Token::Here(job) | Token::Photos(job) => {
                bytes.extend(job.0.as_bytes())
            }
            Token::Begin(evaporator, plan) => {
                bytes.extend(evaporator.0.as_bytes());
                planned(bytes, plan);
            }
            Token::Add(plan) | Token::Which(plan) => planned(bytes, plan),
            Token::New(training) => bytes.push(u8::from(training)),
            Token::Diagram(flow) => bytes.extend(flow.0.to_be_bytes()),
            Token::HandOver(screen, to) => {
                on(bytes, screen);
                bytes.extend(to.iter().flat_map(|person| *person.0.as_bytes()));
            }
            Token::Roles(person, press) => {
                bytes.extend(press.bytes());
                bytes.extend(person.iter().flat_map(|person| *person.0.as_bytes()));
            }
            Token::Again(screen, press) => {
                on(bytes, screen);
                bytes.extend(press.bytes());
            }
            Token::LockOff(job, lock) => {
                bytes.extend(job.0.as_bytes());
                bytes.extend(lock.bytes());
            }
            Token::Shown(person, press) => {
                bytes.extend(press.bytes());
                bytes.extend(person.iter().flat_map(|person| *person.0.as_bytes()));
            }
            Token::Locate(evaporator, near) => {
                bytes.extend(evaporator.0.as_bytes());
                bytes.extend(near.latitude.to_be_bytes());
                bytes.extend(near.longitude.to_be_bytes());
            }
            Token::Shared(press, mark) => bytes.extend(press.bytes(mark)),
            Token::Try(evaporator, SharedMark(mark)) => {
                bytes.extend(evaporator.0.as_bytes());
                bytes.extend(mark);
            }
            Token::Evaporator(evaporator) => bytes.extend(evaporator.0.as_bytes()),
            Token::Withdraw(code) => bytes.extend(code.0),
        }
    }

    /// Reads a button's text; `None` if it is not one of ours.
    pub fn decode(text: &str) -> Option<Token> {
        if text.len() > DATA_BYTES_MAX {
            return None;
        }
        let bytes = URL_SAFE_NO_PAD.decode(text).ok()?;
        let (kind, rest) = match bytes.split_first()? {
            (first, rest) if first >> 4 == FIRST_VERSION => (first & 0xf, rest),
            (first, [kind, rest @ ..])
                if *first == SECOND_VERSION << 4 && *kind >= SECOND_KINDS =>
            {
                (*kind, rest)
            }
            _ => return None,
        };
        let mut fields = Fields(rest);
        let token = match kind {
            0 => {
                let on = fields.on()?;
                let [index] = fields.take()?;
                let check = u16::from_be_bytes(fields.take()?);
                Token::Choose(on, Choice { index, check })
            }
            1 => {
                let on = fields.on()?;
                let [index] = fields.take()?;
                Token::Toggle(on, index, u128::from_be_bytes(fields.take()?))
            }
            2 => Token::Ticked(fields.on()?, u128::from_be_bytes(fields.take()?)),
            3 => Token::Keep(fields.on()?),
            4 => {
                let on = fields.on()?;
                let [code] = fields.take()?;
                Token::Do(on, action_of(code)?)
            }
            5 => Token::More(fields.on()?, u128::from_be_bytes(fields.take()?)),
            6 => {
                let on = fields.on()?;
                let [code] = fields.take()?;
                Token::Close(on, closing_of(code)?)
            }
            7 => Token::Show(JobId(fields.id()?)),
            8 => Token::Begin(EvaporatorId(fields.id()?), fields.plan()?),
            9 => Token::Add(fields.plan()?),
            10 => Token::New(fields.truth()?),
            11 => {
                let on = fields.on()?;
                Token::HandOver(on, fields.person_or_nobody()?)
            }
            12 => Token::Which(fields.plan()?),
            13 => {
                let press = fields.roles_press()?;
                Token::Roles(fields.person_or_nobody()?, press)
            }
            14 => Token::Diagram(fields.flow()?),
            15 => Token::Again(fields.on()?, fields.again_press()?),
            kind => fields.of_second_kind(kind)?,
        };
        fields.0.is_empty().then_some(token)
    }

    fn kind(self) -> u8 {
        match self {
            Token::Choose(..) => 0,
            Token::Toggle(..) => 1,
            Token::Ticked(..) => 2,
            Token::Keep(_) => 3,
            Token::Do(..) => 4,
            Token::More(..) => 5,
            Token::Close(..) => 6,
            Token::Show(_) => 7,
            Token::Begin(..) => 8,
            Token::Add(_) => 9,
            Token::New(_) => 10,
            Token::HandOver(..) => 11,
            Token::Which(_) => 12,
            Token::Roles(..) => 13,
            Token::Diagram(_) => 14,
            Token::Again(..) => 15,
            Token::Shown(..) => 16,
            Token::LockOff(..) => 24,
            Token::Shared(..) => 20,
            Token::Try(..) => 21,
            Token::Locate(..) => 22,
            Token::Evaporator(_) => 17,
            Token::Withdraw(_) => 18,
            Token::Here(_) => 23,
            Token::Photos(_) => 25,
        }
    }
}

/// Adds a screen.
fn on(bytes: &mut Vec<u8>, on: On) {
    bytes.extend(on.job.0.as_bytes());
    bytes.extend(on.revision.to_be_bytes());
}

/// Adds what is to be begun.
fn planned(bytes: &mut Vec<u8>, plan: Plan) {
    bytes.push(u8::from(plan.training));
    bytes.extend(plan.flow.0.to_be_bytes());
}

/// What is left of the bytes.
struct Fields<'a>(&'a [u8]);

impl Fields<'_> {
    fn take<const BYTES: usize>(&mut self) -> Option<[u8; BYTES]> {
        let (taken, rest) = self.0.split_first_chunk::<BYTES>()?;
        self.0 = rest;
        Some(*taken)
    }

    fn id(&mut self) -> Option<Uuid> {
        self.take().map(Uuid::from_bytes)
    }

    fn on(&mut self) -> Option<On> {
        Some(On {
            job: JobId(self.id()?),
            revision: u64::from_be_bytes(self.take()?),
        })
    }

    fn near(&mut self) -> Option<Near> {
        Some(Near {
            latitude: i32::from_be_bytes(self.take()?),
            longitude: i32::from_be_bytes(self.take()?),
        })
    }

    fn lock_off(&mut self) -> Option<LockOff> {
        let source = u32::from_be_bytes(self.take()?);
        let owner = PersonId(self.id()?);
        let [confirmed] = self.take()?;
        let revision = u64::from_be_bytes(self.take()?);
        Some(LockOff {
            source,
            owner,
            confirmed,
            revision,
        })
    }

    fn truth(&mut self) -> Option<bool> {
        match self.take()? {
            [0] => Some(false),
            [1] => Some(true),
            _ => None,
        }
    }

    /// The person that the rest names, if there is a rest.
    fn person_or_nobody(&mut self) -> Option<Option<PersonId>> {
        match self.0.is_empty() {
            true => Some(None),
            false => Some(Some(PersonId(self.id()?))),
        }
    }

    /// What the rest says about steps to be done again.
    fn again_press(&mut self) -> Option<AgainPress> {
        AgainPress::from_bytes(std::mem::take(&mut self.0))
    }

    /// A token of the second version.
    fn of_second_kind(&mut self, kind: u8) -> Option<Token> {
        Some(match kind {
            24 => Token::LockOff(JobId(self.id()?), self.lock_off()?),
            16 => {
                let (press, rest) = ShownPress::from_bytes(self.0)?;
                self.0 = rest;
                Token::Shown(self.person_or_nobody()?, press)
            }
            20 => {
                let (press, mark) = SharedPress::from_bytes(std::mem::take(&mut self.0))?;
                Token::Shared(press, mark)
            }
            21 => Token::Try(EvaporatorId(self.id()?), SharedMark(self.take()?)),
            17 => Token::Evaporator(EvaporatorId(self.id()?)),
            18 => Token::Withdraw(CodeMark(self.take()?)),
            22 => Token::Locate(EvaporatorId(self.id()?), self.near()?),
            23 => Token::Here(JobId(self.id()?)),
            25 => Token::Photos(JobId(self.id()?)),
            _ => return None,
        })
    }

    fn roles_press(&mut self) -> Option<RolesPress> {
        let [what] = self.take()?;
        let mut roles = || {
            let [byte] = self.take()?;
            RoleChange::from_byte(byte)
        };
        match what {
            1 => Some(RolesPress::Ask),
            2 => roles().map(RolesPress::Tick),
            3 => roles().map(RolesPress::Give),
            _ => None,
        }
    }

    fn plan(&mut self) -> Option<Plan> {
        let training = self.truth()?;
        let flow = self.flow()?;
        Some(Plan { flow, training })
    }

    fn flow(&mut self) -> Option<FlowMark> {
        Some(FlowMark(u32::from_be_bytes(self.take()?)))
    }
}

fn code_of_closing(closing: Closing) -> u8 {
    match closing {
        Closing::Accept => 1,
        Closing::SendBack => 2,
        Closing::Row(RowDecision::Accept) => 3,
        Closing::Row(RowDecision::Decline) => 4,
    }
}

fn closing_of(code: u8) -> Option<Closing> {
    Some(match code {
        1 => Closing::Accept,
        2 => Closing::SendBack,
        3 => Closing::Row(RowDecision::Accept),
        4 => Closing::Row(RowDecision::Decline),
        _ => return None,
    })
}

#[cfg(test)]
mod tests;
