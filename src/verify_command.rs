//! The `verify` command: was a record changed since it was written out? It needs no server.

use std::fs;
use std::io::Write;
use std::path::PathBuf;
use std::process::ExitCode;

use crate::record::hex::Hex;
use crate::record::seal::{Fingerprint, PublicKey};
use crate::record::verify::{Verdict, verify};

/// Arguments of `verify`.
#[derive(Debug, clap::Args)]
pub struct VerifyArgs {
    /// The file that `fanwright record --json` or the page wrote
    pub file: PathBuf,
    /// The key that it must be sealed with: its fingerprint, or a file with keys or fingerprints
    #[arg(long, value_name = "FINGERPRINT-OR-FILE")]
    pub key: Vec<String>,
}

/// The file could not be checked.
const CANNOT: u8 = 2;

/// Checks a file; ends with 0 if it is intact, 1 if it was changed or the signer is another one,
/// 2 if it cannot be read.
pub fn run<'a>(args: &VerifyArgs, output: &'a mut dyn Write, error: &'a mut dyn Write) -> ExitCode {
    let (to, lines, status) = match check(args) {
        Ok((verdict, lines)) => {
            let intact = matches!(verdict, Verdict::Intact | Verdict::Confirmed);
            (output, lines, u8::from(!intact))
        }
        Err(told) => (error, vec![told], CANNOT),
    };
    let told = lines.join("\n") + "\n";
    // Without anybody to tell it to, the exit status says it.
    drop(to.write_all(told.as_bytes()).and_then(|()| to.flush()));
    ExitCode::from(status)
}

fn check(args: &VerifyArgs) -> Result<(Verdict, Vec<String>), String> {
    let mut known = Vec::new();
    for given in &args.key {
        known.extend(keys(given)?);
    }
    let file = fs::read(&args.file).map_err(|problem| {
        let file = args.file.display();
        format!("{file} cannot be read: {problem}. Check its name.")
    })?;
    let report = verify(&file).map_err(|told| told.to_string())?;
    Ok((report.verdict(&known), report.lines(&known)))
}

/// The keys that somebody names: by a fingerprint, or by a file that has some.
fn keys(given: &str) -> Result<Vec<Fingerprint>, String> {
    if let Some(key) = named(given) {
        return Ok(vec![key]);
    }
    let text = fs::read_to_string(given).map_err(|_| {
        format!(
            "“{given}” is neither a fingerprint nor a file that can be read. A fingerprint is 24 \
             letters in groups of four."
        )
    })?;
    let found: Vec<Fingerprint> = text.split_whitespace().filter_map(named).collect();
    if found.is_empty() {
        return Err(format!(
            "The file {given} has no key and no fingerprint in it."
        ));
    }
    Ok(found)
}

/// A fingerprint, or the one of a public key.
fn named(word: &str) -> Option<Fingerprint> {
    let of_key = || Some(PublicKey(Hex::read(word)?).fingerprint());
    word.parse().ok().or_else(of_key)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::seal::{SEED_BYTES, SigningKey};

    #[test]
    fn a_key_is_named_by_fingerprint_key_or_file() {
        let key = SigningKey::from_seed(&[1; SEED_BYTES]).unwrap().public();
        let print = key.fingerprint();
        assert_eq!(keys(&print.to_string()), Ok(vec![print]));
        assert_eq!(keys(&key.to_string()), Ok(vec![print]));
        let file = tempfile::NamedTempFile::new().unwrap();
        fs::write(file.path(), format!("{print} {key} since 2031-05-04\n")).unwrap();
        let path = file.path().to_str().unwrap();
        assert_eq!(keys(path), Ok(vec![print, print]));
        fs::write(file.path(), "nothing of use\n").unwrap();
        assert!(keys(path).unwrap_err().contains("has no key"));
        assert!(keys("no/such/file").unwrap_err().contains("neither"));
    }
}
