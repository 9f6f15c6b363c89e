//! Random histories: every engine answers as the plain one in memory does.

use fanwright::record::stream::Seq;
use fanwright::store::{
    Batch, Committed, Delivery, DeliveryMark, IndexChange, Memory, NoticeId, Store, StreamAppend,
};
use uuid::Uuid;

use super::{Bench, JOBS, input, job, notice, picture, second};

super::on_every_engine!(random_histories_end_as_in_memory);

/// A small generator of numbers (xorshift by George Marsaglia, 2003), so that a seed tells all.
struct Dice(u64);

impl Dice {
    fn below(&mut self, limit: u64) -> u64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        self.0 % limit
    }

    fn few(&mut self) -> u64 {
        self.below(3)
    }

    async fn batch(&mut self, model: &Memory, time: i64) -> Batch {
        let mut batch = Batch::new(second(time));
        batch.key = (self.below(3) > 0).then(|| input(&format!("page:{}", self.below(30))));
        let first = u128::from(self.below(5));
        for number in (first..).take(self.few() as usize) {
            let stream = job(number);
            // Now and then an expectation is out of date.
            let stale = u64::from(self.below(10) == 0);
            let expected = Seq(model
                .head(stream)
                .await
                .unwrap()
                .seq
                .0
                .saturating_sub(stale));
            let texts = 0..self.few();
            let entries = texts.map(|_| vec![b'x'; self.below(40) as usize]).collect();
            batch.appends.push(StreamAppend {
                stream,
                expected,
                entries,
            });
        }
        for number in 0..self.few() {
            let due = second(time + self.below(50) as i64);
            batch.notices.push(notice(&format!("page:{number}"), due));
        }
        for _ in 0..self.few() {
            let outcome = match self.below(3) {
                0 => Delivery::Delivered,
                1 => Delivery::Retry {
                    due: second(time + self.below(50) as i64),
                },
                _ => Delivery::GivenUp,
            };
            batch.marks.push(DeliveryMark {
                notice: NoticeId(self.below(40)),
                outcome,
            });
        }
        for _ in 0..self.few() {
            let key = vec![b'a' + self.below(12) as u8];
            let value = (self.below(3) > 0).then(|| vec![self.below(256) as u8]);
            let is_there = model.get(JOBS, key.clone()).await.unwrap().is_some();
            let is_named = batch.index.iter().any(|earlier| earlier.key == key);
            let is_new = value.is_some() && !is_there && !is_named && self.below(2) == 0;
            batch.index.push(IndexChange {
                table: JOBS,
                key,
                value,
                is_new,
            });
        }
        batch
    }
}

async fn random_histories_end_as_in_memory(bench: Bench) {
    for seed in 1..=4 {
        let bench = match &bench {
            Bench::Memory(_) => Bench::memory(),
            Bench::Faulty(_) => Bench::faulty(),
            Bench::Journal(_) => Bench::journal(),
        };
        one_history(&bench, seed).await;
    }
}

async fn one_history(bench: &Bench, seed: u64) {
    let mut dice = Dice(u64::MAX / seed);
    let model = Memory::new();
    let mut store = bench.open();
    let mut time = 0;
    for step in 0..120 {
        // Days pass, so that inputs are forgotten on the way.
        time += dice.below(20_000) as i64;
        let batch = dice.batch(&model, time).await;
        let expected = told(model.append(batch.clone()).await);
        assert_eq!(
            told(store.append(batch).await),
            expected,
            "seed {seed}, step {step}"
        );
        if dice.below(20) == 0 {
            let (person, name) = (Uuid::from_u128(dice.few().into()), dice.few().to_string());
            model.set_name(person, name.clone()).await.unwrap();
            store.set_name(person, name).await.unwrap();
        }
        match dice.below(40) {
            0 => store = bench.reopen(store).await,
            1 => store = bench.break_off(store),
            2 => {
                let pictures = (picture(&*store).await, picture(&model).await);
                assert_eq!(pictures.0, pictures.1, "seed {seed}, step {step}");
            }
            _ => {}
        }
        let key = input(&format!("page:{}", dice.below(30)));
        let handled = model.handled(key.clone(), second(time)).await.unwrap();
        assert_eq!(store.handled(key, second(time)).await.unwrap(), handled);
    }
    let store = bench.reopen(store).await;
    assert_eq!(picture(&*store).await, picture(&model).await, "seed {seed}");
}

/// An answer in a form that can be compared.
fn told(answer: Result<Committed, fanwright::store::AppendError>) -> Result<Committed, String> {
    answer.map_err(|problem| problem.to_string())
}
