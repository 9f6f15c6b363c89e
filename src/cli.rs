//! The command line: arguments in, one subcommand run.

use std::io::{stderr, stdin, stdout};
use std::process::ExitCode;

use clap::{CommandFactory, Parser, Subcommand};

use crate::backup_command::{self, BackupArgs};
use crate::chat::{self, ChatArgs};
use crate::check_command::{self, CheckArgs};
use crate::draw::{self, DrawArgs};
use crate::labels_command::{self, LabelsArgs};
use crate::record_command::{self, RecordArgs};
use crate::restore_command::{self, RestoreArgs};
use crate::schema::{self, SchemaArgs};
use crate::seal_key_command::{self, SealKeyArgs};
use crate::serve::{self, ServeArgs};
use crate::verify_command::{self, VerifyArgs};
use crate::work_out::{self, Streams, WorkOutArgs};

/// Walks refrigeration technicians through a dead evaporator fan.
#[derive(Debug, Parser)]
#[command(name = "fanwright", version, about)]
pub struct CommandLine {
    /// What to do.
    #[command(subcommand)]
    pub command: Command,
}

/// The subcommands.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Work out a number of the trade and show its formula and source
    #[command(disable_help_flag = true, bin_name = "fanwright work-out")]
    WorkOut(WorkOutArgs),
    /// Walk a job in this terminal
    Chat(ChatArgs),
    /// Run the server: the browser page and the chats
    Serve(ServeArgs),
    /// Check flow files and tell what is wrong with them, and where
    Check(CheckArgs),
    /// Draw a flow as a diagram for the wall
    Draw(DrawArgs),
    /// Print a JSON Schema for editors of flows, kits and speed books
    Schema(SchemaArgs),
    /// Write a job's record as a file that stands on its own
    Record(RecordArgs),
    /// Write labels for evaporators, to print and to stick on them
    Labels(LabelsArgs),
    /// Check that a record was not changed since it was written out
    Verify(VerifyArgs),
    /// Tell the public keys that seal records, or make a new key
    SealKey(SealKeyArgs),
    /// Back up the data, or prove that a backup can be read
    Backup(BackupArgs),
    /// Make a data folder out of a backup, and bring records back
    Restore(RestoreArgs),
}

/// Runs the subcommand that the program's arguments ask for.
pub fn run() -> ExitCode {
    match CommandLine::parse().command {
        Command::WorkOut(args) if args.help && args.name.is_none() => help_of("work-out"),
        Command::Chat(args) => chat::run(&args),
        Command::Serve(args) => serve::run(&args),
        Command::Check(args) => check_command::run(&args, &mut stdout().lock()),
        Command::Schema(args) => schema::run(&args, &mut stdout().lock(), &mut stderr().lock()),
        Command::Draw(args) => draw::run(&args, &mut stdout().lock(), &mut stderr().lock()),
        Command::Record(args) => {
            record_command::run(&args, &mut stdout().lock(), &mut stderr().lock())
        }
        Command::Labels(args) => {
            labels_command::run(&args, &mut stdout().lock(), &mut stderr().lock())
        }
        Command::Verify(args) => {
            verify_command::run(&args, &mut stdout().lock(), &mut stderr().lock())
        }
        Command::SealKey(args) => {
            seal_key_command::run(&args, &mut stdout().lock(), &mut stderr().lock())
        }
        Command::Backup(args) => {
            backup_command::run(&args, &mut stdout().lock(), &mut stderr().lock())
        }
        Command::Restore(args) => {
            restore_command::run(&args, &mut stdout().lock(), &mut stderr().lock())
        }
        Command::WorkOut(args) => work_out::run(
            args,
            &mut Streams {
                input: &mut stdin().lock(),
                output: &mut stdout().lock(),
                error: &mut stderr().lock(),
            },
        ),
    }
}

fn help_of(subcommand: &str) -> ExitCode {
    let mut command = CommandLine::command();
    let shown = command
        .find_subcommand_mut(subcommand)
        .map(clap::Command::print_long_help);
    match shown {
        Some(Ok(())) => ExitCode::SUCCESS,
        _ => ExitCode::FAILURE,
    }
}
