//! One screen, as data: what a channel shows and what may come back.

use jiff::Timestamp;

use super::input::Input;
use crate::flow::model::Role;
use crate::flow::name::{ChoiceKey, CompetenceName, PictureName};
use crate::trade::chart::Chart;
use crate::trade::formula::{Arguments, Results};

/// One screen of a job for one viewer. It is made anew from the state whenever it is shown.
#[derive(Clone, Debug, PartialEq)]
pub struct Prompt {
    /// The revision of the job: a button of an older one is stale.
    pub revision: u64,
    /// The revision at which this question was first asked: what was typed at another question
    /// does not answer it.
    pub asked_since: u64,
    /// The title of the flow at hand.
    pub title: String,
    /// Shown on every screen of a training walk.
    pub training: bool,
    /// Which step this is, counted from 1.
    pub step: u32,
    /// About how many are to go, if that can be told.
    pub to_go: Option<ToGo>,
    /// What to know about the answer before: `208 V, good for this motor (187–253 V).`
    pub notes: Vec<Note>,
    /// The warning, to be shown above everything that is asked.
    pub caution: Option<String>,
    /// The sentence of the screen.
    pub say: String,
    /// A picture to show.
    pub picture: Option<PictureName>,
    /// A chart to draw: what was worked out, at this step or before.
    pub chart: Option<Chart>,
    /// Where the step is published.
    pub cite: Vec<String>,
    /// Why it is asked, shown on request.
    pub why: Option<String>,
    /// How to do or read it, shown on request.
    pub how: Option<String>,
    /// A computation whose working may be shown.
    pub working: Option<Working>,
    /// What the viewer has not shown and this step needs; empty where somebody stands beside.
    pub lacks: Vec<CompetenceName>,
    /// What is asked of this viewer.
    pub ask: Ask,
    /// The label of a button that keeps an earlier answer (sent as [`super::input::Input::Keep`]).
    pub keep: Option<String>,
    /// What else this viewer may do; never empty while the job is open.
    pub actions: Vec<Action>,
}

impl Prompt {
    /// Whether it asks how often the person wants to be asked if they are all right.
    pub fn asks_how_often(&self) -> bool {
        match &self.ask {
            Ask::Press(buttons) => {
                let mut keys = buttons.iter().map(|button| button.key.as_str());
                keys.any(|key| key == super::check_ins::NOT_ALONE)
            }
            _ => false,
        }
    }
}

/// About how many screens are to go.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ToGo {
    /// Until the job is over.
    pub job: u32,
    /// Until this part of it is over; none in a flow that only runs its parts.
    pub part: Option<u32>,
}

/// A line above the question.
#[derive(Clone, Debug, PartialEq)]
pub struct Note {
    /// How much it matters.
    pub tone: Tone,
    /// The sentence.
    pub text: String,
}

/// How much a note matters.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Tone {
    /// Plain information.
    Plain,
    /// As expected.
    Good,
    /// Look twice.
    Warning,
}

/// A computation with all that is needed to check it.
#[derive(Clone, Debug, PartialEq)]
pub struct Working {
    /// The formula's name.
    pub formula: String,
    /// In symbols.
    pub symbols: String,
    /// The published source.
    pub source: String,
    /// What went in.
    pub inputs: Arguments,
    /// What came out.
    pub results: Results,
}

/// What is asked of the viewer.
#[derive(Clone, Debug, PartialEq)]
pub enum Ask {
    /// Press one of these.
    Press(Vec<Button>),
    /// Tick any of these, then press the last.
    Tick {
        /// What can be ticked.
        options: Vec<Button>,
        /// The label of the closing button.
        done: String,
    },
    /// Type a reading, a count or a number.
    Reading {
        /// What to type: `208 V`. Empty in a proof, where no value may be hinted at.
        example: String,
        /// The symbols of the units that are understood.
        units: Vec<&'static str>,
    },
    /// Type words.
    Words {
        /// The most characters.
        characters_max: u32,
    },
    /// Send a photo.
    Photo {
        /// Of this.
        of: String,
    },
    /// Wait; no button goes forward before this time.
    Wait {
        /// When it is over.
        until: Timestamp,
    },
    /// Somebody else has to act.
    WaitFor {
        /// Any of these roles.
        roles: Vec<Role>,
    },
    /// Nothing: the job is over.
    Nothing,
}

/// One button that answers.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Button {
    /// What comes back.
    pub key: ChoiceKey,
    /// What it says.
    pub label: String,
}

/// What a viewer may do on a screen besides answering.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Action {
    /// Go back one step.
    Back,
    /// Pause the job.
    Pause,
    /// Go on after a pause.
    Resume,
    /// Stop work: something is wrong.
    Stop,
    /// Someone is hurt, or a gas alarm sounds.
    Emergency,
    /// Hand the job to another person.
    HandOver,
    /// Take the job that is offered.
    TakeOver,
    /// Take the offer back.
    KeepJob,
    /// Call the supervisor.
    CallSupervisor,
    /// Why is this asked?
    Why,
    /// I don't know how to read this.
    How,
    /// Show the working.
    Working,
    /// Confirm to stand beside the apprentice.
    StandBeside,
    /// Let the stopped work go on.
    LiftStop,
    /// Leave it locked out.
    LeaveLockedOut,
    /// Not leave it after all.
    KeepWorking,
    /// Hang the viewer's own lock beside the primary person's.
    HangOwnLock,
    /// Take the viewer's own lock off.
    TakeOwnLockOff,
    /// Hand the finished job in for review.
    HandIn,
    /// Open the job to the crew.
    Share,
    /// Close the job to the crew.
    EndSharing,
    /// Be asked now and then whether all is well.
    CheckOnMe,
    /// Say that all is well.
    AmWell,
    /// Say that one is out of the cold.
    AmOut,
    /// Say that the person who did not answer was reached and is well.
    FoundWell,
}

impl Action {
    /// What its button says.
    pub fn label(self) -> &'static str {
        match self {
            Action::Back => "Back one step",
            Action::Pause => "Pause",
            Action::Resume => "Go on with the job",
            Action::Stop => "Stop work",
            Action::Emergency => "Someone is hurt / gas alarm",
            Action::HandOver => "Hand the job over",
            Action::TakeOver => "Take the job",
            Action::KeepJob => "Keep the job",
            Action::CallSupervisor => "Call the supervisor",
            Action::Why => "Why?",
            Action::How => "I don't know how",
            Action::Working => "Show the working",
            Action::StandBeside => "I stand beside them",
            Action::LiftStop => "Let the work go on",
            Action::LeaveLockedOut => "Leave it, with an owner",
            Action::KeepWorking => "Don't leave it",
            Action::HangOwnLock => "My lock is on too",
            Action::TakeOwnLockOff => "Take my lock off",
            Action::HandIn => "Hand the job in",
            Action::Share => "Let the crew answer too",
            Action::EndSharing => "Let the crew answer no more",
            Action::CheckOnMe => "Check on me",
            Action::AmWell => "I am all right",
            Action::AmOut => "I am out of the cold",
            Action::FoundWell => "I reached them: all right",
        }
    }
}

impl Action {
    /// The input that it stands for; none for what is only told on request.
    pub fn input(self) -> Option<Input> {
        Some(match self {
            Action::Back => Input::Back,
            Action::Pause => Input::Pause,
            Action::Resume => Input::Resume,
            Action::Stop => Input::Stop,
            Action::Emergency => Input::Emergency,
            Action::HandOver => Input::HandOver(None),
            Action::TakeOver => Input::TakeOver,
            Action::KeepJob => Input::KeepJob,
            Action::CallSupervisor => Input::CallSupervisor,
            Action::StandBeside => Input::StandBeside,
            Action::LiftStop => Input::LiftStop,
            Action::LeaveLockedOut => Input::LeaveLockedOut,
            Action::KeepWorking => Input::KeepWorking,
            Action::HangOwnLock => Input::HangOwnLock,
            Action::TakeOwnLockOff => Input::TakeOwnLockOff,
            Action::HandIn => Input::HandIn,
            Action::Share => Input::Share,
            Action::EndSharing => Input::EndSharing,
            Action::CheckOnMe => Input::WantCheckIns,
            Action::AmWell => Input::AmWell,
            Action::AmOut => Input::AmOut,
            Action::FoundWell => Input::FoundWell,
            Action::Why | Action::How | Action::Working => return None,
        })
    }
}

/// What is shown when someone is hurt or a gas alarm sounds. It asks nothing and needs nothing.
pub const EMERGENCY: &str = "\
Get out of the box. Take others with you only if that is safe for you.
Do not touch a person who may still be on live metal. Switch the power off at the isolator first.
Call the emergency number: 112, 911 or your local one. Say where you are.
Gas alarm: stay out. Keep the door shut. Keep others away.
Local codes and your site's emergency plan come first.";
