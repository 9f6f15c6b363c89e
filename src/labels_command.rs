//! The `labels` command: labels for evaporators as a PDF to print.

use std::fs;
use std::io::Write;
use std::path::PathBuf;
use std::process::ExitCode;

use crate::desk::id::{CrewId, EvaporatorId};
use crate::desk::labels::{Opens, Which};
use crate::operator::{DataFolder, Question, ask_now, tell};
use crate::report::pdf::Paper;
use crate::serve::options::public_url;

/// Arguments of `labels`.
#[derive(Debug, clap::Args)]
pub struct LabelsArgs {
    /// The PDF to write
    #[arg(long, value_name = "FILE")]
    pub pdf: PathBuf,
    /// Only of this evaporator, by its number
    #[arg(long, value_name = "NUMBER", conflicts_with = "site")]
    pub evaporator: Option<EvaporatorId>,
    /// Only of evaporators at this site
    #[arg(long, value_name = "NAME")]
    pub site: Option<String>,
    /// Of which crew; needed where there are several
    #[arg(long, value_name = "NUMBER")]
    pub crew: Option<CrewId>,
    /// The paper
    #[arg(long, value_enum, default_value_t)]
    pub paper: Paper,
    /// What the square codes open; the page if its address is known, or else the chat
    #[arg(long, value_enum)]
    pub opens: Option<Opens>,
    /// The address under which people reach the page
    #[arg(long, value_name = "URL", env = "FANWRIGHT_PUBLIC_URL")]
    pub public_url: Option<String>,
    /// The data folder
    #[command(flatten)]
    pub folder: DataFolder,
}

/// Writes the labels; `output` is told where.
pub fn run<'a>(args: &LabelsArgs, output: &'a mut dyn Write, error: &'a mut dyn Write) -> ExitCode {
    tell(write(args).map(String::into_bytes), output, error)
}

fn write(args: &LabelsArgs) -> Result<String, String> {
    if let Some(url) = &args.public_url {
        public_url(url)?;
    }
    let which = match (args.evaporator, &args.site) {
        (Some(id), _) => Which::One(id),
        (None, Some(site)) => Which::Site(site.clone()),
        (None, None) => Which::All,
    };
    let question = Question::Labels {
        crew: args.crew,
        which,
        opens: args.opens,
        paper: args.paper,
        public_url: args.public_url.clone(),
    };
    let bytes = ask_now(&args.folder.data, &question)?;
    let file = args.pdf.display();
    fs::write(&args.pdf, bytes).map_err(|problem| {
        format!("{file} could not be written: {problem}. Choose another place.")
    })?;
    Ok(format!("Written: {file}\n"))
}
