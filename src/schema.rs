//! The `schema` command: a JSON Schema for editors of flows, kits and speed books, and for readers
//! of written records; and the OpenAPI document of the API.

use std::io::Write;
use std::path::PathBuf;
use std::process::ExitCode;

use crate::channel::api;
use crate::flow;
use crate::record;
use crate::trade::goods::schema;

/// Arguments of `schema`.
#[derive(Debug, clap::Args)]
pub struct SchemaArgs {
    /// Of what
    #[arg(value_enum, default_value_t = Of::Flow)]
    pub of: Of,
    /// The file to write; without it, the standard output
    #[arg(long, value_name = "FILE")]
    pub out: Option<PathBuf>,
}

/// What has a schema.
#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
pub enum Of {
    /// A flow
    Flow,
    /// A crew's kit
    Kit,
    /// A crew's speed book
    SpeedBook,
    /// A job's record as `fanwright record --json` writes it
    Record,
    /// The API for other programs, as an OpenAPI document
    Api,
}

/// Prints the schema; ends with 0, with 2 when it cannot be written.
pub fn run(args: &SchemaArgs, output: &mut dyn Write, error: &mut dyn Write) -> ExitCode {
    let text = match args.of {
        Of::Flow => format!("{:#}\n", flow::schema::schema()),
        Of::Kit => format!("{:#}\n", schema::kit()),
        Of::SpeedBook => format!("{:#}\n", schema::speed_book()),
        Of::Record => record::export::SCHEMA.to_owned(),
        Of::Api => format!("{:#}\n", api::document()),
    };
    let written = match &args.out {
        None => output
            .write_all(text.as_bytes())
            .map_err(|why| format!("The schema cannot be written: {why}.")),
        Some(file) => std::fs::write(file, text).map_err(|why| {
            let file = file.display();
            format!("{file} cannot be written: {why}. Check the folder.")
        }),
    };
    match written {
        Ok(()) => ExitCode::SUCCESS,
        Err(told) => {
            // Without a place to tell it, the exit status says it.
            drop(writeln!(error, "{told}"));
            ExitCode::from(2)
        }
    }
}
