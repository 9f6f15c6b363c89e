//! Hashing passwords, beside the threads that serve and a few at a time.

use argon2::password_hash::phc::PasswordHash;
use argon2::password_hash::{PasswordHasher, PasswordVerifier};
use argon2::{Algorithm, Argon2, Params, Version};
use tokio::sync::Semaphore;

use crate::desk::error::DeskError;

/// What one hash costs whoever guesses.
struct Cost {
    memory_kib: u32,
    passes: u32,
    lanes: u32,
}

/// Argon2id with 19 MiB, two passes and one lane: the first choice of the Password Storage Cheat
/// Sheet of OWASP, section "Argon2id", read in 2025; the library's own default is the same.
const COST: Cost = Cost {
    memory_kib: 19 * 1024,
    passes: 2,
    lanes: 1,
};

/// So many passwords are hashed at once: 19 MiB and one thread each.
const AT_ONCE: usize = 2;

/// So many more may wait for it.
const WAITING_MAX: usize = 32;

/// A hash that no password has: its check takes as long as that of a real one.
const NOBODYS: &str = "$argon2id$v=19$m=19456,t=2,p=1$bm9ib2R5cyBzYWx0IGhlcmU\
    $AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA";

/// Where passwords are hashed.
#[derive(Debug)]
pub(in crate::desk) struct Hashing {
    at_once: Semaphore,
    waiting: Semaphore,
}

impl Default for Hashing {
    fn default() -> Self {
        Hashing {
            at_once: Semaphore::new(AT_ONCE),
            waiting: Semaphore::new(AT_ONCE + WAITING_MAX),
        }
    }
}

impl Hashing {
    /// The PHC string of a password under this salt.
    pub(super) async fn hash(&self, password: String, salt: [u8; 16]) -> Result<String, DeskError> {
        let hashed = self.beside(move || {
            let hasher = hasher()?;
            let hash: PasswordHash = hasher
                .hash_password_with_salt(password.as_bytes(), &salt)
                .map_err(|error| error.to_string())?;
            Ok(hash.to_string())
        });
        hashed.await
    }

    /// Whether a password is the one that was hashed; with no hash it takes as long to say no.
    pub(super) async fn fits(
        &self,
        password: String,
        phc: Option<String>,
    ) -> Result<bool, DeskError> {
        let checked = self.beside(move || {
            let known = phc.is_some();
            let phc = phc.unwrap_or_else(|| NOBODYS.to_owned());
            let hash = PasswordHash::new(&phc).map_err(|error| error.to_string())?;
            let fits = hasher()?
                .verify_password(password.as_bytes(), &hash)
                .is_ok();
            Ok(fits && known)
        });
        checked.await
    }

    async fn beside<T: Send + 'static>(
        &self,
        work: impl FnOnce() -> Result<T, String> + Send + 'static,
    ) -> Result<T, DeskError> {
        let _place = self.waiting.try_acquire().map_err(|_| DeskError::Crowded)?;
        let fault = |error: &dyn std::fmt::Display| {
            DeskError::Fault(format!("A password could not be hashed: {error}"))
        };
        let turn = self.at_once.acquire().await;
        let _turn = turn.map_err(|error| fault(&error))?;
        let done = tokio::task::spawn_blocking(work).await;
        done.map_err(|error| fault(&error))?
            .map_err(|error| fault(&error))
    }
}

fn hasher() -> Result<Argon2<'static>, String> {
    let Cost {
        memory_kib,
        passes,
        lanes,
    } = COST;
    let params = Params::new(memory_kib, passes, lanes, None).map_err(|error| error.to_string())?;
    Ok(Argon2::new(Algorithm::Argon2id, Version::V0x13, params))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[tokio::test]
    async fn a_password_fits_its_own_hash_and_no_other() {
        let hashing = Hashing::default();
        let password = "coil drips on my boots";
        let hash = hashing.hash(password.to_owned(), [7; 16]).await.unwrap();
        // The format and the cost: PHC string format specification, OWASP's first choice.
        assert!(
            hash.starts_with("$argon2id$v=19$m=19456,t=2,p=1$"),
            "{hash}"
        );
        assert!(!hash.contains("boots"));
        let fits = async |password: &str, phc: Option<&String>| {
            let phc = phc.cloned();
            hashing.fits(password.to_owned(), phc).await.unwrap()
        };
        assert!(fits(password, Some(&hash)).await);
        assert!(!fits("coil drips on my boot", Some(&hash)).await);
        assert!(!fits(password, None).await);
        let other = hashing.hash(password.to_owned(), [8; 16]).await.unwrap();
        assert_ne!(hash, other, "the salt counts");
    }

    #[tokio::test]
    async fn whoever_finds_the_line_full_is_told_what_is_so() {
        let hashing = Hashing::default();
        let all = u32::try_from(AT_ONCE + WAITING_MAX).unwrap();
        let _full = hashing.waiting.acquire_many(all).await.unwrap();
        let told = hashing.fits("a guess".to_owned(), None).await.unwrap_err();
        assert_eq!(
            told.to_string(),
            "Very many people sign in at this moment. Wait a few seconds, then try again."
        );
    }

    /// RFC 9106, section 5.3: the test vector of Argon2id, with its secret and associated data.
    #[test]
    fn the_library_gives_the_published_tag() {
        let mut builder = argon2::ParamsBuilder::new();
        let data = argon2::AssociatedData::new(&[4; 12]).unwrap();
        let builder = builder.m_cost(32).t_cost(3).p_cost(4).data(data);
        let params = builder.build().unwrap();
        let secret = [3; 8];
        let argon = Argon2::new_with_secret(&secret, Algorithm::Argon2id, Version::V0x13, params);
        let mut tag = [0; 32];
        argon
            .unwrap()
            .hash_password_into(&[1; 32], &[2; 16], &mut tag)
            .unwrap();
        let tag: Vec<String> = tag.iter().map(|byte| format!("{byte:02x}")).collect();
        assert_eq!(
            tag.concat(),
            "0d640df58d78766c08c037a34a8b53c9d01ef0452d75b65eb52520e96b01e659"
        );
    }
}
