//! The `restore` command: a data folder out of a backup, and records brought back.

use std::io::Write;
use std::path::PathBuf;
use std::process::ExitCode;

use crate::backup_command::Opening;
use crate::operator::backup::restored;
use crate::operator::{Question, ask_now};
use crate::record::seal::Fingerprint;
use crate::store::{Restoring, UpTo, restore};

/// Arguments of `restore`.
#[derive(Debug, clap::Args)]
pub struct RestoreArgs {
    /// The folder of the backup; left out, records are brought back into a folder that is there
    #[arg(required_unless_present = "records")]
    pub from: Option<PathBuf>,
    /// The data folder to make; empty or not there yet
    #[arg(long, value_name = "DIR")]
    pub data: PathBuf,
    /// Restore only up to here, this included: a time, a frame's number, or an entry (job:…/24)
    #[arg(long, value_name = "POINT", requires = "from")]
    pub up_to: Option<UpTo>,
    /// Restore this snapshot instead of the last one
    #[arg(long, value_name = "NUMBER", requires = "from")]
    pub snapshot: Option<u32>,
    /// Bring back records that were written out as JSON, too
    #[arg(long, value_name = "FILE", num_args = 1..)]
    pub records: Vec<PathBuf>,
    /// A key that sealed records and that the backup does not know
    #[arg(long, value_name = "FINGERPRINT", requires = "records")]
    pub key: Vec<Fingerprint>,
    /// What opens the backup
    #[command(flatten)]
    pub opening: Opening,
}

/// Restores; ends with 0 if everything is there, 1 if something is not.
pub fn run<'a>(
    args: &RestoreArgs,
    output: &'a mut dyn Write,
    error: &'a mut dyn Write,
) -> ExitCode {
    let say = |told: &str, to: &mut dyn Write| {
        // Without anybody to tell it to, the exit status says it.
        drop(writeln!(to, "{}", told.trim_end()).and_then(|()| to.flush()));
    };
    if let Some(from) = &args.from {
        match from_backup(args, from.clone()) {
            Ok(told) => say(&told, output),
            Err(told) => {
                say(&told, error);
                return ExitCode::FAILURE;
            }
        }
    }
    let mut refused = 0;
    for file in &args.records {
        let named = file.display();
        match bring_back(args, file.clone()) {
            Ok(told) => say(&format!("{named}: {told}"), output),
            Err(told) => {
                refused += 1;
                say(&format!("{named} was not brought back. {told}"), error);
            }
        }
    }
    match refused {
        0 => ExitCode::SUCCESS,
        _ => ExitCode::FAILURE,
    }
}

fn from_backup(args: &RestoreArgs, from: PathBuf) -> Result<String, String> {
    let wanted = Restoring {
        from,
        to: args.data.clone(),
        snapshot: args.snapshot,
        up_to: args.up_to,
        opener: args.opening.opener()?,
    };
    let made = restore(&wanted).map_err(|error| error.to_string())?;
    Ok(restored(&made, &args.data))
}

fn bring_back(args: &RestoreArgs, file: PathBuf) -> Result<String, String> {
    // The server may have been started elsewhere.
    let file = std::path::absolute(file).map_err(|error| error.to_string())?;
    let question = Question::BringBack {
        file,
        keys: args.key.clone(),
    };
    let told = ask_now(&args.data, &question)?;
    String::from_utf8(told).map_err(|error| error.to_string())
}
