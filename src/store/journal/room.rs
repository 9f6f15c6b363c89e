//! Room on the disk: some is left free for the index, which has to follow what was acknowledged.
//!
//! An index that meets a full disk in the middle of a write has to be worked out again by a
//! restart. The journal takes nothing more before it comes to that, so work goes on by itself as
//! soon as there is room.

use std::io;

use crate::store::StoreError;
use crate::store::disk::Folder;

/// So much is left free, whatever waits: the index writes in files of some megabytes.
const KEPT_FREE: u64 = 16 * 1024 * 1024;

/// And so many bytes for each that waits for the index, which writes a row with all its block.
const WRITTEN_A_BYTE: u64 = 8;

/// Why nothing more can be taken, if there is too little room on the disk of this folder while so
/// many bytes wait for the index.
///
/// Where the disk does not tell, the write itself will.
pub(super) fn lacks(folder: &Folder, waiting: usize) -> Option<StoreError> {
    let free = folder.room()?;
    let kept_free = KEPT_FREE + WRITTEN_A_BYTE * waiting as u64;
    (free < kept_free).then(|| {
        let full = io::Error::from(io::ErrorKind::StorageFull);
        StoreError::io("write", folder.path())(full)
    })
}
