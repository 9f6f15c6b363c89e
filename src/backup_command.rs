//! The `backup` command: snapshots of the data, and the proof that they can be read.

use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use crate::desk::chance::SystemChance;
use crate::desk::clock::{Clock, MachineClock};
use crate::desk::seal_keys::SealKeys;
use crate::operator::backup::{Looked, backed_up, verified};
use crate::operator::{DataFolder, Question, ask_now, tell};
use crate::store::{
    BackUp, BackupFolder, For, Opener, StoreError, back_up_readable, verify_backup,
};

/// Arguments of `backup`.
#[derive(Debug, clap::Args)]
pub struct BackupArgs {
    /// The folder to back up into; made if it is not there
    #[arg(required_unless_present_any = ["verify", "check_data"])]
    pub to: Option<PathBuf>,
    /// Read a whole backup back and say whether it is good
    #[arg(long, value_name = "FOLDER", conflicts_with_all = ["to", "check_data"])]
    pub verify: Option<PathBuf>,
    /// Read the whole data folder and say whether it is good
    #[arg(long, conflicts_with = "to")]
    pub check_data: bool,
    /// Encrypt a new backup to this recipient (age1…); may be given several times
    #[arg(long, value_name = "RECIPIENT", conflicts_with = "passphrase_file")]
    pub encrypt_to: Vec<String>,
    /// A file with the passphrase: of a new backup, or of the one to verify
    #[command(flatten)]
    pub opening: Opening,
    /// Back up what can be read of a damaged data folder
    #[arg(long, requires = "to")]
    pub readable: bool,
    /// The data folder
    #[command(flatten)]
    pub folder: DataFolder,
}

/// What opens an encrypted backup.
#[derive(Debug, clap::Args)]
pub struct Opening {
    /// A file with the passphrase of the backup
    #[arg(long, value_name = "FILE", env = "FANWRIGHT_BACKUP_PASSPHRASE_FILE")]
    pub passphrase_file: Option<PathBuf>,
    /// A file with the identity (AGE-SECRET-KEY-1…) that opens the backup
    #[arg(long, value_name = "FILE", conflicts_with = "passphrase_file")]
    pub identity: Option<PathBuf>,
}

impl Opening {
    /// What it says.
    ///
    /// # Errors
    /// A sentence for the operator.
    pub fn opener(&self) -> Result<Opener, String> {
        if let Some(file) = &self.identity {
            return Ok(Opener::Identity(read(file)?));
        }
        Ok(match self.passphrase()? {
            Some(passphrase) => Opener::Passphrase(passphrase),
            None => Opener::Nothing,
        })
    }

    fn passphrase(&self) -> Result<Option<String>, String> {
        let Some(file) = &self.passphrase_file else {
            return Ok(None);
        };
        let text = read(file)?;
        let passphrase = text.lines().next().unwrap_or_default();
        match passphrase.is_empty() {
            true => Err(format!(
                "The first line of {} should be the passphrase, and is empty.",
                file.display()
            )),
            false => Ok(Some(passphrase.to_owned())),
        }
    }
}

fn read(file: &Path) -> Result<String, String> {
    fs::read_to_string(file).map_err(|problem| {
        let file = file.display();
        format!("{file} cannot be read: {problem}. Check its name.")
    })
}

/// Something could not be looked at.
const CANNOT: u8 = 2;

/// Backs up, or reads back: then it ends with 0 if all is good, 1 if something is damaged, 2 if it
/// could not be read.
pub fn run<'a>(args: &BackupArgs, output: &'a mut dyn Write, error: &'a mut dyn Write) -> ExitCode {
    let looked = match (&args.verify, args.check_data) {
        (Some(folder), _) => verify(folder, &args.opening),
        (None, true) => check_data(&args.folder.data),
        (None, false) => {
            return tell(back_up(args).map(String::into_bytes), output, error);
        }
    };
    let (to, told, status) = match looked {
        Ok(Looked { whole, told }) => (output, told, u8::from(!whole)),
        Err(told) => (error, told, CANNOT),
    };
    // Without anybody to tell it to, the exit status says it.
    drop(writeln!(to, "{}", told.trim_end()).and_then(|()| to.flush()));
    ExitCode::from(status)
}

fn verify(folder: &Path, opening: &Opening) -> Result<Looked, String> {
    match verify_backup(folder, &opening.opener()?) {
        Ok(checked) => Ok(Looked {
            whole: true,
            told: verified(&checked),
        }),
        Err(damage @ StoreError::BackupDamaged { .. }) => Ok(Looked {
            whole: false,
            told: damage.to_string(),
        }),
        Err(other) => Err(other.to_string()),
    }
}

fn check_data(data: &Path) -> Result<Looked, String> {
    let answered = ask_now(data, &Question::CheckData)?;
    serde_json::from_slice(&answered).map_err(|error| {
        format!("The server answered in another way than this program asks: {error}.")
    })
}

fn back_up(args: &BackupArgs) -> Result<String, String> {
    let in_words = |error: StoreError| error.to_string();
    let to = args.to.clone().unwrap_or_default();
    // The server may have been started elsewhere.
    let to = std::path::absolute(&to)
        .map_err(|problem| format!("{} is no place for a backup: {problem}.", to.display()))?;
    let wanted = match args.opening.passphrase()? {
        Some(passphrase) => For::Passphrase(passphrase),
        None if args.encrypt_to.is_empty() => For::Anybody,
        None => For::Recipients(args.encrypt_to.clone()),
    };
    let data = &args.folder.data;
    if !data.is_dir() {
        return Err(format!(
            "There is no data folder {}. Say where it is with --data.",
            data.display()
        ));
    }
    match BackupFolder::is_there(&to) {
        true => BackupFolder::open(&to).and_then(|folder| folder.must_be(&wanted)),
        // Whoever runs the server never learns the passphrase.
        false => BackupFolder::make(&to, &wanted).map(drop),
    }
    .map_err(in_words)?;
    if !args.readable {
        let told = ask_now(data, &Question::BackUp { to })?;
        return String::from_utf8(told).map_err(|error| error.to_string());
    }
    let keys = SealKeys::in_folder(data, &SystemChance).map_err(|error| error.to_string())?;
    let order = BackUp {
        to: to.clone(),
        at: MachineClock::new().now(),
        key: keys.in_use(),
        secret: keys.secret().map_err(|error| error.to_string())?,
    };
    let taken = back_up_readable(data, &order).map_err(in_words)?;
    Ok(backed_up(&taken, &to))
}
