//! Who walks what: the crew's open jobs by the edition that they are on.

use std::collections::BTreeMap;
use std::sync::Arc;

use super::Desk;
use super::actor::Actor;
use super::editions::title;
use super::error::DeskError;
use super::id::JobId;
use super::screen::JobLine;
use super::tables::list;
use crate::flow::edition::Edition;
use crate::flow::library::Library;
use crate::flow::name::FlowName;

/// An edition with the open jobs that are on it.
#[derive(Clone, Debug, PartialEq)]
pub struct Walked {
    /// The title of its root.
    pub title: String,
    /// The edition's hash, hexadecimal.
    pub edition: String,
    /// Whether a new job walks the same.
    pub is_of_today: bool,
    /// The jobs.
    pub jobs: Vec<JobLine>,
}

impl Desk {
    /// The editions that the crew's open jobs are on; with a flow, those in which it is walked,
    /// and whether it is the flow of today in them.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub async fn who_walks(
        &self,
        actor: &Actor,
        flow: Option<&FlowName>,
    ) -> Result<Vec<Walked>, DeskError> {
        self.present(actor).await?;
        let today = self.library(actor).await?;
        let mut met: BTreeMap<String, (Arc<Edition>, Vec<uuid::Uuid>)> = BTreeMap::new();
        for job in self
            .listed(list::CREW_OPEN, actor.crew.0.as_bytes())
            .await?
        {
            let work = self.work_at_hand(JobId(job)).await?;
            if flow.is_none_or(|flow| is_walked(&work.edition, flow)) {
                let key = work.edition.hash().to_owned();
                let (_, jobs) = met
                    .entry(key)
                    .or_insert_with(|| (Arc::clone(&work.edition), Vec::new()));
                jobs.push(job);
            }
        }
        let mut all = Vec::new();
        for (hash, (edition, jobs)) in met {
            all.push(Walked {
                title: title(&edition),
                is_of_today: match flow {
                    Some(flow) => text(&edition, flow) == text_today(&today, flow),
                    None => {
                        let now = today.edition(edition.root());
                        now.is_some_and(|now| now.hash() == hash)
                    }
                },
                edition: hash,
                jobs: self.lines(jobs).await?,
            });
        }
        all.sort_by(|a, b| (&a.title, !a.is_of_today).cmp(&(&b.title, !b.is_of_today)));
        Ok(all)
    }
}

/// Whether an edition can come to run this flow.
fn is_walked(edition: &Edition, flow: &FlowName) -> bool {
    text(edition, flow).is_some()
}

fn text<'e>(edition: &'e Edition, flow: &FlowName) -> Option<&'e String> {
    let file = &edition.flow(flow)?.file;
    edition.sources().files.get(file)
}

fn text_today<'l>(library: &'l Library, flow: &FlowName) -> Option<&'l String> {
    let file = &library.flows().get(flow)?.file;
    library.sources().files.get(file)
}
