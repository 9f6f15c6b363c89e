//! The journal of a snapshot, read as one row of frames.

use std::collections::VecDeque;
use std::io::{self, Read};
use std::path::PathBuf;

use super::manifest::{Manifest, Piece};
use super::pieces::{Pieces, Reading, in_words};
use crate::store::StoreError;
use crate::store::journal::frame::Sealed;
use crate::store::journal::frames::{Frames, Next};
use crate::store::journal::segment::Header;

/// Several pieces, one after the other.
struct Joined<'p> {
    pieces: &'p Pieces,
    left: VecDeque<Piece>,
    now: Option<Reading>,
    /// The piece that was read last.
    path: PathBuf,
    /// Why a piece could not be opened.
    trouble: Option<StoreError>,
}

impl Read for Joined<'_> {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        loop {
            if self.now.is_none() {
                let Some(next) = self.left.pop_front() else {
                    return Ok(0);
                };
                match self.pieces.read(next) {
                    Ok(reading) => {
                        self.path = reading.path().to_owned();
                        self.now = Some(reading);
                    }
                    Err(trouble) => {
                        self.trouble = Some(trouble);
                        return Err(io::Error::other("it could not be opened"));
                    }
                }
            }
            if let Some(reading) = &mut self.now {
                match reading.read(into)? {
                    0 if !into.is_empty() => self.now = None,
                    count => return Ok(count),
                }
            }
        }
    }
}

/// A header or a frame of a snapshot's journal.
pub(super) enum Part<'a> {
    /// The begin of a file.
    Header {
        /// Its number.
        file: u32,
    },
    /// A frame.
    Frame {
        /// It.
        sealed: Sealed<'a>,
    },
}

/// What whoever reads a journal wants next.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Go {
    On,
    Stop,
}

/// Looks at one part of a journal, with its bytes.
pub(super) type Visit<'v> = dyn FnMut(Part<'_>, &[u8]) -> Result<Go, StoreError> + 'v;

/// Shows every part of a snapshot's journal in order, with its bytes, until told to stop. Reading
/// all of it proves that every piece is as it was written.
pub(super) fn read_journal(
    manifest: &Manifest,
    pieces: &Pieces,
    visit: &mut Visit<'_>,
) -> Result<(), StoreError> {
    let mut last = 0;
    for file in &manifest.journal {
        let source = Joined {
            pieces,
            left: file.pieces.iter().copied().collect(),
            now: None,
            path: pieces.path(crate::record::chain::Hash::NONE),
            trouble: None,
        };
        let mut frames = Frames::from(source, 0);
        let header = frames.header();
        let header = header.map_err(|problem| frames.source().in_words(problem))?;
        if header
            != (Header::Whole {
                first_frame: last + 1,
            })
        {
            return Err(wrong_frame(last + 1));
        }
        let part = Part::Header { file: file.file };
        let raw = frames.raw().to_vec();
        if visit(part, &raw)? == Go::Stop {
            return Ok(());
        }
        loop {
            let next = match frames.next() {
                Ok(Next::Broken) => return Err(wrong_frame(last + 1)),
                Ok(Next::End) => break,
                Ok(Next::Frame(sealed)) if sealed.number != last + 1 => {
                    return Err(wrong_frame(last + 1));
                }
                Ok(Next::Frame(sealed)) => {
                    last = sealed.number;
                    let raw = sealed.raw;
                    visit(Part::Frame { sealed }, raw)?
                }
                Err(problem) => return Err(frames.source().in_words(problem)),
            };
            if next == Go::Stop {
                return Ok(());
            }
        }
    }
    if last == manifest.frames {
        Ok(())
    } else {
        Err(wrong_frame(last + 1))
    }
}

impl Joined<'_> {
    fn in_words(&mut self, problem: io::Error) -> StoreError {
        let trouble = self.trouble.take();
        trouble.unwrap_or_else(|| in_words(problem, &self.path))
    }
}

fn wrong_frame(number: u64) -> StoreError {
    StoreError::BackupDamaged {
        what: format!("frame {number} of its journal is not what was written there"),
    }
}
