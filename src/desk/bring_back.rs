//! Records that were written out, brought back into a store that lost them.

use tokio::sync::OwnedMutexGuard;

use super::Desk;
use super::error::DeskError;
use super::floor::Work;
use super::id::JobId;
use super::keep::Hand;
use super::tables::read;
use crate::record::around::EvaporatorWhat;
use crate::record::chain::{Head, Stored};
use crate::record::entry::Entry;
use crate::record::read_back::{ReadBack, read_back};
use crate::record::seal::Fingerprint;
use crate::record::stream::Seq;
use crate::record::verify::{Verdict, verify};
use crate::store::{Batch, StreamAppend};
use crate::walk::State;

/// What became of a record.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct BroughtBack {
    /// The job.
    pub job: JobId,
    /// How many entries were added.
    pub added: usize,
    /// How many there are now.
    pub entries: usize,
    /// How many photos it names that are neither in the file nor in the store.
    pub photos_missing: usize,
}

impl Desk {
    /// Brings back a record that was written out as JSON: the entries that the store lacks, byte
    /// for byte, with their names and photos. The file must be intact and sealed with a key of
    /// this server, or one that the operator trusts; its entries must go on where those of the
    /// store end. Nobody is sent anything for it.
    ///
    /// # Errors
    /// A sentence why the record is not brought back; then nothing of it is.
    pub async fn bring_back(
        &self,
        file: &[u8],
        trusted: &[Fingerprint],
    ) -> Result<BroughtBack, DeskError> {
        let back = self.intact(file, trusted).await?;
        let job = JobId(back.job.id);
        let head = self.store().head(back.job).await?;
        let there = usize::try_from(head.seq.0).unwrap_or(usize::MAX);
        let new = self.goes_on(&back, head).await?;
        let photos_missing = self.bring_photos(&back).await?;
        if !new.is_empty() {
            let entries = back.entries.iter().map(|it| read::<Entry>(&it.bytes));
            let entries: Vec<Entry> = entries.collect::<Result<_, _>>()?;
            let (_turn, batch) = self.bringing(job, (&entries, there), new).await?;
            self.keep(batch).await?;
        }
        for (person, name) in &back.people {
            if self.store().name(person.0).await?.is_none() {
                self.store().set_name(person.0, name.clone()).await?;
            }
        }
        Ok(BroughtBack {
            job,
            added: new.len(),
            entries: back.entries.len().max(there),
            photos_missing,
        })
    }

    /// Reads a file that is intact, and sealed by whom it should be.
    async fn intact(&self, file: &[u8], trusted: &[Fingerprint]) -> Result<ReadBack, DeskError> {
        let refuse = DeskError::NotUnderstood;
        let report = verify(file).map_err(|told| refuse(told.to_string()))?;
        let known = self.seal_keys().await?;
        let mut keys: Vec<Fingerprint> = known.iter().map(|it| it.key.fingerprint()).collect();
        keys.extend(trusted);
        match (report.verdict(&keys), report.sealed_by) {
            (Verdict::Confirmed, _) => {}
            (Verdict::OtherSigner, Some(key)) => {
                let key = key.fingerprint();
                return Err(refuse(format!(
                    "It is sealed with a key that this folder does not know. If you know that \
                     {key} was your server's, say so with --key {key}."
                )));
            }
            _ => {
                let first = report.changes.first();
                let told = first.map_or_else(String::new, |change| format!(" {change}"));
                return Err(refuse(format!("It was changed after it was sealed.{told}")));
            }
        }
        read_back(file).ok_or_else(|| refuse("Its entries cannot be read.".to_owned()))
    }

    /// Keeps the photos that are in the file; gives how many are nowhere.
    async fn bring_photos(&self, back: &ReadBack) -> Result<usize, DeskError> {
        for photo in &back.photos {
            self.store().put_blob(photo.clone()).await?;
        }
        let mut missing = 0;
        for hash in &back.named_only {
            missing += usize::from(self.store().get_blob(*hash).await?.is_none());
        }
        Ok(missing)
    }

    /// The new entries with every row that follows from them, as one batch, with the turn to
    /// change what is known of the whole crew.
    async fn bringing(
        &self,
        job: JobId,
        (entries, there): (&[Entry], usize),
        new: &[Stored],
    ) -> Result<(Option<OwnedMutexGuard<()>>, Batch), DeskError> {
        let after = self.folded_from(job, entries).await?;
        let turn = self.crew_turn(&after, &entries[there..]).await;
        let before = match there {
            0 => None,
            there => Some(self.folded_from(job, &entries[..there]).await?),
        };
        let label = self.evaporator_label(after.evaporator).await;
        let label = label.map_err(|error| unknown(error, "its evaporator"))?;
        self.publish(&after.edition).await?;
        let mut batch = Batch::new(self.now());
        batch.appends.push(StreamAppend {
            stream: job.stream(),
            expected: Seq(there as u64),
            entries: new.iter().map(|it| it.bytes.clone()).collect(),
        });
        let works = (before.as_ref(), &after);
        batch.index = self.rows_of(works, &entries[there..], &label).await?;
        if !after.state.pins.training {
            batch.index.extend(self.counts(&after, entries).await?);
        }
        if before.is_none() {
            let on = after.evaporator;
            let begun = EvaporatorWhat::JobBegun { job: job.0 };
            let expected = self.last(on.stream()).await?;
            let hand = Hand::server(self.now());
            batch
                .appends
                .push(hand.writes(on.stream(), expected, vec![begun])?);
        }
        Ok((turn, batch))
    }

    /// The entries that come after those of the store; none if the file is of an earlier time.
    async fn goes_on<'b>(&self, back: &'b ReadBack, head: Head) -> Result<&'b [Stored], DeskError> {
        let there = usize::try_from(head.seq.0).unwrap_or(usize::MAX);
        let Some(shared) = back.entries.get(..there).unwrap_or(&back.entries).last() else {
            return Ok(&back.entries);
        };
        let kept = self.store().read(back.job, shared.seq, 1).await?;
        if kept.first() != Some(shared) {
            return Err(DeskError::NotUnderstood(format!(
                "Another entry {} of this job is there than in the file: the record was carried \
                 on in two ways.",
                shared.seq
            )));
        }
        Ok(back.entries.get(there..).unwrap_or_default())
    }

    async fn folded_from(&self, job: JobId, entries: &[Entry]) -> Result<Work, DeskError> {
        let state = State::fold(entries).ok_or(DeskError::NotFound("job"))?;
        let work = self.work_of(job, state, entries).await;
        work.map_err(|error| unknown(error, "the flow that it walks, or its kit"))
    }
}

/// Something that the record rests on is not in the store.
fn unknown(error: DeskError, what: &str) -> DeskError {
    match error {
        DeskError::NotFound(_) | DeskError::Fault(_) => DeskError::NotUnderstood(format!(
            "The backup does not know {what}, which came after it. Keep the file: it can still be \
             read and checked with `fanwright verify`."
        )),
        other => other,
    }
}
