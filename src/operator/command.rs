//! What the operator's commands have in common: the data folder, and telling how it went.

use std::io::Write;
use std::path::PathBuf;
use std::process::ExitCode;

/// Which data folder a command is about.
#[derive(Debug, clap::Args)]
pub struct DataFolder {
    /// The data folder
    #[arg(
        long,
        value_name = "DIR",
        default_value = "data",
        env = "FANWRIGHT_DATA"
    )]
    pub data: PathBuf,
}

/// Tells what came of a command: what it gives to `output`, or what went wrong to `error`.
pub fn tell<'a>(
    came: Result<Vec<u8>, String>,
    output: &'a mut dyn Write,
    error: &'a mut dyn Write,
) -> ExitCode {
    let (to, told, status) = match came {
        Ok(told) => (output, told, ExitCode::SUCCESS),
        Err(told) => (error, format!("{told}\n").into_bytes(), ExitCode::FAILURE),
    };
    // Without anybody to tell it to, the exit status says it.
    drop(to.write_all(&told).and_then(|()| to.flush()));
    status
}
