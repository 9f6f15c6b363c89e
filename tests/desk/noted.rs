//! What an evaporator is remembered by over its jobs.

use fanwright::desk::Actor;
use fanwright::desk::id::EvaporatorId;
use fanwright::desk::jobs::NewJob;
use fanwright::desk::noted::READINGS_SHOWN;
use fanwright::desk::screen::Screen;
use fanwright::flow::name::FlowName;
use fanwright::store::{Batch, IndexChange, Store, Table};
use fanwright::walk::input::Input;
use jiff::SignedDuration;

use super::World;

impl World {
    /// Reads the supply and types the plate's model in a job on this evaporator.
    async fn reads(&self, actor: &Actor, on: EvaporatorId, (volts, model): (&str, &str)) -> Screen {
        self.after(SignedDuration::from_hours(24));
        let new = NewJob {
            evaporator: on,
            flow: FlowName::from("read-the-plate"),
            training: false,
        };
        let begun = self.desk.begin(self.key(), actor, new).await.unwrap();
        let mut screen = begun.screen;
        let mut answers = vec![volts, model, "3", "Ann", "Monday"];
        if volts == "260 V" {
            // Outside the expected range it is asked for once more.
            answers.insert(0, volts);
        }
        for typed in answers {
            let input = Input::Text(typed.to_owned());
            screen = self.does(actor, screen.job, input).await.screen;
        }
        screen
    }
}

#[tokio::test]
async fn the_last_answer_stays_and_every_reading_is_in_the_trend() {
    let world = World::new();
    let sam = world.supervisor().await;
    let on = world.evaporator(&sam).await.id;
    let first = world.reads(&sam, on, ("208 V", "Model A")).await;
    let second = world.reads(&sam, on, ("260 V", "Model B")).await;
    let page = world.desk.evaporator(&sam, on, None).await.unwrap();
    let words = |known: &[fanwright::desk::noted::StaysKnown]| {
        let words = known
            .iter()
            .map(|it| (it.label.clone(), it.words.clone(), it.job));
        words.collect::<Vec<_>>()
    };
    let known = |label: &str, said: &str| (label.to_owned(), said.to_owned(), second.job);
    assert_eq!(words(&page.nameplate), [known("Model", "Model B")]);
    assert_eq!(words(&page.setting), [known("Setting set", "3")]);
    let due = [
        known("Recheck due", "Monday"),
        known("Recheck belongs to", "Ann"),
    ];
    assert_eq!(words(&page.recheck), due);
    assert_eq!(page.trends.len(), 1);
    let trend = &page.trends[0];
    assert_eq!((trend.label.as_str(), trend.has_earlier), ("Supply", false));
    let readings = trend.readings.iter().map(|it| (it.reading.words(), it.job));
    let readings: Vec<_> = readings.collect();
    let expected = [("208 V", first.job), ("260 V", second.job)];
    assert_eq!(readings, expected.map(|(said, job)| (said.to_owned(), job)));
    let band = trend.readings[1].band.unwrap();
    assert!(!band.holds(trend.readings[1].reading.value));
    let jobs: Vec<_> = page.jobs.iter().map(|line| line.job).collect();
    assert_eq!(jobs, [second.job, first.job]);
}

#[tokio::test]
async fn a_recheck_is_due_until_somebody_begins_a_job_there() {
    let world = World::new();
    let sam = world.supervisor().await;
    let on = world.evaporator(&sam).await.id;
    world.reads(&sam, on, ("208 V", "Model A")).await;
    let due = world.desk.evaporator(&sam, on, None).await.unwrap();
    assert_eq!(due.recheck.len(), 2);
    let new = NewJob {
        evaporator: on,
        flow: FlowName::from("look-at-the-fan"),
        training: false,
    };
    world.after(SignedDuration::from_hours(24));
    world.desk.begin(world.key(), &sam, new).await.unwrap();
    let begun = world.desk.evaporator(&sam, on, None).await.unwrap();
    assert_eq!(begun.recheck, []);
}

#[tokio::test]
async fn a_training_walk_leaves_nothing_and_an_amended_reading_counts_once() {
    let world = World::new();
    let sam = world.supervisor().await;
    let on = world.evaporator(&sam).await.id;
    let new = NewJob {
        evaporator: on,
        flow: FlowName::from("read-the-plate"),
        training: true,
    };
    let begun = world.desk.begin(world.key(), &sam, new.clone()).await;
    let job = begun.unwrap().screen.job;
    world.does(&sam, job, Input::Text("208 V".to_owned())).await;
    let page = world.desk.evaporator(&sam, on, None).await.unwrap();
    assert_eq!(page.trends, []);
    let new = NewJob {
        training: false,
        ..new
    };
    let begun = world.desk.begin(world.key(), &sam, new).await.unwrap();
    let job = begun.screen.job;
    world.does(&sam, job, Input::Text("208 V".to_owned())).await;
    world.does(&sam, job, Input::Back).await;
    world.does(&sam, job, Input::Text("210 V".to_owned())).await;
    let page = world.desk.evaporator(&sam, on, None).await.unwrap();
    let readings = page.trends[0].readings.iter();
    let readings: Vec<String> = readings.map(|it| it.reading.words()).collect();
    assert_eq!(readings, ["210 V"]);
}

#[tokio::test]
async fn the_last_twelve_are_shown_and_old_records_are_read_at_the_next_start() {
    let mut world = World::new();
    let sam = world.supervisor().await;
    let on = world.evaporator(&sam).await.id;
    for number in 0..=READINGS_SHOWN {
        let volts = format!("{} V", 200 + number);
        world.reads(&sam, on, (&volts, "Model A")).await;
    }
    let before = world.desk.evaporator(&sam, on, None).await.unwrap();
    let trend = &before.trends[0];
    assert_eq!(
        (trend.readings.len(), trend.has_earlier),
        (READINGS_SHOWN, true)
    );
    assert_eq!(trend.readings[0].reading.words(), "201 V");
    let mut batch = Batch::new("2032-06-01T08:00:00Z".parse().unwrap());
    for table in ["evaporator_stays", "evaporator_read", "evaporator_readings"] {
        let table = Table::named(table);
        let rows = world.memory.scan(table.clone(), vec![], None, 999).await;
        let keys = rows.unwrap().items.into_iter().map(|row| row.key);
        let gone = keys.map(|key| IndexChange::remove(table.clone(), key));
        batch.index.extend(gone);
    }
    world.memory.append(batch).await.unwrap();
    let lost = world.desk.evaporator(&sam, on, None).await.unwrap();
    assert_eq!((lost.trends, lost.nameplate), (vec![], vec![]));
    world.restart().await;
    let again = world.desk.evaporator(&sam, on, None).await.unwrap();
    assert_eq!(again, before);
}
