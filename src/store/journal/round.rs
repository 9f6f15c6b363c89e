//! Batches that go to the disk together.

use std::collections::HashMap;

use jiff::Timestamp;

use super::Shared;
use super::frame::{ENVELOPE_BYTES, Frame};
use super::segment::Place;
use crate::record::chain::{Head, Stored};
use crate::record::stream::StreamId;
use crate::store::batch::{Batch, Committed};
use crate::store::index::inputs::InputHash;
use crate::store::index::{Begins, Change, Layer, View, Watermark, fold, keys};
use crate::store::notice::NoticeId;
use crate::store::watch::Touched;
use crate::store::{AppendError, StoreError, remembered};

/// The numbers that go on from one round to the next.
#[derive(Clone, Copy, Debug)]
pub(super) struct Counters {
    /// The last frame written.
    pub(super) frame: u64,
    /// The last frame known to be on the disk.
    pub(super) durable: u64,
    /// The last notice id given.
    pub(super) notices: u64,
}

/// Frames being made ready, one for each batch taken.
pub(super) struct Round<'a> {
    shared: &'a Shared,
    index: Layer<'a>,
    /// Where the changes of each frame end.
    ends: Vec<usize>,
    /// The inputs handled in this round.
    inputs: HashMap<InputHash, Timestamp>,
    touched: Touched,
    counters: Counters,
    segment: u32,
    offset: u64,
    frames: Vec<u8>,
    crc: u32,
    /// Where the last frame begins among them.
    last_begins: usize,
    must_outlast_power: bool,
}

/// A round made ready.
pub(super) struct Ready {
    pub(super) frames: Vec<u8>,
    pub(super) changes: Vec<Change>,
    /// Where the changes of each frame end.
    pub(super) ends: Vec<usize>,
    pub(super) inputs: HashMap<InputHash, Timestamp>,
    pub(super) touched: Touched,
    pub(super) mark: Watermark,
    pub(super) counters: Counters,
    pub(super) must_outlast_power: bool,
}

impl<'a> Round<'a> {
    /// A round on top of everything known, whose frames go to this place.
    pub(super) fn new(
        shared: &'a Shared,
        counters: Counters,
        segment: u32,
        offset: u64,
    ) -> Round<'a> {
        Round {
            shared,
            index: Layer::over(shared),
            ends: Vec::new(),
            inputs: HashMap::new(),
            touched: Touched::default(),
            counters,
            segment,
            offset,
            frames: Vec::new(),
            crc: 0,
            last_begins: 0,
            must_outlast_power: false,
        }
    }

    /// How many bytes the frames have so far.
    pub(super) fn bytes(&self) -> usize {
        self.frames.len()
    }

    /// Takes a batch, or says why not; then nothing of it is in the round.
    pub(super) fn take(&mut self, batch: Batch) -> Result<Committed, AppendError> {
        batch.check()?;
        self.refuse_handled(&batch)?;
        let must_outlast_power = batch.must_outlast_power();
        let frame = self.frame(batch)?;
        let heads = frame.appends.iter().map(|(stream, entries)| {
            let last = entries.last().map(Stored::head);
            last.map_or_else(|| self.head_of(*stream), Ok)
                .map(|head| (*stream, head))
        });
        let committed = Committed {
            heads: heads
                .collect::<Result<_, _>>()
                .map_err(AppendError::Failed)?,
            notices: frame.notices.iter().map(|(id, _)| *id).collect(),
        };
        let known_bytes = self.frames.len();
        self.add(frame).map_err(|problem| {
            self.frames.truncate(known_bytes);
            AppendError::Failed(problem)
        })?;
        self.must_outlast_power |= must_outlast_power;
        Ok(committed)
    }

    fn refuse_handled(&self, batch: &Batch) -> Result<(), AppendError> {
        let Some(key) = &batch.key else { return Ok(()) };
        let input = InputHash::of(key);
        let handled = match self.inputs.get(&input) {
            Some(at) => Some(*at),
            None => self
                .shared
                .handled_at(input, batch.at)
                .map_err(AppendError::Failed)?,
        };
        match handled {
            Some(at) if remembered(at, batch.at) => {
                Err(AppendError::AlreadyHandled { key: key.clone() })
            }
            _ => Ok(()),
        }
    }

    fn head_of(&self, stream: StreamId) -> Result<Head, StoreError> {
        head_of(&self.index, stream)
    }

    fn frame(&self, batch: Batch) -> Result<Frame, AppendError> {
        let mut appends = Vec::new();
        for append in batch.appends {
            let (stream, expected) = (append.stream, append.expected);
            let mut head = self.head_of(stream).map_err(AppendError::Failed)?;
            if head.seq != expected {
                let actual = head.seq;
                return Err(AppendError::Conflict {
                    stream,
                    expected,
                    actual,
                });
            }
            let stored = append.entries.into_iter().map(|bytes| {
                let stored = Stored::after(stream, head, bytes);
                head = stored.head();
                stored
            });
            appends.push((stream, stored.collect()));
        }
        let ids = (self.counters.notices + 1..).map(NoticeId);
        Ok(Frame {
            number: self.counters.frame + 1,
            durable: self.counters.durable,
            at: batch.at,
            key: batch.key,
            appends,
            notices: ids.zip(batch.notices).collect(),
            marks: batch.marks,
            index: batch.index,
        })
    }

    fn add(&mut self, frame: Frame) -> Result<(), StoreError> {
        let begin = self.frames.len();
        let ranges = frame.write(&mut self.frames);
        let (segment, offset) = (self.segment, self.offset + begin as u64);
        let places = ranges
            .into_iter()
            .map(|range| Place::new(segment, offset, range));
        let (number, notices) = (frame.number, frame.notices.len() as u64);
        let input = frame.key.as_ref().map(InputHash::of);
        let at = frame.at;
        self.shared.watches.touched(&frame.index, &mut self.touched);
        if let Err(problem) = fold(frame, places, &mut self.index) {
            self.index.drop_frame();
            return Err(problem);
        }
        self.index.keep_frame();
        self.ends.push(self.index.len());
        self.inputs.extend(input.map(|input| (input, at)));
        let crc = &self.frames[begin + 4..begin + ENVELOPE_BYTES];
        self.crc = crc.try_into().map_or(0, u32::from_le_bytes);
        self.last_begins = begin;
        self.counters.frame = number;
        self.counters.notices += notices;
        Ok(())
    }

    /// The round with every batch taken.
    pub(super) fn ready(mut self) -> Ready {
        Ready {
            frames: self.frames,
            changes: self.index.take(),
            ends: self.ends,
            inputs: self.inputs,
            touched: self.touched,
            mark: Watermark {
                frame: self.counters.frame,
                crc: self.crc,
                begins: Some(Begins {
                    segment: self.segment,
                    offset: self.offset + self.last_begins as u64,
                }),
            },
            counters: self.counters,
            must_outlast_power: self.must_outlast_power,
        }
    }
}

/// The head of a stream as the index knows it.
pub(super) fn head_of(index: &dyn View, stream: StreamId) -> Result<Head, StoreError> {
    let head = index.get(&keys::head(stream))?;
    head.map_or(Ok(Head::NONE), |value| keys::read_head(&value))
}
