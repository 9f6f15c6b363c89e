//! Links into the private chat: what stands behind `?start=` in them.
//!
//! The platform takes 64 letters, digits, dashes and underscores there (its reference, "Deep
//! linking"). A code to join has 16 letters and no dash, so it is never taken for a link.

use uuid::Uuid;

use super::talk::Turn;
use crate::desk::DeskError;
use crate::desk::id::JobId;
use crate::desk::shared_flows::SharedMark;

/// Where a link leads.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Link {
    /// To a job.
    Job(JobId),
    /// To a training walk along a shared flow.
    Try(SharedMark),
}

impl Link {
    /// What stands behind `?start=`; none if it is no link of ours.
    pub(super) fn read(text: &str) -> Option<Link> {
        let (kind, of) = text.split_once('-')?;
        match kind {
            "j" if of.len() == 32 => Some(Link::Job(JobId(Uuid::try_parse(of).ok()?))),
            "t" => of.parse().ok().map(Link::Try),
            _ => None,
        }
    }

    fn text(self) -> String {
        match self {
            Link::Job(job) => format!("j-{}", job.0.simple()),
            Link::Try(mark) => format!("t-{mark}"),
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
        ];
        for link in all {
            assert_eq!(Link::read(&link.text()), Some(link));
            assert!(link.text().len() <= 64);
        }
        for other in ["", "J0123456789ABCDE", "t-0123-4567", "j-", "x-1", "T-0K3"] {
            assert_eq!(Link::read(other), None, "{other}");
        }
    }
}
