//! Links into the private chat: what stands behind `?start=` in them.
//!
//! The platform takes 64 letters, digits, dashes and underscores there (its reference, "Deep
//! linking"). A code to join has 16 letters and no dash, so it is never taken for a link.

use uuid::Uuid;

use super::flow_mark::FlowMark;
use super::talk::Turn;
use crate::desk::DeskError;
use crate::desk::id::{EvaporatorId, JobId};
use crate::desk::shared_flows::SharedMark;
use crate::flow::name::FlowName;

/// Where a link leads.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Link {
    /// To a job.
    Job(JobId),
    /// To a training walk along a shared flow.
    Try(SharedMark),
    /// To an evaporator.
    Evaporator(EvaporatorId),
    /// To the diagram of a flow.
    Flow(FlowMark),
}

impl Link {
    /// What stands behind `?start=`; none if it is no link of ours.
    pub(super) fn read(text: &str) -> Option<Link> {
        let (kind, of) = text.split_once('-')?;
        match kind {
            "j" if of.len() == 32 => Some(Link::Job(JobId(Uuid::try_parse(of).ok()?))),
            "e" => of.parse().ok().map(Link::Evaporator),
            "t" => of.parse().ok().map(Link::Try),
            "f" if of.len() == 8 => u32::from_str_radix(of, 16)
                .ok()
                .map(|mark| Link::Flow(FlowMark(mark))),
            _ => None,
        }
    }

    /// What stands in a link that leads nowhere else than to the bot.
    pub(super) const JOIN: &str = "join";

    /// The link to a flow.
    pub(super) fn flow(flow: &FlowName) -> Link {
        Link::Flow(FlowMark::of(flow))
    }

    /// What stands behind `?start=`.
    pub(super) fn text(self) -> String {
        match self {
            Link::Job(job) => format!("j-{}", job.0.simple()),
            Link::Try(mark) => format!("t-{mark}"),
            Link::Evaporator(evaporator) => format!("e-{evaporator}"),
            Link::Flow(FlowMark(mark)) => format!("f-{mark:08x}"),
        }
    }

    /// The link, to the bot of this name.
    pub(super) fn address(self, bot: &str) -> String {
        format!("https://t.me/{bot}?start={}", self.text())
    }
}

impl Turn<'_> {
    /// Goes where a link leads. Whoever is not of the crew gets what a link to nowhere gives.
    pub(super) async fn follow(&self, link: Link) -> Result<(), DeskError> {
        let Some(actor) = self.actor().await? else {
            return Ok(());
        };
        match link {
            Link::Job(job) => {
                let shown = self.talk.desk.take_up(&actor, job).await?;
                self.show(&actor, &shown, None).await;
                Ok(())
            }
            Link::Try(mark) => self.trial(&actor, mark).await,
            Link::Evaporator(evaporator) => self.evaporator(&actor, evaporator).await,
            Link::Flow(mark) => self.diagram(&actor, mark).await,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn links_read_back_and_codes_are_none() {
        let all = [
            Link::Job(JobId(Uuid::from_u128(7))),
            Link::Try(SharedMark([9; 16])),
            Link::Evaporator(EvaporatorId(Uuid::from_u128(8))),
            Link::Flow(FlowMark(0xab)),
        ];
        for link in all {
            assert_eq!(Link::read(&link.text()), Some(link));
            assert!(link.text().len() <= 64);
        }
        for other in [
            "",
            "J0123456789ABCDE",
            "t-0123-4567",
            "j-",
            "e-",
            "f-1",
            "x-1",
            "T-0K3",
        ] {
            assert_eq!(Link::read(other), None, "{other}");
        }
    }
}
