//! The `seal-key` command: the public keys that seal records, and a new one.

use std::io::Write;
use std::path::PathBuf;
use std::process::ExitCode;

use crate::operator::{Question, ask_now};

/// Arguments of `seal-key`.
#[derive(Debug, clap::Args)]
pub struct SealKeyArgs {
    /// Make a new key and seal with it from now on; the old ones stay known
    #[arg(long)]
    pub rotate: bool,
    /// The data folder
    #[arg(
        long,
        value_name = "DIR",
        default_value = "data",
        env = "FANWRIGHT_DATA"
    )]
    pub data: PathBuf,
}

/// Tells the keys, the one in use last.
pub fn run<'a>(
    args: &SealKeyArgs,
    output: &'a mut dyn Write,
    error: &'a mut dyn Write,
) -> ExitCode {
    let question = if args.rotate {
        Question::RotateSealKey
    } else {
        Question::SealKeys
    };
    let (to, told, status) = match ask_now(&args.data, &question) {
        Ok(told) => (output, told, ExitCode::SUCCESS),
        Err(told) => (error, format!("{told}\n").into_bytes(), ExitCode::FAILURE),
    };
    // Without anybody to tell it to, the exit status says it.
    drop(to.write_all(&told).and_then(|()| to.flush()));
    status
}
