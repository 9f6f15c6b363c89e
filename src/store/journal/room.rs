//! Room on the disk: some is left free for the index, which has to follow what was acknowledged.
//!
//! An index that meets a full disk in the middle of a write has to be worked out again by a
//! restart. The journal takes nothing more before it comes to that, so work goes on by itself as
//! soon as there is room.

use std::io;

use crate::store::StoreError;
use crate::store::disk::Folder;

/// So much is left free: more than the index writes for what may wait for it.
const KEPT_FREE: u64 = 16 * 1024 * 1024;

/// Why nothing more can be taken, if there is too little room on the disk of this folder.
///
/// Where the disk does not tell, the write itself will.
pub(super) fn lacks(folder: &Folder) -> Option<StoreError> {
    let free = folder.room()?;
    (free < KEPT_FREE).then(|| {
        let full = io::Error::from(io::ErrorKind::StorageFull);
        StoreError::io("write", folder.path())(full)
    })
}
