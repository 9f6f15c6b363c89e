//! The jobs of the demo: one for each state that a job can be in.

use std::sync::Arc;

use jiff::SignedDuration;

use super::answers::Answers;
use super::crew::Crew;
use super::walker::{Until, Walker};
use super::{DemoClock, NoDemo};
use crate::desk::clock::Clock;
use crate::desk::evaporators::NewEvaporator;
use crate::desk::id::{EvaporatorId, JobId};
use crate::desk::jobs::NewJob;
use crate::desk::screen::Phase;
use crate::desk::{Actor, Desk};
use crate::flow::embedded;
use crate::flow::model::Role;
use crate::store::InputKey;
use crate::walk::input::Input;

/// Site, tag and place of every evaporator; all invented. The last two have no job yet.
const EVAPORATORS: [(&str, &str, &str); 11] = [
    ("Marmot Market", "EV-2", "meat cooler, right"),
    ("Marmot Market", "EV-5", "ice cream freezer"),
    ("Pelican Pantry", "North", "produce cooler"),
    ("Pelican Pantry", "South", "dairy cooler"),
    ("Otter Inn", "K-1", "kitchen walk-in"),
    ("Otter Inn", "K-2", "bakery freezer"),
    ("Badger Bakery", "", "dough cooler, over the door"),
    ("Heron Hotel", "C-1", "flower cooler"),
    ("Heron Hotel", "C-2", "banquet cooler"),
    ("Dormouse Deli", "1", "cooler behind the counter"),
    ("Dormouse Deli", "2", "freezer in the yard"),
];

/// What becomes of a job after some of its steps.
#[derive(Clone, Copy)]
enum Ends {
    HandedIn,
    Accepted,
    SentBack,
    Open,
    OnHold,
    Paused,
    Stopped,
    LeftLockedOut,
    Offered,
}

/// A job of the demo.
struct Plan<'a> {
    holder: &'a Actor,
    ends: Ends,
    /// How far it is walked before.
    walked: Until,
    /// How many hours before the start it began.
    hours: i64,
    /// Answers that differ from the usual ones.
    answers: &'static [(&'static str, &'static str)],
}

/// The fans only wait for the end of a defrost.
const IN_DEFROST: &[(&str, &str)] = &[
    ("control_mode", "defrost"),
    ("how_to_end", "wait"),
    ("defrost_state", "ended"),
    ("delay_reason", "over"),
    ("fans_back", "all_turn"),
    ("which_part", "nothing_changed"),
    (
        "why_somebody_called",
        "Somebody saw the fans stand still and did not know of the defrost",
    ),
    (
        "what_was_wrong",
        "Nothing. The fans waited for the end of a defrost.",
    ),
    (
        "what_was_done",
        "Watched the defrost end. All fans turn again.",
    ),
];

/// No voltage comes to the motor.
const NO_VOLTAGE: &[(&str, &str)] = &[
    ("supply_reading", "0 V"),
    ("second_reading", "0 V"),
    ("who_goes_up", "electrician"),
    ("the_way_up", "breaker"),
];

/// The new plug does not fit, so the lead has to be cut.
const CUT_LEAD: &[(&str, &str)] = &[
    ("look_at_old_end", "joint"),
    ("compare_pins", "differ"),
    ("plug_or_cut", "cut"),
    ("joined_or_plugged", "wires"),
];

fn plan(crew: &Crew) -> [Plan<'_>; 9] {
    let (tilly, arlo) = (&crew.technician, &crew.apprentice);
    let plan = |holder, ends, walked, hours, answers| Plan {
        holder,
        ends,
        walked,
        hours,
        answers,
    };
    let to_the_end = Until::TheEnd;
    let at = Until::Step;
    [
        plan(tilly, Ends::Accepted, to_the_end, 166, IN_DEFROST),
        plan(tilly, Ends::SentBack, to_the_end, 142, NO_VOLTAGE),
        plan(arlo, Ends::LeftLockedOut, at("try_to_start"), 118, &[]),
        plan(tilly, Ends::HandedIn, to_the_end, 94, &[]),
        plan(tilly, Ends::Offered, at("mounting_pattern"), 46, &[]),
        plan(tilly, Ends::Paused, at("which_old_type"), 22, &[]),
        plan(
            arlo,
            Ends::OnHold,
            Until::WaitsFor(Role::Electrician),
            8,
            CUT_LEAD,
        ),
        plan(arlo, Ends::Stopped, at("try_to_start"), 4, &[]),
        plan(arlo, Ends::Open, at("kind_of_motor"), 1, &[]),
    ]
}

/// So many jobs at the end of the plan are news; what was told before is read.
const NEWS_OF_JOBS: usize = 3;

/// Makes all of it.
pub(super) async fn make(desk: &Desk, clock: &Arc<DemoClock>, crew: &Crew) -> Result<(), NoDemo> {
    let plan = plan(crew);
    let jobs = plan.len();
    for (index, plan) in plan.into_iter().enumerate() {
        let before = SignedDuration::from_hours(plan.hours);
        clock.pass_to(clock.end.checked_sub(before).unwrap_or(clock.end));
        let answers = Answers::with(plan.answers).map_err(NoDemo::Made)?;
        let name = format!("demo:job:{index}");
        let walker = Walker::new(desk, clock, crew, (name, answers));
        let evaporator = add(desk, plan.holder, index).await?;
        let job = begin(desk, plan.holder, (evaporator, index)).await?;
        let made = Made {
            walker,
            holder: plan.holder,
            job,
        };
        made.comes_to(&plan, &crew.supervisor).await?;
        if index + NEWS_OF_JOBS < jobs {
            read_all(desk, crew).await?;
        }
    }
    for index in jobs..EVAPORATORS.len() {
        add(desk, &crew.supervisor, index).await?;
    }
    Ok(())
}

/// Everybody reads what they were told.
async fn read_all(desk: &Desk, crew: &Crew) -> Result<(), NoDemo> {
    for (_, actor) in crew.everybody() {
        let told = desk.inbox(actor).await?;
        let keys: Vec<String> = told.into_iter().map(|item| item.key).collect();
        desk.seen(actor, &keys).await?;
    }
    Ok(())
}

async fn add(desk: &Desk, actor: &Actor, index: usize) -> Result<EvaporatorId, NoDemo> {
    let (site, tag, hangs) = EVAPORATORS[index % EVAPORATORS.len()];
    let new = NewEvaporator {
        site: site.to_owned(),
        tag: tag.to_owned(),
        hangs: hangs.to_owned(),
    };
    let key = InputKey(format!("demo:evaporator:{index}"));
    Ok(desk.add_evaporator(key, actor, new).await?.id)
}

async fn begin(
    desk: &Desk,
    actor: &Actor,
    (evaporator, index): (EvaporatorId, usize),
) -> Result<JobId, NoDemo> {
    let main = embedded::main_flow();
    let flows = desk.flows(actor).await?;
    // With other flows than the shipped ones, the first one that a job can begin with.
    let first = flows.first().map(|choice| choice.flow.clone());
    let new = NewJob {
        evaporator,
        flow: if flows.iter().any(|choice| choice.flow == main) {
            main
        } else {
            first.unwrap_or(main)
        },
        training: false,
    };
    let key = InputKey(format!("demo:begin:{index}"));
    Ok(desk.begin(key, actor, new).await?.screen.job)
}

/// A job that was begun.
struct Made<'a> {
    walker: Walker<'a>,
    holder: &'a Actor,
    job: JobId,
}

impl Made<'_> {
    async fn comes_to(mut self, plan: &Plan<'_>, supervisor: &Actor) -> Result<(), NoDemo> {
        let phase = self.walker.walk(self.holder, self.job, plan.walked).await?;
        match plan.ends {
            Ends::Open | Ends::OnHold => {}
            Ends::Paused => self.gives(Input::Pause).await?,
            Ends::Offered => self.gives(Input::HandOver(None)).await?,
            Ends::Stopped => {
                self.gives(Input::Stop).await?;
                self.says("A fan on the next coil moved when I called")
                    .await?;
            }
            Ends::LeftLockedOut => {
                self.gives(Input::LeaveLockedOut).await?;
                self.says("Elmo Electrician, telephone 555-0100").await?;
                self.says("Thursday at eight in the morning").await?;
            }
            // A job that came to no end stays where it is; nobody can review it.
            _ if phase != Phase::Finished => {
                tracing::warn!(job = %self.job, "a job of the demo came to no end");
            }
            Ends::HandedIn => self.gives(Input::HandIn).await?,
            Ends::Accepted => {
                self.gives(Input::HandIn).await?;
                let remark = "Readings and photos are all there.".to_owned();
                self.walker
                    .gives(supervisor, self.job, Input::Accept { remark })
                    .await?;
            }
            Ends::SentBack => {
                self.gives(Input::HandIn).await?;
                let remark = "Please say which breaker it was.".to_owned();
                self.walker
                    .gives(
                        supervisor,
                        self.job,
                        Input::SendBack {
                            remark,
                            steps: Vec::new(),
                        },
                    )
                    .await?;
            }
        }
        Ok(())
    }

    async fn says(&mut self, words: &str) -> Result<(), NoDemo> {
        self.gives(Input::Text(words.to_owned())).await
    }

    async fn gives(&mut self, input: Input) -> Result<(), NoDemo> {
        self.walker.gives(self.holder, self.job, input).await?;
        Ok(())
    }
}

impl DemoClock {
    /// Work on one screen takes about this long.
    pub(super) fn pass_a_step(&self) {
        let seconds = 25 + self.now().as_second().rem_euclid(30);
        self.pass(SignedDuration::from_secs(seconds));
    }
}
