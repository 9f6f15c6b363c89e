//! A journal with nothing in it: write, `fdatasync`, answer.
//!
//! One writer writes and waits for the disk itself. Several hand their frames to one thread,
//! which writes whatever waits with one write and one `fdatasync`: the least that a group commit
//! can do.

use std::fs::{File, OpenOptions};
use std::io::Write;
use std::path::Path;
use std::sync::mpsc::{Receiver, Sender, channel};
use std::time::{Duration, Instant};

use tokio::sync::oneshot;

use crate::figures::{Figures, Stretch};

type Order = (Vec<u8>, oneshot::Sender<()>);

/// So many writers write frames of so many bytes for so long.
pub(crate) async fn written(
    folder: &Path,
    writers: usize,
    bytes: usize,
    long: Duration,
) -> Figures {
    let path = folder.join("bare");
    let mut options = OpenOptions::new();
    let file = options.create(true).truncate(true).write(true).open(&path);
    let file = file.unwrap();
    let figures = match writers {
        1 => alone(file, bytes, long),
        _ => in_groups(file, writers, bytes, long).await,
    };
    std::fs::remove_file(path).unwrap();
    figures
}

fn alone(mut file: File, bytes: usize, long: Duration) -> Figures {
    let frame = vec![7; bytes];
    let mut figures = Figures::default();
    let (stretch, begin) = (Stretch::begin(), Instant::now());
    while begin.elapsed() < long {
        let begin = Instant::now();
        file.write_all(&frame).unwrap();
        file.sync_data().unwrap();
        figures.took.push(begin.elapsed());
    }
    stretch.end(&mut figures);
    figures
}

async fn in_groups(file: File, writers: usize, bytes: usize, long: Duration) -> Figures {
    let (orders, given) = channel();
    let thread = std::thread::spawn(move || commit(file, &given));
    let mut figures = Figures::default();
    let (stretch, end) = (Stretch::begin(), Instant::now() + long);
    let mut hands = tokio::task::JoinSet::new();
    for _ in 0..writers {
        hands.spawn(write(orders.clone(), bytes, end));
    }
    for took in hands.join_all().await {
        figures.took.extend(took);
    }
    stretch.end(&mut figures);
    drop(orders);
    thread.join().unwrap();
    figures
}

async fn write(orders: Sender<Order>, bytes: usize, end: Instant) -> Vec<Duration> {
    let mut took = Vec::new();
    while Instant::now() < end {
        let begin = Instant::now();
        let (answer, answered) = oneshot::channel();
        orders.send((vec![7; bytes], answer)).unwrap();
        answered.await.unwrap();
        took.push(begin.elapsed());
    }
    took
}

fn commit(mut file: File, given: &Receiver<Order>) {
    let mut group = Vec::new();
    while let Ok((first, answer)) = given.recv() {
        group.extend(first);
        let mut answers = vec![answer];
        while let Ok((frame, answer)) = given.try_recv() {
            group.extend(frame);
            answers.push(answer);
        }
        file.write_all(&group).unwrap();
        file.sync_data().unwrap();
        group.clear();
        for answer in answers {
            answer.send(()).unwrap();
        }
    }
}
