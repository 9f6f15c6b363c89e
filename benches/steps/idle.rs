//! The memory of jobs that are open and rest.

use std::sync::Arc;
use std::time::Duration;

use fanwright::store::Journal;

use crate::crew::Crew;
use crate::figures::number;
use crate::memory::memory;

/// How many people open the jobs.
const PEOPLE: usize = 64;

/// So many steps of each job are answered before it rests.
const ANSWERED: usize = 12;

/// A job begins so long after the one before.
const APART: Duration = Duration::from_secs(2);

/// The first of them are not counted: they fill what stays the same however many there are.
const UNCOUNTED: usize = 2_048;

/// Opens jobs and prints how much memory each adds.
pub(crate) async fn print(jobs: usize) {
    let folder = tempfile::tempdir().unwrap();
    let (journal, _) = Journal::open(&folder.path().join("data")).unwrap();
    let crew = Arc::new(Crew::found(Arc::new(journal), PEOPLE).await);
    println!("\n| memory | figure |");
    println!("|---|---|");
    println!("| with a crew and no job | {} MB |", megabytes(resident()));
    let cache = megabytes(fanwright::store::INDEX_CACHE_BYTES);
    println!("| pages of the index, at most, as chosen | {cache} MB |");
    open(&crew, UNCOUNTED).await;
    let before = resident();
    println!("| with {UNCOUNTED} jobs | {} MB |", megabytes(before));
    open(&crew, jobs).await;
    let after = resident();
    println!("| with {jobs} more | {} MB |", megabytes(after));
    let each = after.saturating_sub(before) as f64 / jobs as f64;
    println!("| each of these, open and idle | {} bytes |", number(each));
    crew.close().await;
}

async fn open(crew: &Crew, jobs: usize) {
    for number in 0..jobs {
        crew.later(APART);
        let person = number % PEOPLE;
        let mut screen = crew.begun(person).await;
        for _ in 0..ANSWERED {
            screen = crew.answered(person, &screen).await;
        }
    }
}

/// The memory of this process that is really there.
fn resident() -> u64 {
    memory("self", "VmRSS").unwrap()
}

fn megabytes(bytes: u64) -> u64 {
    bytes / 1_000_000
}
