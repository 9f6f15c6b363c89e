//! What the operator asks of the data: by the running server, or else by this program itself.

pub mod backup;
mod command;
mod socket;

use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};

use crate::desk::id::{CrewId, JobId};
use crate::desk::labels::{LabelsWanted, Opens, Which};
use crate::desk::sessions::SessionLimits;
use crate::desk::{Desk, DeskError};
use crate::record::seal::Fingerprint;
use crate::report::checklist::Links;
use crate::report::pdf::Paper;
use crate::report::readings;
use crate::server::{self, Settings};
use crate::store::Store;

pub use command::{DataFolder, tell};
pub use socket::Socket;

/// One question, as it goes over the socket.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Question {
    /// The record of a job.
    Record {
        /// Its number.
        job: JobId,
        /// Written how.
        form: Form,
        /// The address under which people reach the page; the server's own where none is said.
        #[serde(default)]
        public_url: Option<String>,
    },
    /// Labels for evaporators.
    Labels {
        /// Of which crew; none where there is but one.
        crew: Option<CrewId>,
        /// Of which of its evaporators.
        which: Which,
        /// What their codes open.
        opens: Option<Opens>,
        /// On this paper.
        paper: Paper,
        /// The address under which people reach the page; the server's own where none is said.
        public_url: Option<String>,
    },
    /// The public keys that ever sealed records, the one in use last.
    SealKeys,
    /// A new key to seal with; gives all keys, the new one last.
    RotateSealKey,
    /// A snapshot of everything.
    BackUp {
        /// Into this folder, from the root on.
        to: PathBuf,
    },
    /// Whether everything that is kept is as it was written.
    CheckData,
    /// A record that was written out, brought back.
    BringBack {
        /// Its file, from the root on.
        file: PathBuf,
        /// Keys that are trusted beside those of the server.
        keys: Vec<Fingerprint>,
    },
}

/// How a record is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Form {
    /// A sealed file that `verify` checks.
    Json {
        /// With the photos in it.
        photos: bool,
    },
    /// A page to read and print.
    Html,
    /// The readings as a table.
    Csv,
    /// The report as a PDF.
    Pdf {
        /// On this paper.
        paper: Paper,
    },
}

/// Answers a question over a desk.
///
/// # Errors
/// A sentence for the operator.
pub async fn answer(desk: &Desk, question: &Question) -> Result<Vec<u8>, String> {
    let answered = match question {
        Question::Record {
            job,
            form,
            public_url,
        } => record(desk, *job, *form, public_url.as_deref()).await,
        Question::Labels {
            crew,
            which,
            opens,
            paper,
            public_url,
        } => {
            let wanted = LabelsWanted {
                which: which.clone(),
                opens: *opens,
                paper: *paper,
                public_url: public_url.clone(),
            };
            desk.labels_as_operator(*crew, wanted).await
        }
        Question::SealKeys => keys(desk).await.map(String::into_bytes),
        Question::RotateSealKey => match desk.rotate_seal_key().await {
            Ok(_) => keys(desk).await.map(String::into_bytes),
            Err(error) => Err(error),
        },
        Question::BackUp { to } => backup::back_up(desk, to).await,
        Question::CheckData => backup::check_data(desk).await,
        Question::BringBack { file, keys } => backup::bring_back(desk, file, keys).await,
    };
    answered.map_err(|error| match error {
        DeskError::NotFound(what) => {
            format!("There is no such {what} in this data folder. Its number stands on its page.")
        }
        other => other.for_the_log(),
    })
}

async fn record(
    desk: &Desk,
    job: JobId,
    form: Form,
    public_url: Option<&str>,
) -> Result<Vec<u8>, DeskError> {
    match form {
        Form::Json { photos } => {
            let file = desk.record_file_as_operator(job, photos).await?;
            Ok(file.into_bytes())
        }
        Form::Html => {
            let list = desk.checklist_as_operator(job).await?;
            let links = Links {
                code: Some(desk.verify_code(&list, public_url)),
                ..Links::default()
            };
            let html = list.to_html(&links);
            let html = html.map_err(|error| DeskError::Fault(error.to_string()))?;
            Ok(html.into_bytes())
        }
        Form::Csv => {
            let list = desk.checklist_as_operator(job).await?;
            Ok(readings::csv(&list).into_bytes())
        }
        Form::Pdf { paper } => desk.pdf_as_operator(job, paper, public_url).await,
    }
}

/// A line for each key: fingerprint, public key, since when.
async fn keys(desk: &Desk) -> Result<String, DeskError> {
    let mut told = String::new();
    for known in desk.seal_keys().await? {
        let since = known.since.strftime("%Y-%m-%dT%H:%M:%SZ");
        told += &format!("{} {} since {since}\n", known.key.fingerprint(), known.key);
    }
    Ok(told)
}

/// Asks about a data folder: the server that runs over it, or the folder itself.
///
/// # Errors
/// A sentence for the operator.
pub async fn ask(data: &Path, question: &Question) -> Result<Vec<u8>, String> {
    if !data.is_dir() {
        return Err(format!(
            "There is no data folder {}. Say where it is with --data.",
            data.display()
        ));
    }
    if let Some(answered) = socket::call(data, question).await? {
        return answered;
    }
    let settings = Settings {
        data: data.to_owned(),
        flows: None,
        open_door: false,
        demo_goods: false,
        public_url: None,
        sessions: SessionLimits::default(),
        webhooks_to_private: false,
    };
    let opened = server::open(&settings).map_err(|error| error.to_string())?;
    let answered = answer(&opened.desk, question).await;
    opened
        .store
        .close()
        .await
        .map_err(|error| error.to_string())?;
    answered
}

/// Asks, waiting for the answer.
///
/// # Errors
/// As [`ask`].
pub fn ask_now(data: &Path, question: &Question) -> Result<Vec<u8>, String> {
    tokio::runtime::Builder::new_multi_thread()
        .worker_threads(2)
        .enable_all()
        .build()
        .map_err(|error| error.to_string())?
        .block_on(ask(data, question))
}
