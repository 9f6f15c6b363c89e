//! Journals cut and changed at every place.

use std::fs;

use jiff::Timestamp;
use tempfile::TempDir;

use super::super::frame::Frame;
use super::super::segment::{FORMAT, header};
use super::*;
use crate::store::batch::InputKey;
use crate::store::disk::Folder;

fn frame(number: u64, durable: u64) -> Vec<u8> {
    let frame = Frame {
        number,
        durable,
        at: Timestamp::UNIX_EPOCH,
        key: Some(InputKey(format!("page:{number}"))),
        appends: Vec::new(),
        notices: Vec::new(),
        marks: Vec::new(),
        index: Vec::new(),
    };
    let mut bytes = Vec::new();
    frame.write(&mut bytes);
    bytes
}

/// A journal of these files, each with a header and frames.
fn journal(files: &[&[u8]]) -> TempDir {
    let folder = tempfile::tempdir().unwrap();
    let segments = Segments::in_folder(Folder::here(folder.path().to_owned()));
    for (number, bytes) in (1..).zip(files) {
        fs::write(segments.path(number), bytes).unwrap();
    }
    folder
}

fn scanned(folder: &TempDir, known_durable: u64) -> Result<Scanned, String> {
    let segments = Segments::in_folder(Folder::here(folder.path().to_owned()));
    let mut seen = 0;
    let result = scan(&segments, Start::BEGIN, known_durable, &mut |found| {
        seen += 1;
        assert_eq!(found.sealed.number, seen);
        Ok(())
    });
    result
        .inspect(|scanned| assert_eq!(scanned.last_frame, seen))
        .map_err(|e| e.to_string())
}

fn file(first: u64, frames: &[Vec<u8>]) -> Vec<u8> {
    [header(first), frames.concat()].concat()
}

#[test]
fn a_file_that_was_begun_and_not_put_in_place_is_none_of_the_journal() {
    let one = file(1, &[frame(1, 0), frame(2, 1)]);
    let folder = journal(&[&one]);
    let segments = Segments::in_folder(Folder::here(folder.path().to_owned()));
    segments.prepare(3).unwrap();
    assert_eq!(
        scanned(&folder, 2).unwrap().tail,
        Some((1, one.len() as u64))
    );
    segments.put_in_place(2).unwrap();
    let begun = Some((2, header(3).len() as u64));
    assert_eq!(scanned(&folder, 2).unwrap().tail, begun);
}

#[test]
fn an_empty_folder_is_an_empty_journal() {
    let empty = Scanned {
        last_frame: 0,
        last_at: None,
        tail: None,
        torn: None,
    };
    assert_eq!(scanned(&journal(&[]), 0), Ok(empty));
}

#[test]
fn a_cut_at_every_byte_of_the_last_frame_is_an_unfinished_write() {
    let whole = file(1, &[frame(1, 0), frame(2, 1), frame(3, 2)]);
    let begin = whole.len() - frame(3, 2).len();
    for length in begin + 1..whole.len() {
        let found = scanned(&journal(&[&whole[..length]]), 2).unwrap();
        let bytes = (length - begin) as u64;
        let torn = Torn {
            segment: 1,
            offset: begin as u64,
            bytes,
        };
        let tail = Some((1, begin as u64));
        assert_eq!(
            found,
            Scanned {
                last_frame: 2,
                last_at: Some(Timestamp::UNIX_EPOCH),
                tail,
                torn: Some(torn)
            }
        );
    }
    for (length, last_frame) in [(begin, 2), (whole.len(), 3)] {
        let found = scanned(&journal(&[&whole[..length]]), 2).unwrap();
        assert_eq!((found.last_frame, found.torn), (last_frame, None));
    }
}

#[test]
fn a_cut_that_takes_something_known_to_be_kept_is_refused() {
    let whole = file(1, &[frame(1, 0), frame(2, 1)]);
    let begin = whole.len() - frame(2, 1).len();
    for length in begin..whole.len() {
        let refused = scanned(&journal(&[&whole[..length]]), 2).unwrap_err();
        assert!(refused.contains("frame 2"), "{refused}");
    }
}

#[test]
fn a_flipped_bit_anywhere_before_the_last_write_is_refused() {
    // Frames 3 and 4 went to the disk together, so each names frame 2 as the last kept.
    let whole = file(1, &[frame(1, 0), frame(2, 1), frame(3, 2), frame(4, 2)]);
    let kept = file(1, &[frame(1, 0), frame(2, 1)]).len();
    for bit in 0..kept * 8 {
        let mut flipped = whole.clone();
        flipped[bit / 8] ^= 1 << (bit % 8);
        let refused = scanned(&journal(&[&flipped]), 0).unwrap_err();
        assert!(refused.contains("damaged"), "bit {bit}: {refused}");
    }
    // In the last write it cannot be told from pages that came to the disk out of order.
    let mut flipped = whole;
    flipped[kept + 9] ^= 1;
    let found = scanned(&journal(&[&flipped]), 2).unwrap();
    assert_eq!((found.last_frame, found.tail), (2, Some((1, kept as u64))));
    assert!(found.torn.is_some());
    assert!(scanned(&journal(&[&flipped]), 4).is_err());
}

#[test]
fn room_that_the_system_filled_with_zeros_is_an_unfinished_write() {
    let whole = file(1, &[frame(1, 0)]);
    let padded = [whole.clone(), vec![0; 5000]].concat();
    let torn = Torn {
        segment: 1,
        offset: whole.len() as u64,
        bytes: 5000,
    };
    assert_eq!(scanned(&journal(&[&padded]), 1).unwrap().torn, Some(torn));
}

#[test]
fn an_unfinished_frame_in_an_earlier_file_is_refused() {
    let first = file(1, &[frame(1, 0), frame(2, 1)]);
    let second = file(3, &[]);
    let both = journal(&[&first, &second]);
    assert_eq!(
        scanned(&both, 0).unwrap().tail,
        Some((2, HEADER_BYTES as u64))
    );
    let refused = scanned(&journal(&[&first[..first.len() - 1], &second]), 0).unwrap_err();
    assert!(
        refused.contains("frame 2") && refused.contains("00000001"),
        "{refused}"
    );
}

#[test]
fn an_unfinished_header_of_the_last_file_is_an_unfinished_write() {
    let first = file(1, &[frame(1, 0)]);
    for length in 0..HEADER_BYTES {
        let found = scanned(&journal(&[&first, &header(2)[..length]]), 1).unwrap();
        let torn = Torn {
            segment: 2,
            offset: 0,
            bytes: length as u64,
        };
        let tail = Some((1, first.len() as u64));
        assert_eq!(
            found,
            Scanned {
                last_frame: 1,
                last_at: Some(Timestamp::UNIX_EPOCH),
                tail,
                torn: Some(torn)
            }
        );
    }
    let mut damaged = file(2, &[frame(2, 1)]);
    damaged[0] ^= 1;
    assert!(scanned(&journal(&[&first, &damaged]), 1).is_err());
}

#[test]
fn a_missing_or_swapped_file_is_refused() {
    let files = [
        file(1, &[frame(1, 0)]),
        file(2, &[frame(2, 1)]),
        file(3, &[frame(3, 2)]),
    ];
    let folder = journal(&[&files[0], &files[1], &files[2]]);
    assert_eq!(scanned(&folder, 3).unwrap().last_frame, 3);
    fs::remove_file(folder.path().join("00000002.journal")).unwrap();
    let refused = scanned(&folder, 0).unwrap_err();
    assert!(refused.contains("00000002.journal is missing"), "{refused}");
    assert!(scanned(&journal(&[&files[0], &files[2], &files[1]]), 0).is_err());
    assert!(scanned(&journal(&[&files[1], &files[2]]), 0).is_err());
}

#[test]
fn frames_out_of_order_are_refused() {
    let refused = scanned(&journal(&[&file(1, &[frame(1, 0), frame(3, 2)])]), 0);
    assert!(refused.unwrap_err().contains("frame 2"));
}

#[test]
fn a_later_format_is_refused_in_words() {
    let mut bytes = header(1);
    bytes[8..12].copy_from_slice(&(FORMAT + 1).to_le_bytes());
    let crc = crc32fast::hash(&bytes[..20]).to_le_bytes();
    bytes[20..].copy_from_slice(&crc);
    let refused = scanned(&journal(&[&bytes]), 0).unwrap_err();
    assert!(refused.contains("has format 2, and this program reads formats up to 1."));
}

#[test]
fn frames_longer_than_the_window_are_read() {
    let long = |number: u64| {
        let change = |size| {
            let table = crate::store::Table::named("jobs");
            crate::store::IndexChange::put(table, *b"a", vec![7; size])
        };
        let frame = Frame {
            number,
            durable: 0,
            at: Timestamp::UNIX_EPOCH,
            key: None,
            appends: Vec::new(),
            notices: Vec::new(),
            marks: Vec::new(),
            index: vec![change(WINDOW_BYTES / 3 * number as usize)],
        };
        let mut bytes = Vec::new();
        frame.write(&mut bytes);
        bytes
    };
    let whole = file(1, &(1..=8).map(long).collect::<Vec<_>>());
    let found = scanned(&journal(&[&whole]), 0).unwrap();
    assert_eq!(
        (found.last_frame, found.tail),
        (8, Some((1, whole.len() as u64)))
    );
}

#[test]
fn from_a_trusted_frame_on_only_the_rest_is_read() {
    let first = file(1, &[frame(1, 0), frame(2, 1)]);
    let second = file(3, &[frame(3, 2), frame(4, 3), frame(5, 4)]);
    let folder = journal(&[&first, &second]);
    let segments = Segments::in_folder(Folder::here(folder.path().to_owned()));
    let offset = file(3, &[frame(3, 2)]).len() as u64;
    let fourth = frame(4, 3);
    let crc = u32::from_le_bytes(*fourth[4..].first_chunk().unwrap());
    let begins = Some(Begins { segment: 2, offset });
    let mark = Watermark {
        frame: 4,
        crc,
        begins,
    };
    let start = Start::behind(&segments, &mark).unwrap().unwrap();
    let rest = |known: u64| {
        let mut seen = Vec::new();
        let found = scan(&segments, start, known, &mut |found| {
            seen.push(found.sealed.number);
            Ok(())
        });
        (seen, found.map_err(|problem| problem.to_string()))
    };
    let (seen, found) = rest(5);
    let found = found.unwrap();
    assert_eq!((seen, found.last_frame), (vec![5], 5));
    assert_eq!(found.tail, Some((2, second.len() as u64)));
    // Another frame there, another place, or no place at all is no place to begin at.
    let others = [
        Watermark { crc: !crc, ..mark },
        Watermark { frame: 3, ..mark },
        Watermark {
            begins: Some(Begins {
                segment: 2,
                offset: offset + 1,
            }),
            ..mark
        },
        Watermark {
            begins: Some(Begins { segment: 3, offset }),
            ..mark
        },
        Watermark {
            begins: None,
            ..mark
        },
    ];
    for other in others {
        assert_eq!(Start::behind(&segments, &other).unwrap(), None);
    }
    // Damage in the part that is not read is not found, but a missing or swapped file is.
    let path = segments.path(1);
    let mut flipped = first.clone();
    flipped[HEADER_BYTES + 9] ^= 1;
    fs::write(&path, &flipped).unwrap();
    assert_eq!(rest(5).1.unwrap().last_frame, 5);
    for begin in [&second, &file(6, &[])] {
        fs::write(&path, begin).unwrap();
        let refused = rest(5).1.unwrap_err();
        assert!(refused.contains("the begin of "), "{refused}");
    }
    fs::remove_file(&path).unwrap();
    assert!(rest(5).1.unwrap_err().contains("is missing"));
}

#[test]
fn damage_is_told_with_what_can_be_read_before_it() {
    let mut bytes = file(1, &[frame(1, 0), frame(2, 1), frame(3, 2)]);
    let third = file(1, &[frame(1, 0), frame(2, 1)]).len();
    bytes[third + 9] ^= 1;
    let refused = scanned(&journal(&[&bytes]), 3).unwrap_err();
    let told = "the 2 frames before it, up to 1970-01-01T00:00:00Z, can be read.";
    assert!(refused.contains(told), "{refused}");
    assert!(refused.contains(&format!("frame 3, at byte {third} of ")));
    bytes[HEADER_BYTES + 9] ^= 1;
    let refused = scanned(&journal(&[&bytes]), 3).unwrap_err();
    assert!(
        refused.contains("nothing before it can be read"),
        "{refused}"
    );
}
