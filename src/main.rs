//! The `fanwright` program: arguments to one of the subcommands, nothing else.

use std::process::ExitCode;

fn main() -> ExitCode {
    fanwright::cli::run()
}
