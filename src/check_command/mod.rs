//! The `check` command.

mod human;
mod json;
mod sarif;
mod watch;

use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use clap::ValueEnum;

use crate::check::{self, Finding};
use crate::flow::embedded;
use crate::flow::library::{Library, Sources};
use crate::flow_files;

/// Arguments of `check`.
#[derive(Debug, clap::Args)]
pub struct CheckArgs {
    /// A folder with flow files; without it, the flows that come with the program
    pub folder: Option<PathBuf>,
    /// How the findings are written
    #[arg(long, value_enum, default_value_t = Format::Human)]
    pub format: Format,
    /// Print the page of a finding name instead, or of all with `--explain all`
    #[arg(long, value_name = "NAME")]
    pub explain: Option<String>,
    /// Check again whenever a file of the folder changes, until stopped
    #[arg(long, requires = "folder")]
    pub watch: bool,
}

/// How findings are written.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum Format {
    /// Text for people, with the line of the file
    Human,
    /// One JSON object
    Json,
    /// SARIF 2.1.0, for tools that show findings beside the lines
    Sarif,
}

/// What was checked, and what was found.
pub(crate) struct Checked {
    /// The folder; none for the flows that come with the program.
    pub(crate) folder: Option<PathBuf>,
    /// The files and pictures.
    pub(crate) sources: Sources,
    /// What is wrong with them.
    pub(crate) findings: Vec<Finding>,
    /// How many flows there are, where they could be loaded.
    pub(crate) flows: usize,
    /// How many steps there are, where they could be loaded.
    pub(crate) steps: usize,
}

impl Checked {
    /// Reads and checks a folder, or the flows that come with the program.
    fn of(folder: Option<&Path>) -> Result<Self, String> {
        let (sources, unreadable) = match folder {
            Some(folder) => flow_files::read_leniently(folder)?,
            None => (embedded::sources(), Vec::new()),
        };
        let mut checked = Self {
            folder: folder.map(Path::to_owned),
            sources,
            findings: unreadable.iter().map(check::of_problem).collect(),
            flows: 0,
            steps: 0,
        };
        if checked.findings.is_empty() {
            match Library::load(checked.sources.clone()) {
                Ok(library) => {
                    let flows = library.flows().values();
                    checked.flows = flows.len();
                    checked.steps = flows.map(|flow| flow.steps.len()).sum();
                    checked.findings = check::of_library(&library);
                }
                Err(problems) => {
                    checked.findings = problems.iter().map(check::of_problem).collect();
                }
            }
        }
        Ok(checked)
    }

    /// The path of a file, as it was given.
    pub(crate) fn path(&self, file: &str) -> String {
        let folder = self.folder.as_deref().unwrap_or(Path::new("flows"));
        folder.join(file).display().to_string()
    }

    /// A line of a file, from 1.
    pub(crate) fn line(&self, file: &str, line: u32) -> Option<&str> {
        let index = usize::try_from(line).ok()?.checked_sub(1)?;
        self.sources.files.get(file)?.lines().nth(index)
    }

    fn status(&self) -> u8 {
        u8::from(!self.findings.is_empty())
    }
}

/// Checks flows and tells what is wrong with them.
///
/// Ends with 0 when nothing is, with 1 when something is, with 2 when it could not be done.
pub fn run(args: &CheckArgs, output: &mut dyn Write) -> ExitCode {
    let done = match &args.explain {
        Some(name) => explain(name, output),
        None if args.watch => watch::run(args, output),
        None => once(args, output),
    };
    match done {
        Ok(status) => ExitCode::from(status),
        Err(told) => {
            // The reader of the output may be gone; then nobody can be told.
            drop(writeln!(output, "{told}"));
            ExitCode::from(2)
        }
    }
}

fn once(args: &CheckArgs, output: &mut dyn Write) -> Result<u8, String> {
    let checked = Checked::of(args.folder.as_deref())?;
    let told = told(&checked, args.format)?;
    writeln!(output, "{told}").map_err(|why| format!("The findings cannot be written: {why}."))?;
    Ok(checked.status())
}

/// The findings in a format, without a line's end after them.
fn told(checked: &Checked, format: Format) -> Result<String, String> {
    match format {
        Format::Human => Ok(human::told(checked)),
        Format::Json => json::told(checked),
        Format::Sarif => sarif::told(checked),
    }
}

fn explain(name: &str, output: &mut dyn Write) -> Result<u8, String> {
    let texts: Vec<&str> = if name == "all" {
        check::pages().map(|page| page.text).collect()
    } else {
        check::page(name)
            .map(|page| page.text)
            .into_iter()
            .collect()
    };
    if texts.is_empty() {
        let names: Vec<String> = check::pages()
            .map(|page| format!("`{}`", page.name))
            .collect();
        return Err(format!(
            "No finding is called `{name}`. It can be {}.",
            names.join(", ")
        ));
    }
    writeln!(output, "{}", texts.join("\n").trim_end())
        .map_err(|why| format!("The page cannot be written: {why}."))?;
    Ok(0)
}
