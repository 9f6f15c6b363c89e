//! The report of a job as a PDF, and the square code that stands on every report.

use std::sync::Arc;

use tokio::sync::Semaphore;

use super::Desk;
use super::actor::Actor;
use super::checklist::{Record, photos_of};
use super::error::DeskError;
use super::id::JobId;
use crate::metrics::{Stopwatch, metrics};
use crate::report::checklist::Checklist;
use crate::report::pdf::{self, NoPdf, Paper, Report, SmallPhoto};
use crate::report::verify_code::VerifyCode;

/// So many reports are made at once; the next ones wait. One takes up to 200 MB while it is made.
static AT_ONCE: Semaphore = Semaphore::const_new(2);

/// So many photos of a report are made small at once.
const PHOTOS_AT_ONCE: usize = 2;

impl Desk {
    /// The report of a job as a PDF.
    ///
    /// # Errors
    /// When the crew has no such job, or this build makes no PDF.
    pub async fn pdf(&self, actor: &Actor, job: JobId, paper: Paper) -> Result<Vec<u8>, DeskError> {
        let record = self.record_for(actor, job).await?;
        self.pdf_of(&record, paper, None).await
    }

    /// The report of any job of this server as a PDF; for its operator.
    ///
    /// # Errors
    /// When there is no such job, or this build makes no PDF.
    pub async fn pdf_as_operator(
        &self,
        job: JobId,
        paper: Paper,
        public_url: Option<&str>,
    ) -> Result<Vec<u8>, DeskError> {
        let record = self.record_as_operator(job).await?;
        self.pdf_of(&record, paper, public_url).await
    }

    /// The square code for a report of this checklist; with this address of the page, or else
    /// with the one that the operator said.
    pub fn verify_code(&self, list: &Checklist, public_url: Option<&str>) -> VerifyCode {
        let own = self.rules().public_url.as_deref();
        VerifyCode::of(list, public_url.or(own))
    }

    async fn pdf_of(
        &self,
        record: &Record,
        paper: Paper,
        public_url: Option<&str>,
    ) -> Result<Vec<u8>, DeskError> {
        if !pdf::IS_BUILT {
            return Err(DeskError::from(NoPdf::NotBuilt));
        }
        let Ok(_place) = AT_ONCE.acquire().await else {
            return Err(DeskError::Fault(
                "No report can be made any more.".to_owned(),
            ));
        };
        let began = Stopwatch::started();
        let list = self.checklist_of(record).await?;
        let code = self.verify_code(&list, public_url);
        let photos = self.small_photos(record).await?;
        let made = tokio::task::spawn_blocking(move || {
            pdf::pdf(&Report {
                list: &list,
                photos: &photos,
                code: &code,
                paper,
            })
        });
        let made = made.await.map_err(|error| panicked(&error))?;
        metrics().report_made(began);
        made.map_err(DeskError::from)
    }

    /// The photos of a record, made small; of those that cannot be read the report says so.
    async fn small_photos(&self, record: &Record) -> Result<Vec<SmallPhoto>, DeskError> {
        let mut small = Vec::new();
        let wanted = photos_of(record);
        for few in wanted.chunks(PHOTOS_AT_ONCE) {
            let mut making = Vec::new();
            for photo in few {
                if let Some(bytes) = self.store().get_blob(photo.stored).await? {
                    let stored = photo.stored.to_string();
                    let bytes = Arc::new(bytes);
                    making.push(tokio::task::spawn_blocking(move || {
                        pdf::small(&stored, &bytes)
                    }));
                }
            }
            for made in making {
                small.extend(made.await.map_err(|error| panicked(&error))?);
            }
        }
        Ok(small)
    }
}

fn panicked(error: &tokio::task::JoinError) -> DeskError {
    DeskError::Fault(format!("Making a report broke off: {error}"))
}

impl From<NoPdf> for DeskError {
    fn from(error: NoPdf) -> Self {
        match error {
            NoPdf::NotBuilt => DeskError::NotUnderstood(error.to_string()),
            NoPdf::Failed(_) => DeskError::Fault(error.to_string()),
        }
    }
}
