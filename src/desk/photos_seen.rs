//! Photos that another job of the crew has too.
//!
//! A photo is found again by the hash of its file, and, sent at another size or shade, by how it
//! looks: 64 bits of which at most 3 differ. Split into four parts of 16 bits, at least one part
//! is then the same in both, and leads to the few that have to be compared. A part of an even
//! ground is in very many photos, so it leads nowhere.

use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::Desk;
use super::card::CardRow;
use super::checklist::photo;
use super::error::DeskError;
use super::id::{CrewId, JobId};
use super::tables::{Row, id_at_end, key as row_key, put, read};
use crate::record::chain::Hash;
use crate::record::entry::{Entry, PhotoRef};
use crate::record::hex::Hex;
use crate::record::stands_out::Seen;
use crate::store::{IndexChange, Table};

/// The most bits in which two pictures differ that look nearly the same.
const APART_MAX: u32 = 3;

/// How many rows are read at once.
const ROWS_AT_ONCE: usize = 256;

/// A photo by the hash of its file: under crew, hash, job.
#[derive(Clone, Copy, Debug, Serialize, Deserialize)]
struct SameRow {
    at: Timestamp,
}

impl Row for SameRow {
    const TABLE: Table = Table::named("photo_same");
}

/// A photo by how it looks: under crew, which part, the part, all of it, job.
#[derive(Clone, Copy, Debug, Serialize, Deserialize)]
struct AlikeRow {
    at: Timestamp,
}

impl Row for AlikeRow {
    const TABLE: Table = Table::named("photo_alike");
}

/// What finds the photos of these entries again.
pub(super) fn photo_rows(
    crew: CrewId,
    job: JobId,
    entries: &[Entry],
) -> Result<Vec<IndexChange>, DeskError> {
    let (crew, job) = (crew.0.as_bytes(), job.0.as_bytes());
    let mut rows = Vec::new();
    for entry in entries {
        let Some(photo) = photo(entry) else { continue };
        let at = entry.at;
        if let Ok(original) = photo.original.parse::<Hash>() {
            rows.push(put(row_key(&[crew, &original.0, job]), &SameRow { at })?);
        }
        if let Some(looks) = looks(photo) {
            for part in parts(looks) {
                let under = row_key(&[crew, &part, &looks, job]);
                rows.push(put(under, &AlikeRow { at })?);
            }
        }
    }
    Ok(rows)
}

fn looks(photo: &PhotoRef) -> Option<[u8; 8]> {
    Hex::<8>::read(photo.looks.as_deref()?).map(|hex| hex.0)
}

/// Those of its four parts that say something, each behind its number.
fn parts(looks: [u8; 8]) -> impl Iterator<Item = [u8; 3]> {
    let part = move |part: u8| {
        let at = usize::from(part) * 2;
        [part, looks[at], looks[at + 1]]
    };
    let is_even = |part: &[u8; 3]| matches!(part[1..], [0, 0] | [0xff, 0xff]);
    (0..4).map(part).filter(move |part| !is_even(part))
}

fn apart(one: [u8; 8], other: [u8; 8]) -> u32 {
    (u64::from_be_bytes(one) ^ u64::from_be_bytes(other)).count_ones()
}

impl Desk {
    /// The photos of a record that another job of the crew had before.
    pub(super) async fn seen_before(
        &self,
        crew: CrewId,
        job: JobId,
        entries: &[Entry],
    ) -> Result<Vec<Seen>, DeskError> {
        let mut seen: Vec<Seen> = Vec::new();
        for entry in entries {
            let Some(photo) = photo(entry) else { continue };
            if seen.iter().any(|seen| seen.original == photo.original) {
                continue;
            }
            let same = self.same_file(crew, job, photo, entry.at).await?;
            let (other, same_file) = match same {
                Some(other) => (Some(other), true),
                None => (self.looks_alike(crew, job, photo, entry.at).await?, false),
            };
            if let Some(other) = other {
                seen.push(Seen {
                    original: photo.original.clone(),
                    job: self.other_job(other).await?,
                    same_file,
                });
            }
        }
        Ok(seen)
    }

    async fn same_file(
        &self,
        crew: CrewId,
        job: JobId,
        photo: &PhotoRef,
        at: Timestamp,
    ) -> Result<Option<Uuid>, DeskError> {
        let Ok(original) = photo.original.parse::<Hash>() else {
            return Ok(None);
        };
        let prefix = row_key(&[crew.0.as_bytes(), &original.0]);
        let is_it = |key: &[u8], row: SameRow| {
            id_at_end(key).filter(|other| *other != job.0 && row.at < at)
        };
        self.first::<SameRow>(prefix, is_it).await
    }

    async fn looks_alike(
        &self,
        crew: CrewId,
        job: JobId,
        photo: &PhotoRef,
        at: Timestamp,
    ) -> Result<Option<Uuid>, DeskError> {
        let Some(looks) = looks(photo) else {
            return Ok(None);
        };
        for part in parts(looks) {
            let prefix = row_key(&[crew.0.as_bytes(), &part]);
            let from = prefix.len();
            let is_it = |key: &[u8], row: AlikeRow| {
                let other = key.get(from..from + 8)?.try_into().ok()?;
                let job_of_it = id_at_end(key)?;
                let near = apart(looks, other) <= APART_MAX;
                (near && job_of_it != job.0 && row.at < at).then_some(job_of_it)
            };
            if let Some(found) = self.first::<AlikeRow>(prefix, is_it).await? {
                return Ok(Some(found));
            }
        }
        Ok(None)
    }

    /// The first row for which `is_it` gives a job.
    async fn first<R: Row>(
        &self,
        prefix: Vec<u8>,
        is_it: impl Fn(&[u8], R) -> Option<Uuid>,
    ) -> Result<Option<Uuid>, DeskError> {
        let mut after = None;
        loop {
            let scan = self
                .store()
                .scan(R::TABLE, prefix.clone(), after, ROWS_AT_ONCE);
            let page = scan.await?;
            for row in &page.items {
                if let Some(job) = is_it(&row.key, read(&row.value)?) {
                    return Ok(Some(job));
                }
            }
            after = page.next;
            if after.is_none() {
                return Ok(None);
            }
        }
    }

    /// A job as a finding names it: where it was and when it began.
    async fn other_job(&self, job: Uuid) -> Result<String, DeskError> {
        let Some(card) = self.row::<CardRow>(job).await? else {
            return Ok(format!("number {job}"));
        };
        let line = self.evaporator_label(card.evaporator).await?.line();
        Ok(format!("{line}, {}", card.began.strftime("%Y-%m-%d")))
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    proptest! {
        #[test]
        fn pictures_that_look_alike_share_a_part(
            looks in any::<u64>(),
            flipped in proptest::collection::vec(0_u32..64, 0..=APART_MAX as usize),
        ) {
            let other = flipped.iter().fold(looks, |bits, bit| bits ^ (1 << bit));
            let (one, other) = (looks.to_be_bytes(), other.to_be_bytes());
            prop_assert!(apart(one, other) <= APART_MAX);
            prop_assume!(parts(one).count() == 4);
            prop_assert!(parts(one).any(|part| parts(other).any(|same| same == part)));
        }
    }
}
