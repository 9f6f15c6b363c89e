//! A person with every role who walks the shipped flows by a script.

use std::collections::BTreeMap;
use std::str::FromStr;
use std::sync::LazyLock;

use fanwright::flow::edition::Edition;
use fanwright::flow::embedded;
use fanwright::flow::library::Library;
use fanwright::flow::model::{Act, Role, Step};
use fanwright::flow::name::{ChoiceKey, FlowName, SourceName};
use fanwright::record::entry::{Channel, Entry, PhotoRef, Pins};
use fanwright::record::person::PersonId;
use fanwright::trade::chart::Chart;
use fanwright::trade::formula::Value;
use fanwright::trade::goods::Goods;
use fanwright::trade::kit::Kit;
use fanwright::trade::speed_book::SpeedBook;
use fanwright::walk::context::{Context, Viewer, Way};
use fanwright::walk::input::Input;
use fanwright::walk::prompt::Ask;
use fanwright::walk::state::Mode;
use fanwright::walk::{GO, State, apply, begin, decide, prompt};
use jiff::{SignedDuration, Timestamp};

/// More screens than this and the walk goes in circles.
const SCREENS_MAX: usize = 2_000;

/// What to answer where the first choice, the example or any words will not do: `flow/step`,
/// each with the answers for its first, second, … time; the last one stays.
pub(super) type Script = BTreeMap<&'static str, Vec<&'static str>>;

/// One job being walked.
pub(super) struct Walker {
    edition: Edition,
    state: State,
    now: Timestamp,
    kit: Kit,
    speed_book: SpeedBook,
    script: Script,
    times: BTreeMap<String, usize>,
    /// Every screen that was shown: `flow/step`.
    screens: Vec<String>,
    /// What each of them said.
    said: Vec<String>,
    /// The screens with a chart, and it.
    charts: Vec<(String, Chart)>,
}

static LIBRARY: LazyLock<Library> = LazyLock::new(|| {
    embedded::library().unwrap_or_else(|problems| {
        let lines: Vec<String> = problems.iter().map(ToString::to_string).collect();
        panic!("{}", lines.join("\n"))
    })
});

/// The shipped edition whose root is the flow called `root`.
pub(super) fn edition(root: &str) -> Edition {
    LIBRARY.edition(&FlowName::from(root)).unwrap()
}

fn person() -> PersonId {
    PersonId::from_str("00000000-0000-4000-8000-000000000001").unwrap()
}

fn roles() -> std::collections::BTreeSet<Role> {
    [Role::Technician, Role::Electrician, Role::Supervisor].into()
}

impl Walker {
    /// A job at its first screen.
    pub(super) fn begin(edition: Edition, script: Script) -> Self {
        let kit = Kit::read(include_str!("../../../flows/demo/kit.yaml")).unwrap();
        let book = include_str!("../../../flows/demo/speed-book.yaml");
        let speed_book = SpeedBook::read(book).unwrap();
        let now = Timestamp::from_second(1_900_000_000).unwrap();
        let pins = Pins {
            flow: edition.root().clone(),
            edition: edition.hash().to_owned(),
            crew: "crew".into(),
            evaporator: "evaporator".into(),
            kit: String::new(),
            speed_book: String::new(),
            training: false,
        };
        let roles = roles();
        let context = Context {
            who: Some(person()),
            roles: &roles,
            shown: &[],
            way: Way::ReadThenDo,
            channel: Channel::Terminal,
            now,
            goods: Goods {
                kit: &kit,
                speed_book: &speed_book,
            },
        };
        let entries = begin(&edition, pins, person(), &context).unwrap();
        let state = State::fold(&entries).unwrap();
        Self {
            edition,
            state,
            now,
            kit,
            speed_book,
            script,
            times: BTreeMap::new(),
            screens: Vec::new(),
            said: Vec::new(),
            charts: Vec::new(),
        }
    }

    /// Walks to the end and says how it ended.
    pub(super) fn walk(&mut self) -> String {
        for _ in 0..SCREENS_MAX {
            match &self.state.mode {
                Mode::Finished { outcome, .. } => return outcome.to_string(),
                Mode::Walking => self.answer(),
                other => panic!("{other:?} after {:?}", self.screens.last()),
            }
        }
        let tail: Vec<&str> = self
            .screens
            .iter()
            .rev()
            .take(30)
            .map(String::as_str)
            .collect();
        panic!("the walk goes in circles: {tail:#?}");
    }

    /// Walks until `flow/step` comes for the so-manieth time, and does not answer it.
    pub(super) fn walk_to(&mut self, name: &str, time: usize) {
        for _ in 0..SCREENS_MAX {
            let call = self.state.top().unwrap();
            let seen = self.screens.iter().filter(|screen| *screen == name);
            if format!("{}/{}", call.flow, call.step) == name && seen.count() + 1 >= time {
                return;
            }
            self.answer();
        }
        panic!("{name} never comes: {:?}", self.screens.last());
    }

    /// Whether the proof of a source stands.
    pub(super) fn is_proved(&self, source: &str) -> bool {
        self.state.sources[&SourceName::from(source)]
            .proof
            .is_some()
    }

    /// The screens that were shown between one and the next time of another.
    pub(super) fn between(&self, from: &str, to: &str) -> &[String] {
        let first = self.screens.iter().position(|screen| screen == from);
        let rest = &self.screens[first.unwrap() + 1..];
        let end = rest.iter().position(|screen| screen == to);
        &rest[..end.unwrap()]
    }

    /// Whether a screen of `flow/step` was shown.
    pub(super) fn saw(&self, name: &str) -> bool {
        self.screens.iter().any(|screen| screen == name)
    }

    /// What the screens of `flow/step` said, each time.
    pub(super) fn said_at(&self, name: &str) -> Vec<&str> {
        let all = self.screens.iter().zip(&self.said);
        let here = all.filter(|(screen, _)| *screen == name);
        here.map(|(_, said)| said.as_str()).collect()
    }

    /// Asserts that these screens were shown one after the other, with others between.
    pub(super) fn saw_in_order(&self, names: &[&str]) {
        let mut left = self.screens.iter();
        for name in names {
            assert!(
                left.any(|screen| screen == name),
                "{name} is missing or too early"
            );
        }
    }

    /// The charts of all screens called `flow/step`.
    pub(super) fn charts(&self, name: &str) -> Vec<&Chart> {
        let of_name = self.charts.iter().filter(|(screen, _)| screen == name);
        of_name.map(|(_, chart)| chart).collect()
    }

    /// The word or text of the last result of a formula.
    pub(super) fn result(&self, formula: &str, name: &str) -> String {
        let worked = self.state.worked.get(formula).expect("it was worked out");
        let results = worked.results.as_ref().expect("it gave a result");
        results.get(name).map_or_else(String::new, Value::words)
    }

    /// Whether a lock hangs.
    pub(super) fn has_locks(&self) -> bool {
        self.state.has_locks()
    }

    fn answer(&mut self) {
        let call = self.state.top().unwrap();
        let name = format!("{}/{}", call.flow, call.step);
        let step = self.edition.step(&call.flow, &call.step).unwrap().clone();
        let roles = roles();
        let viewer = Viewer {
            who: person(),
            roles: &roles,
            shown: &[],
            way: Way::ReadThenDo,
        };
        let shown = prompt(&self.edition, &self.state, viewer, self.now);
        self.screens.push(name.clone());
        self.said.push(shown.say.clone());
        let chart = shown.chart.iter().cloned();
        self.charts.extend(chart.map(|chart| (name.clone(), chart)));
        let input = if self.state.ask_state {
            press(shown.revision, fanwright::walk::AS_RECORDED)
        } else {
            self.input(&name, &step, &shown.ask, shown.revision)
        };
        self.take(&name, input);
    }

    fn take(&mut self, name: &str, input: Input) {
        let waits = matches!(input, Input::WaitOver { .. });
        self.now = self.now.checked_add(SignedDuration::from_secs(25)).unwrap();
        if let (true, Some(until)) = (waits, self.state.doing.until) {
            self.now = self.now.max(until);
        }
        let roles = roles();
        let context = Context {
            who: (!waits).then(person),
            roles: &roles,
            shown: &[],
            way: Way::ReadThenDo,
            channel: Channel::Terminal,
            now: self.now,
            goods: Goods {
                kit: &self.kit,
                speed_book: &self.speed_book,
            },
        };
        let entries: Vec<Entry> = decide(&self.edition, &self.state, &input, &context)
            .unwrap_or_else(|refusal| panic!("{name}: {input:?} was refused: {refusal:?}"));
        assert!(!entries.is_empty(), "{name}: {input:?} did nothing");
        for entry in &entries {
            apply(&mut self.state, entry);
        }
    }

    /// The scripted answer for this visit, if there is one.
    fn scripted(&mut self, name: &str) -> Option<&'static str> {
        let answers = self.script.get(name)?;
        let time = self.times.entry(name.to_owned()).or_default();
        let answer = answers.get(*time).or(answers.last()).copied();
        *time += 1;
        answer
    }

    fn input(&mut self, name: &str, step: &Step, ask: &Ask, revision: u64) -> Input {
        let scripted = self.scripted(name);
        match (&step.act, ask) {
            (_, Ask::Wait { until }) => Input::WaitOver { until: *until },
            (Act::ProveDead(_), Ask::Press(buttons)) => {
                let last = buttons.last().unwrap();
                press(revision, last.key.as_str())
            }
            (Act::ProveDead(_), Ask::Reading { .. }) => Input::Text(self.proof_reading()),
            (_, Ask::Press(buttons)) => {
                let key = scripted.unwrap_or_else(|| buttons[0].key.as_str().to_owned().leak());
                press(
                    revision,
                    if buttons.len() == 1 {
                        buttons[0].key.as_str()
                    } else {
                        key
                    },
                )
            }
            (_, Ask::Tick { options, .. }) => Input::Tick {
                revision,
                keys: match scripted {
                    Some(keys) => keys.split_whitespace().map(ChoiceKey::from).collect(),
                    None => options.iter().map(|option| option.key.clone()).collect(),
                },
            },
            (_, Ask::Reading { example, .. }) => {
                Input::Text(scripted.unwrap_or(example).to_owned())
            }
            (_, Ask::Words { .. }) => Input::Text(scripted.unwrap_or("as it is").to_owned()),
            (_, Ask::Photo { .. }) => Input::Photo(PhotoRef {
                stored: "00".into(),
                original: "00".into(),
                taken: None,
                looks: None,
            }),
            (act, ask) => panic!("{name}: {act:?} shows {ask:?}"),
        }
    }

    /// Known sources read well, proved points nothing.
    fn proof_reading(&self) -> String {
        let asked = self.said.last();
        if asked.is_some_and(|asked| asked.contains("known source")) {
            "120 V".into()
        } else {
            "0.1 V".into()
        }
    }
}

fn press(revision: u64, key: &str) -> Input {
    Input::Press {
        revision,
        key: if key.is_empty() {
            GO.into()
        } else {
            key.into()
        },
    }
}
