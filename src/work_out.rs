//! The `work-out` command: any named computation, on the command line or as JSON.

mod describe;
mod input;
mod show;
mod symbol;

use std::fs;
use std::io::{Read, Write};
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use crate::trade::formula::{Arguments, CannotWorkOut, Formula, Results};
use crate::trade::goods::Goods;
use crate::trade::kit::Kit;
use crate::trade::speed_book::SpeedBook;
use crate::trade::{formula_named, formulas};

/// More of a file or of standard input than this is refused.
const INPUT_BYTES_MAX: u64 = 4 * 1024 * 1024;

/// The arguments of `work-out`.
#[derive(Clone, Debug, Default, clap::Args)]
pub struct WorkOutArgs {
    /// The computation, such as energy_saved; --list shows them all
    pub name: Option<String>,
    /// Its inputs, such as watts_before=135W "hours=8760 h" amps=4.4A,3.2A
    #[arg(value_name = "KEY=VALUE", allow_hyphen_values = false)]
    pub inputs: Vec<String>,
    /// Answer with one JSON object; inputs too may be one, as OBJECT or on standard input
    #[arg(long, value_name = "OBJECT", num_args = 0..=1, default_missing_value = "")]
    pub json: Option<String>,
    /// Describe every computation, or only NAME
    #[arg(long)]
    pub list: bool,
    /// The kit file, for computations that choose from it
    #[arg(long, value_name = "FILE")]
    pub kit: Option<PathBuf>,
    /// The speed book file, for computations that look in it
    #[arg(long, value_name = "FILE")]
    pub speed_book: Option<PathBuf>,
    /// Describe NAME, or this command
    #[arg(long, short)]
    pub help: bool,
}

/// The program's standard streams, as arguments so that a test can give its own.
pub struct Streams<'a> {
    /// Standard input.
    pub input: &'a mut dyn Read,
    /// Standard output.
    pub output: &'a mut dyn Write,
    /// Standard error.
    pub error: &'a mut dyn Write,
}

/// Runs the command: 0 with a result, 1 where it cannot be worked out, 2 where it was not asked
/// properly.
pub fn run(mut args: WorkOutArgs, streams: &mut Streams<'_>) -> ExitCode {
    args.settle();
    match answer(&args, streams.input) {
        Ok(text) => {
            // A reader that went away, as `head` does, is no fault of this computation.
            let _ = writeln!(streams.output, "{}", text.trim_end());
            ExitCode::SUCCESS
        }
        Err(Refused::Unasked(why)) => {
            let _ = writeln!(streams.error, "{why}");
            ExitCode::from(2)
        }
        Err(Refused::CannotWorkOut(why)) => {
            if args.json.is_some() {
                let _ = writeln!(streams.output, "{}", show::refusal(&why));
            } else {
                let _ = writeln!(streams.error, "{why}");
            }
            ExitCode::from(1)
        }
    }
}

enum Refused {
    Unasked(String),
    CannotWorkOut(CannotWorkOut),
}

impl From<CannotWorkOut> for Refused {
    fn from(why: CannotWorkOut) -> Self {
        Self::CannotWorkOut(why)
    }
}

impl WorkOutArgs {
    /// `--json NAME key=value` reads NAME as the JSON; what does not open an object is the name.
    fn settle(&mut self) {
        let Some(json) = &self.json else { return };
        if json.is_empty() || json.trim_start().starts_with('{') {
            return;
        }
        if let Some(name) = self.name.replace(json.clone()) {
            self.inputs.insert(0, name);
        }
        self.json = Some(String::new());
    }
}

fn answer(args: &WorkOutArgs, stdin: &mut dyn Read) -> Result<String, Refused> {
    let Some(name) = &args.name else {
        return if args.list {
            Ok(formulas()
                .map(describe::whole)
                .collect::<Vec<_>>()
                .join("\n"))
        } else {
            Err(Refused::Unasked(
                "Say what to work out, such as `fanwright work-out energy_saved …`; \
                 `fanwright work-out --list` shows everything."
                    .into(),
            ))
        };
    };
    let formula = find(name)?;
    if args.list || args.help {
        return Ok(describe::whole(formula));
    }
    let arguments = arguments(formula, args, stdin)?;
    let kit = match &args.kit {
        Some(path) => Kit::read(&text_of(path)?).map_err(|why| named(path, &why))?,
        None => Kit::default(),
    };
    let speed_book = match &args.speed_book {
        Some(path) => SpeedBook::read(&text_of(path)?).map_err(|why| named(path, &why))?,
        None => SpeedBook::default(),
    };
    let goods = Goods {
        kit: &kit,
        speed_book: &speed_book,
    };
    let results: Results = formula.work_out(&arguments, &goods)?;
    Ok(match args.json {
        Some(_) => show::json(formula, &results),
        None => show::text(formula, &results),
    })
}

fn named(path: &Path, why: &dyn std::fmt::Display) -> Refused {
    Refused::CannotWorkOut(CannotWorkOut(format!("{}:{why}", path.display())))
}

fn text_of(path: &Path) -> Result<String, Refused> {
    let refuse = |why: &dyn std::fmt::Display| {
        Refused::Unasked(format!("{} cannot be read: {why}.", path.display()))
    };
    let file = fs::File::open(path).map_err(|why| refuse(&why))?;
    limited(&mut { file }).map_err(|why| refuse(&why))
}

fn limited(source: &mut dyn Read) -> Result<String, String> {
    let mut text = String::new();
    let mut limited = source.take(INPUT_BYTES_MAX + 1);
    limited
        .read_to_string(&mut text)
        .map_err(|why| why.to_string())?;
    if text.len() as u64 > INPUT_BYTES_MAX {
        return Err(format!("it is larger than {INPUT_BYTES_MAX} bytes"));
    }
    Ok(text)
}

fn find(name: &str) -> Result<&'static Formula, Refused> {
    let folded = name.trim().to_lowercase().replace('-', "_");
    formula_named(&folded).ok_or_else(|| {
        let near = input::nearest(&folded, formulas().map(|formula| formula.name));
        let hint = near.map_or_else(String::new, |near| format!(" Did you mean {near}?"));
        Refused::Unasked(format!(
            "There is no computation called {name}.{hint} `fanwright work-out --list` shows \
             everything."
        ))
    })
}

fn arguments(
    formula: &Formula,
    args: &WorkOutArgs,
    stdin: &mut dyn Read,
) -> Result<Arguments, Refused> {
    let mut arguments = Arguments::default();
    match args.json.as_deref() {
        Some(object) if !object.is_empty() => input::json(formula, object, &mut arguments)?,
        Some(_) if args.inputs.is_empty() && !formula.takes.is_empty() => {
            let text = limited(stdin).map_err(|why| {
                Refused::Unasked(format!("Standard input cannot be read: {why}."))
            })?;
            input::json(formula, &text, &mut arguments)?;
        }
        _ => {}
    }
    for pair in &args.inputs {
        input::pair(formula, pair, &mut arguments)?;
    }
    for parameter in formula.takes {
        if parameter.unless_given.is_none() && !arguments.has(parameter.name) {
            return Err(CannotWorkOut(format!(
                "{} is missing: {}. `fanwright work-out {} --help` shows all inputs.",
                parameter.name, parameter.about, formula.name
            ))
            .into());
        }
    }
    Ok(arguments)
}
