//! A job on the bench: the engine with people, a clock and the shipped flows, and nothing else.

use std::collections::BTreeSet;
use std::sync::LazyLock;

use fanwright::flow::edition::Edition;
use fanwright::flow::embedded;
use fanwright::flow::model::Role;
use fanwright::record::entry::{Channel, Entry, Pins, SignOff};
use fanwright::record::person::PersonId;
use fanwright::trade::goods::Goods;
use fanwright::trade::kit::Kit;
use fanwright::trade::speed_book::SpeedBook;
use fanwright::walk::context::{Context, Viewer, Way};
use fanwright::walk::input::Input;
use fanwright::walk::prompt::Prompt;
use fanwright::walk::refusal::Refusal;
use fanwright::walk::{self, State};
use jiff::{SignedDuration, Timestamp};
use uuid::Uuid;

/// The shipped flow of a whole job.
pub(crate) static EDITION: LazyLock<Edition> = LazyLock::new(|| {
    let library = embedded::library().unwrap_or_else(|problems| {
        let told: Vec<String> = problems.iter().map(ToString::to_string).collect();
        panic!("{}", told.join("\n"))
    });
    library.edition(&embedded::main_flow()).unwrap()
});

static KIT: LazyLock<Kit> =
    LazyLock::new(|| Kit::read(include_str!("../../flows/demo/kit.yaml")).unwrap());
static SPEED_BOOK: LazyLock<SpeedBook> =
    LazyLock::new(|| SpeedBook::read(include_str!("../../flows/demo/speed-book.yaml")).unwrap());

/// Somebody of the crew.
#[derive(Clone, Debug)]
pub(crate) struct Person {
    pub(crate) id: PersonId,
    pub(crate) roles: BTreeSet<Role>,
    pub(crate) shown: Vec<SignOff>,
    pub(crate) way: Way,
}

impl Person {
    pub(crate) fn new(number: u128, roles: &[Role]) -> Self {
        Self {
            id: PersonId(Uuid::from_u128(number)),
            roles: roles.iter().copied().collect(),
            shown: Vec::new(),
            way: Way::ReadThenDo,
        }
    }
}

/// An apprentice, a technician, an electrician and a supervisor.
pub(crate) fn crew() -> [Person; 4] {
    [
        Person::new(1, &[Role::Apprentice]),
        Person::new(2, &[Role::Technician]),
        Person::new(3, &[Role::Electrician]),
        Person::new(4, &[Role::Supervisor]),
    ]
}

/// A job on the bench.
#[derive(Clone)]
pub(crate) struct Bench {
    pub(crate) edition: Edition,
    pub(crate) state: State,
    pub(crate) entries: Vec<Entry>,
    pub(crate) now: Timestamp,
}

impl Bench {
    /// A job in the hands of `holder`, at its first screen.
    pub(crate) fn begin(holder: &Person) -> Self {
        Self::begin_with(EDITION.clone(), holder)
    }

    /// The same with a flow of the test's own.
    pub(crate) fn begin_with(edition: Edition, holder: &Person) -> Self {
        let now: Timestamp = "2026-03-02T08:00:00Z".parse().unwrap();
        let pins = Pins {
            flow: edition.root().clone(),
            edition: edition.hash().to_owned(),
            crew: "crew".to_owned(),
            evaporator: "evaporator".to_owned(),
            kit: String::new(),
            speed_book: String::new(),
            training: false,
        };
        let entries = walk::begin(&edition, pins, holder.id, &context(holder, now)).unwrap();
        let state = State::fold(&entries).unwrap();
        Self {
            edition,
            state,
            entries,
            now,
        }
    }

    pub(crate) fn pass(&mut self, seconds: i64) {
        self.now = self
            .now
            .checked_add(SignedDuration::from_secs(seconds))
            .unwrap();
    }

    /// What `input` leads to; nothing changes when it is refused.
    pub(crate) fn give(&mut self, person: &Person, input: &Input) -> Result<usize, Refusal> {
        let walk::Decided {
            entries: new,
            after,
        } = walk::decide_and_apply(
            &self.edition,
            &self.state,
            input,
            &context(person, self.now),
        )?;
        for entry in &new {
            walk::apply(&mut self.state, entry);
        }
        assert_eq!(after, self.state, "the state that comes with the entries");
        let count = new.len();
        self.entries.extend(new);
        Ok(count)
    }

    pub(crate) fn prompt(&self, person: &Person) -> Prompt {
        let viewer = Viewer {
            who: person.id,
            roles: &person.roles,
            shown: &person.shown,
            way: person.way,
        };
        walk::prompt(&self.edition, &self.state, viewer, self.now)
    }
}

pub(crate) fn context(person: &Person, now: Timestamp) -> Context<'_> {
    Context {
        who: Some(person.id),
        roles: &person.roles,
        shown: &person.shown,
        way: person.way,
        channel: Channel::Terminal,
        now,
        goods: Goods {
            kit: &KIT,
            speed_book: &SPEED_BOOK,
        },
    }
}
