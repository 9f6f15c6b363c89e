//! What the operator chose for `serve`: arguments first, then the environment, then a file.

use std::net::SocketAddr;
use std::path::PathBuf;

use figment::Figment;
use figment::providers::{Format, Serialized, Toml};
use jiff::SignedDuration;
use serde::{Deserialize, Serialize};

use crate::desk::sessions::SessionLimits;

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
    /// Where monitoring may read /metrics; not to be reached from outside [default: nowhere]
    #[arg(long, value_name = "ADDRESS:PORT", env = "FANWRIGHT_METRICS_LISTEN")]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub metrics_listen: Option<SocketAddr>,
    /// A folder of flows instead of the shipped ones
    #[arg(long, value_name = "DIR", env = "FANWRIGHT_FLOWS")]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub flows: Option<PathBuf>,
    /// The address under which the chat service reaches this server; without it, it is polled
    #[arg(long, value_name = "URL", env = "FANWRIGHT_WEBHOOK_URL")]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub webhook_url: Option<String>,
    /// The address under which people reach the page, for the codes on reports
    #[arg(long, value_name = "URL", env = "FANWRIGHT_PUBLIC_URL")]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub public_url: Option<String>,
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
    /// After so many hours without use a browser is signed out [default: 168]
    #[arg(long, value_name = "HOURS", env = "FANWRIGHT_SESSION_IDLE_HOURS")]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub session_idle_hours: Option<u16>,
    /// After so many hours a browser is signed out, used or not [default: 720]
    #[arg(long, value_name = "HOURS", env = "FANWRIGHT_SESSION_HOURS")]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub session_hours: Option<u16>,
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
    /// Where monitoring may read `/metrics`.
    pub metrics_listen: Option<SocketAddr>,
    /// A folder of flows instead of the shipped ones.
    pub flows: Option<PathBuf>,
    /// The address under which the chat service reaches this server.
    pub webhook_url: Option<String>,
    /// The address under which people reach the page.
    pub public_url: Option<String>,
    /// Whether to begin with an invented crew.
    pub demo: bool,
    /// Whether anybody may join as an apprentice.
    pub open_door: bool,
    /// After so many hours without use a browser is signed out.
    pub session_idle_hours: u16,
    /// After so many hours a browser is signed out.
    pub session_hours: u16,
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
            metrics_listen: None,
            flows: None,
            webhook_url: None,
            public_url: None,
            demo: false,
            open_door: false,
            session_idle_hours: 7 * 24,
            session_hours: 30 * 24,
            send_rate: None,
            webhooks_to_private: false,
        }
    }
}

impl Options {
    /// How long browsers stay signed in.
    pub fn sessions(&self) -> SessionLimits {
        SessionLimits {
            idle: SignedDuration::from_hours(self.session_idle_hours.into()),
            most: SignedDuration::from_hours(self.session_hours.into()),
        }
    }

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
        if let Some(url) = &options.public_url {
            public_url(url)?;
        }
        if options.session_idle_hours == 0 || options.session_hours == 0 {
            return Err("A session must last an hour at least, like 168.".to_owned());
        }
        match options.send_rate {
            Some(rate) if !(rate.is_finite() && rate > 0.0) => {
                Err("The send rate must be a number above zero, like 20.".to_owned())
            }
            _ => Ok(options),
        }
    }
}

/// Checks the address under which people reach the page.
///
/// # Errors
/// A sentence for the operator where it is none.
pub fn public_url(url: &str) -> Result<(), String> {
    let parsed = reqwest::Url::parse(url).ok();
    let whole = parsed.filter(|url| {
        matches!(url.scheme(), "http" | "https")
            && url.has_host()
            && url.query().is_none()
            && url.fragment().is_none()
            && url.as_str().len() <= PUBLIC_URL_MAX
    });
    whole.map(drop).ok_or_else(|| {
        format!(
            "`{url}` is no address for --public-url. Say it like https://fans.example.org, at \
             most {PUBLIC_URL_MAX} characters."
        )
    })
}

/// A longer address makes a code that a phone cannot read off paper.
const PUBLIC_URL_MAX: usize = 200;

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
        assert_eq!(options.sessions(), SessionLimits::default());
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
            ("public-url = \"fans.example.org\"\n", "public-url"),
            ("public-url = \"ftp://fans.example.org\"\n", "public-url"),
            ("session-hours = 0\n", "an hour at least"),
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
