//! What the operator chose for `serve`: arguments first, then the environment, then a file.

use std::net::SocketAddr;
use std::path::PathBuf;

use figment::Figment;
use figment::providers::{Format, Serialized, Toml};
use serde::{Deserialize, Serialize};

/// Arguments of `serve`.
///
/// Each may also stand in the environment or, under its own name, in the file of `--config`; an
/// argument goes before the environment, the environment before the file.
#[derive(Clone, Debug, Default, clap::Args, Serialize)]
#[serde(rename_all = "kebab-case")]
pub struct ServeArgs {
    /// A TOML file with these options
    #[arg(long, value_name = "FILE", env = "FANWRIGHT_CONFIG")]
    #[serde(skip)]
    pub config: Option<PathBuf>,
    /// The data folder [default: data]
    #[arg(long, value_name = "DIR", env = "FANWRIGHT_DATA")]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub data: Option<PathBuf>,
    /// Where the browser page listens; port 0 picks a free one [default: 127.0.0.1:8787]
    #[arg(long, value_name = "ADDRESS:PORT", env = "FANWRIGHT_LISTEN")]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub listen: Option<SocketAddr>,
    /// A folder of flows instead of the shipped ones
    #[arg(long, value_name = "DIR", env = "FANWRIGHT_FLOWS")]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub flows: Option<PathBuf>,
    /// The address under which the chat service reaches this server; without it, it is polled
    #[arg(long, value_name = "URL", env = "FANWRIGHT_WEBHOOK_URL")]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub webhook_url: Option<String>,
    /// Begin with an invented crew, its evaporators and jobs
    #[arg(
        long,
        env = "FANWRIGHT_DEMO",
        num_args = 0..=1,
        require_equals = true,
        default_missing_value = "true"
    )]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub demo: Option<bool>,
    /// Let anybody join as an apprentice, without a code
    #[arg(
        long,
        env = "FANWRIGHT_OPEN_DOOR",
        num_args = 0..=1,
        require_equals = true,
        default_missing_value = "true"
    )]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub open_door: Option<bool>,
    /// Let other programs be called at private addresses, and without encryption
    #[arg(
        long,
        env = "FANWRIGHT_WEBHOOKS_TO_PRIVATE",
        num_args = 0..=1,
        require_equals = true,
        default_missing_value = "true"
    )]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub webhooks_to_private: Option<bool>,
    /// Messages a second to all chats together [default: what the chat service allows]
    #[arg(long, value_name = "NUMBER", env = "FANWRIGHT_SEND_RATE")]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub send_rate: Option<f64>,
}

/// All options of `serve`, settled.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub struct Options {
    /// The data folder.
    pub data: PathBuf,
    /// Where the browser page listens.
    pub listen: SocketAddr,
    /// A folder of flows instead of the shipped ones.
    pub flows: Option<PathBuf>,
    /// The address under which the chat service reaches this server.
    pub webhook_url: Option<String>,
    /// Whether to begin with an invented crew.
    pub demo: bool,
    /// Whether anybody may join as an apprentice.
    pub open_door: bool,
    /// Messages a second to all chats together.
    pub send_rate: Option<f64>,
    /// Whether other programs may be called at private addresses and without encryption.
    pub webhooks_to_private: bool,
}

impl Default for Options {
    fn default() -> Self {
        Self {
            data: PathBuf::from("data"),
            listen: SocketAddr::from(([127, 0, 0, 1], 8787)),
            flows: None,
            webhook_url: None,
            demo: false,
            open_door: false,
            send_rate: None,
            webhooks_to_private: false,
        }
    }
}

impl Options {
    /// Settles what was given.
    ///
    /// # Errors
    /// A sentence for the operator: the file is not there, or an option in it is wrong.
    pub fn settle(args: &ServeArgs) -> Result<Options, String> {
        let mut figment = Figment::from(Serialized::defaults(Options::default()));
        if let Some(file) = &args.config {
            if !file.is_file() {
                let file = file.display();
                return Err(format!(
                    "There is no file {file}. Check the path of --config."
                ));
            }
            figment = figment.merge(Toml::file_exact(file));
        }
        let options: Options = figment
            .merge(Serialized::defaults(args))
            .extract()
            .map_err(|error| format!("The options cannot be used: {error}."))?;
        match options.send_rate {
            Some(rate) if !(rate.is_finite() && rate > 0.0) => {
                Err("The send rate must be a number above zero, like 20.".to_owned())
            }
            _ => Ok(options),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn file(text: &str) -> tempfile::NamedTempFile {
        let file = tempfile::NamedTempFile::new().unwrap();
        std::fs::write(file.path(), text).unwrap();
        file
    }

    #[test]
    fn nothing_given_is_the_published_default() {
        let options = Options::settle(&ServeArgs::default()).unwrap();
        assert_eq!(options, Options::default());
        assert_eq!(options.listen.to_string(), "127.0.0.1:8787");
    }

    #[test]
    fn an_argument_goes_before_the_file_and_the_file_before_the_default() {
        let file = file("listen = \"127.0.0.1:9000\"\ndemo = true\ndata = \"elsewhere\"\n");
        let args = ServeArgs {
            config: Some(file.path().to_owned()),
            data: Some(PathBuf::from("here")),
            demo: Some(false),
            ..ServeArgs::default()
        };
        let options = Options::settle(&args).unwrap();
        assert_eq!(options.data, PathBuf::from("here"));
        assert_eq!(options.listen.port(), 9000);
        assert!(!options.demo);
    }

    #[test]
    fn an_unknown_word_or_a_wrong_value_in_the_file_is_told() {
        for (text, word) in [
            ("lissten = 1\n", "lissten"),
            ("listen = \"nowhere\"\n", "listen"),
            ("send-rate = 0.0\n", "send rate"),
        ] {
            let file = file(text);
            let args = ServeArgs {
                config: Some(file.path().to_owned()),
                ..ServeArgs::default()
            };
            let told = Options::settle(&args).unwrap_err();
            assert!(told.contains(word), "{told}");
        }
        let args = ServeArgs {
            config: Some(PathBuf::from("no/such/file.toml")),
            ..ServeArgs::default()
        };
        assert!(Options::settle(&args).unwrap_err().contains("no/such/file"));
    }
}
