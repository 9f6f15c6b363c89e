//! The `draw` command: a flow as a diagram, in a file or on the standard output.

use std::io::Write;
use std::path::PathBuf;
use std::process::ExitCode;

use crate::flow::embedded;
use crate::flow::library::Library;
use crate::flow::name::FlowName;
use crate::flow_files;
use crate::report::diagram;
use crate::report::picture;

/// Arguments of `draw`.
#[derive(Debug, clap::Args)]
pub struct DrawArgs {
    /// The name of the flow, such as `make-safe`
    pub flow: String,
    /// A folder of flows instead of the shipped ones
    #[arg(long, value_name = "DIR", env = "FANWRIGHT_FLOWS")]
    pub flows: Option<PathBuf>,
    /// As what it is drawn
    #[arg(long, value_enum, default_value_t = Format::Svg)]
    pub format: Format,
    /// The file to write; without it, the standard output
    #[arg(long, value_name = "FILE")]
    pub out: Option<PathBuf>,
}

/// As what a diagram is drawn.
#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
pub enum Format {
    /// Lines and letters that print at any size
    Svg,
    /// A picture for a chat or a letter
    Png,
    /// Text in the DOT language
    Dot,
}

/// Draws a flow; ends with 0, with 1 when there is no such flow, with 2 when something cannot be
/// read, drawn or written.
pub fn run(args: &DrawArgs, output: &mut dyn Write, error: &mut dyn Write) -> ExitCode {
    match drawn(args).and_then(|bytes| written(args, &bytes, output)) {
        Ok(()) => ExitCode::SUCCESS,
        Err((status, told)) => {
            // Without a place to tell it, the exit status says it.
            drop(writeln!(error, "{told}"));
            ExitCode::from(status)
        }
    }
}

fn drawn(args: &DrawArgs) -> Result<Vec<u8>, (u8, String)> {
    let sources = match &args.flows {
        Some(folder) => flow_files::read(folder).map_err(|told| (2, told))?,
        None => embedded::sources(),
    };
    let library = Library::load(sources).map_err(|problems| {
        let told: Vec<String> = problems.iter().map(ToString::to_string).collect();
        (2, told.join("\n"))
    })?;
    let name = FlowName::from(args.flow.as_str());
    let Some(diagram) = diagram::diagram(&library, &name) else {
        let names: Vec<&str> = library.flows().keys().map(FlowName::as_str).collect();
        let told = format!(
            "There is no flow `{name}`. There are: {}.",
            names.join(", ")
        );
        return Err((1, told));
    };
    let svg = || diagram::svg(&diagram, &diagram::sheet(&diagram));
    match args.format {
        Format::Svg => Ok(svg().into_bytes()),
        Format::Dot => Ok(diagram::dot(&diagram).into_bytes()),
        Format::Png => picture::sheet(&svg())
            .map(|png| png.bytes)
            .map_err(|why| (2, why.to_string())),
    }
}

fn written(args: &DrawArgs, bytes: &[u8], output: &mut dyn Write) -> Result<(), (u8, String)> {
    match &args.out {
        None => output
            .write_all(bytes)
            .map_err(|why| (2, format!("The drawing cannot be written: {why}."))),
        Some(file) => std::fs::write(file, bytes).map_err(|why| {
            let file = file.display();
            let told = format!("{file} cannot be written: {why}. Check the folder.");
            (2, told)
        }),
    }
}
