//! The `seal-key` command: the public keys that seal records, and a new one.

use std::io::Write;
use std::process::ExitCode;

use crate::operator::{DataFolder, Question, ask_now, tell};

/// Arguments of `seal-key`.
#[derive(Debug, clap::Args)]
pub struct SealKeyArgs {
    /// Make a new key and seal with it from now on; the old ones stay known
    #[arg(long)]
    pub rotate: bool,
    /// The data folder
    #[command(flatten)]
    pub folder: DataFolder,
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
    tell(ask_now(&args.folder.data, &question), output, error)
}
