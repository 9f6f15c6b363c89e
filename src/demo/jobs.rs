//! The jobs of the demo: one for each state that a job can be in.

use std::sync::Arc;

use jiff::SignedDuration;

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
use crate::store::InputKey;
use crate::walk::input::Input;

/// Site, tag and place of every evaporator; all invented.
const EVAPORATORS: [(&str, &str, &str); 8] = [
    ("Marmot Market", "EV-1", "meat cooler, left"),
    ("Marmot Market", "EV-2", "meat cooler, right"),
    ("Marmot Market", "EV-5", "ice cream freezer"),
    ("Pelican Pantry", "North", "produce cooler"),
    ("Pelican Pantry", "South", "dairy cooler"),
    ("Otter Inn", "K-1", "kitchen walk-in"),
    ("Otter Inn", "K-2", "bakery freezer"),
    ("Badger Bakery", "", "dough cooler, over the door"),
];

/// What becomes of a job after some of its steps.
#[derive(Clone, Copy)]
enum Ends {
    HandedIn,
    Accepted,
    SentBack,
    Open,
    Paused,
    Stopped,
    LeftLockedOut,
    Offered,
}

/// Makes all of it.
pub(super) async fn make(desk: &Desk, clock: &Arc<DemoClock>, crew: &Crew) -> Result<(), NoDemo> {
    let plan = [
        (&crew.technician, Ends::Accepted),
        (&crew.technician, Ends::HandedIn),
        (&crew.technician, Ends::SentBack),
        (&crew.technician, Ends::LeftLockedOut),
        (&crew.apprentice, Ends::Stopped),
        (&crew.technician, Ends::Paused),
        (&crew.technician, Ends::Offered),
        (&crew.apprentice, Ends::Open),
    ];
    for (index, (holder, ends)) in plan.into_iter().enumerate() {
        let day = SignedDuration::from_hours(24).saturating_mul(i32::try_from(index).unwrap_or(0));
        let began = clock.end.checked_sub(super::BEGAN_BEFORE);
        let began = began.and_then(|began| began.checked_add(day));
        clock.pass_to(began.unwrap_or(clock.end));
        let walker = Walker::new(desk, clock, crew, format!("demo:job:{index}"));
        let evaporator = add(desk, holder, index).await?;
        let job = begin(desk, holder, (evaporator, index)).await?;
        Made {
            walker,
            holder,
            job,
        }
        .comes_to(ends, &crew.supervisor)
        .await?;
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
    async fn comes_to(mut self, ends: Ends, supervisor: &Actor) -> Result<(), NoDemo> {
        let walked = match ends {
            Ends::HandedIn | Ends::Accepted | Ends::SentBack => Until::TheEnd,
            Ends::Open => Until::Steps(34),
            Ends::Paused | Ends::Offered => Until::Steps(20),
            Ends::Stopped => Until::Steps(27),
            Ends::LeftLockedOut => Until::Locked,
        };
        let phase = self.walker.walk(self.holder, self.job, walked).await?;
        match ends {
            Ends::Open => {}
            Ends::Paused => self.gives(Input::Pause).await?,
            Ends::Offered => self.gives(Input::HandOver(None)).await?,
            Ends::Stopped => {
                self.gives(Input::Stop).await?;
                self.walker.answers(self.holder, self.job).await?;
            }
            Ends::LeftLockedOut => {
                self.gives(Input::LeaveLockedOut).await?;
                self.walker
                    .walk(self.holder, self.job, Until::TheEnd)
                    .await?;
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
                let remark = "Please measure the supply again and add it.".to_owned();
                self.walker
                    .gives(supervisor, self.job, Input::SendBack { remark })
                    .await?;
            }
        }
        Ok(())
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
