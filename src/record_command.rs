//! The `record` command: a job's record as a file that stands on its own.

use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use crate::desk::id::JobId;
use crate::operator::{DataFolder, Form, Question, ask_now, tell};
use crate::report::pdf::Paper;
use crate::serve::options::public_url;

/// Arguments of `record`.
#[derive(Debug, clap::Args)]
pub struct RecordArgs {
    /// The job's number, as its checklist tells it
    pub job: JobId,
    /// Write it as one sealed JSON file, which `fanwright verify` checks
    #[arg(long, value_name = "FILE")]
    pub json: Option<PathBuf>,
    /// Write it as a page to read and print
    #[arg(long, value_name = "FILE")]
    pub html: Option<PathBuf>,
    /// Write its readings as a table
    #[arg(long, value_name = "FILE")]
    pub csv: Option<PathBuf>,
    /// Write it as a report to print and to hand to the owner
    #[arg(long, value_name = "FILE")]
    pub pdf: Option<PathBuf>,
    /// The paper of the PDF
    #[arg(long, value_enum, default_value_t, requires = "pdf")]
    pub paper: Paper,
    /// The address under which people reach the page, for the code on the report
    #[arg(long, value_name = "URL", env = "FANWRIGHT_PUBLIC_URL")]
    pub public_url: Option<String>,
    /// Put the photos into the JSON file, too
    #[arg(long, requires = "json")]
    pub photos: bool,
    /// The data folder
    #[command(flatten)]
    pub folder: DataFolder,
}

/// Writes what was asked for; `output` is told what was written where.
pub fn run<'a>(args: &RecordArgs, output: &'a mut dyn Write, error: &'a mut dyn Write) -> ExitCode {
    tell(write(args).map(String::into_bytes), output, error)
}

fn write(args: &RecordArgs) -> Result<String, String> {
    let photos = args.photos;
    let wanted = [
        (Form::Json { photos }, &args.json),
        (Form::Html, &args.html),
        (Form::Csv, &args.csv),
        (Form::Pdf { paper: args.paper }, &args.pdf),
    ];
    let wanted: Vec<(Form, &Path)> = wanted
        .iter()
        .filter_map(|(form, file)| Some((*form, file.as_deref()?)))
        .collect();
    if wanted.is_empty() {
        return Err(
            "Say what to write: --pdf FILE, --json FILE, --html FILE or --csv FILE.".to_owned(),
        );
    }
    if let Some(url) = &args.public_url {
        public_url(url)?;
    }
    let job = args.job;
    let mut told = String::new();
    for (form, file) in wanted {
        let question = Question::Record {
            job,
            form,
            public_url: args.public_url.clone(),
        };
        let bytes = ask_now(&args.folder.data, &question)?;
        fs::write(file, bytes).map_err(|problem| {
            let file = file.display();
            format!("{file} could not be written: {problem}. Choose another place.")
        })?;
        told += &format!("Written: {}\n", file.display());
    }
    Ok(told)
}
