//! The `record` command: a job's record as a file that stands on its own.

use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use crate::desk::id::JobId;
use crate::operator::{Form, Question, ask_now};

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
    /// Put the photos into the JSON file, too
    #[arg(long, requires = "json")]
    pub photos: bool,
    /// The data folder
    #[arg(
        long,
        value_name = "DIR",
        default_value = "data",
        env = "FANWRIGHT_DATA"
    )]
    pub data: PathBuf,
}

/// Writes what was asked for; `output` is told what was written where.
pub fn run<'a>(args: &RecordArgs, output: &'a mut dyn Write, error: &'a mut dyn Write) -> ExitCode {
    let (to, told, status) = match write(args) {
        Ok(told) => (output, told, ExitCode::SUCCESS),
        Err(told) => (error, format!("{told}\n"), ExitCode::FAILURE),
    };
    // Without anybody to tell it to, the exit status says it.
    drop(to.write_all(told.as_bytes()).and_then(|()| to.flush()));
    status
}

fn write(args: &RecordArgs) -> Result<String, String> {
    let photos = args.photos;
    let wanted = [
        (Form::Json { photos }, &args.json),
        (Form::Html, &args.html),
        (Form::Csv, &args.csv),
    ];
    let wanted: Vec<(Form, &Path)> = wanted
        .iter()
        .filter_map(|(form, file)| Some((*form, file.as_deref()?)))
        .collect();
    if wanted.is_empty() {
        return Err("Say what to write: --json FILE, --html FILE or --csv FILE.".to_owned());
    }
    let job = args.job;
    let mut told = String::new();
    for (form, file) in wanted {
        let text = ask_now(&args.data, &Question::Record { job, form })?;
        fs::write(file, text).map_err(|problem| {
            let file = file.display();
            format!("{file} could not be written: {problem}. Choose another place.")
        })?;
        told += &format!("Written: {}\n", file.display());
    }
    Ok(told)
}
