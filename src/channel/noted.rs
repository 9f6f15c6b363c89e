//! What happens at the doors, for the log of whoever looks after the server.
//!
//! One line an event: its word, and the place that it came from. No code, password, token, cookie
//! or typed text is part of it. Who did and saw what stands in the journal, not here.

use std::net::IpAddr;

/// Something at a door that an operator may want to count or to be woken by.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Event {
    /// Somebody signed in or joined with a code.
    CodeUsed,
    /// A code was wrong, used already or too old.
    WrongCode,
    /// Somebody signed in with a password.
    PasswordUsed,
    /// A login and a password did not fit.
    WrongPassword,
    /// So many were wrong that nobody may try for a while.
    TriedTooOften,
    /// Somebody signed out.
    SignedOut,
    /// A password was set, changed or removed.
    PasswordChanged,
    /// A page was refused: a forged or old form, or somebody who may not do that.
    PageRefused,
    /// A browser or a place asked for too much.
    AskedTooMuch,
    /// A request to the API showed no token that works.
    NoToken,
    /// A request to the API was out of the scope of its token.
    OutOfScope,
    /// A program asked the API for too much.
    ProgramAskedTooMuch,
    /// A push without the platform's secret.
    WrongSecret,
}

impl Event {
    /// Its word in the log.
    pub const fn word(self) -> &'static str {
        match self {
            Event::CodeUsed => "code-used",
            Event::WrongCode => "wrong-code",
            Event::PasswordUsed => "password-used",
            Event::WrongPassword => "wrong-password",
            Event::TriedTooOften => "tried-too-often",
            Event::SignedOut => "signed-out",
            Event::PasswordChanged => "password-changed",
            Event::PageRefused => "page-refused",
            Event::AskedTooMuch => "asked-too-much",
            Event::NoToken => "no-token",
            Event::OutOfScope => "out-of-scope",
            Event::ProgramAskedTooMuch => "program-asked-too-much",
            Event::WrongSecret => "wrong-secret",
        }
    }

    /// Whether everything is as it should be.
    const fn is_usual(self) -> bool {
        matches!(
            self,
            Event::CodeUsed | Event::PasswordUsed | Event::SignedOut | Event::PasswordChanged
        )
    }
}

/// Writes an event into the log. `path` is the address that was asked for as it came, still
/// encoded; empty where it holds a secret or says nothing.
pub fn noted(event: Event, from: IpAddr, path: &str) {
    let word = event.word();
    if event.is_usual() {
        tracing::info!(event = word, %from, path, "at the door");
    } else {
        tracing::warn!(event = word, %from, path, "at the door");
    }
}

#[cfg(test)]
mod tests {
    use std::io::Write;
    use std::sync::{Arc, Mutex};

    use super::*;

    #[derive(Clone, Default)]
    struct Written(Arc<Mutex<Vec<u8>>>);

    impl Write for Written {
        fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
            self.0.lock().unwrap().extend_from_slice(bytes);
            Ok(bytes.len())
        }

        fn flush(&mut self) -> std::io::Result<()> {
            Ok(())
        }
    }

    #[test]
    fn what_is_sent_cannot_write_a_line_of_its_own() {
        let written = Written::default();
        let log = {
            let written = written.clone();
            tracing_subscriber::fmt()
                .with_ansi(false)
                .with_writer(move || written.clone())
                .finish()
        };
        let path = "/join\r\n2031-01-01 INFO all is well \u{1b}[31m";
        tracing::subscriber::with_default(log, || {
            noted(Event::WrongCode, IpAddr::from([192, 0, 2, 4]), path);
        });
        let text = String::from_utf8(written.0.lock().unwrap().clone()).unwrap();
        assert_eq!(text.lines().count(), 1, "{text}");
        assert!(
            text.contains("wrong-code") && text.contains("192.0.2.4"),
            "{text}"
        );
        assert!(!text.contains('\u{1b}'), "{text}");
    }
}
