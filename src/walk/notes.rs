//! Lines above the question: what the last answer meant, and how every source stands.

use jiff::Timestamp;

use super::prompt::{Note, Tone};
use super::show::Screen;
use super::state::{SourceState, State, Told};
use crate::flow::edition::Edition;
use crate::flow::model::{Setting, SourceKind};
use crate::flow::name::SourceName;
use crate::record::entry::{Band, ProofFailure, TypedReading, VoidReason};

/// What to tell about the answer before.
pub(super) fn told(screen: &Screen<'_>) -> Vec<Note> {
    let mut notes: Vec<Note> = screen
        .state
        .told
        .iter()
        .map(|told| note(screen.state, told))
        .collect();
    notes.dedup();
    notes
}

fn note(state: &State, told: &Told) -> Note {
    match told {
        Told::Reading(reading, band) => judged(reading, band.as_ref()),
        Told::Said(text) => Note {
            tone: Tone::Plain,
            text: text.clone(),
        },
        Told::Proved(sources) => Note {
            tone: Tone::Good,
            text: format!(
                "Recorded: {} proved dead by your test at {}. Touch nothing else.",
                labels(state, sources),
                clock(state.last_at)
            ),
        },
        Told::Voided(sources, why) => Note {
            tone: Tone::Warning,
            text: format!(
                "{}: the proof is void, because {}. {}",
                labels(state, sources),
                void_reason(*why),
                treat_as(state, sources)
            ),
        },
        Told::ProofFailed(why) => Note {
            tone: Tone::Warning,
            text: proof_failure(why),
        },
        Told::TestBrokenOff => Note {
            tone: Tone::Warning,
            text: "The test was broken off. What it read does not count. One person makes it in \
                   one go: begin it again."
                .to_owned(),
        },
    }
}

/// A reading with what was expected: `208 V, as expected (187.2 V to 228.8 V).`
fn judged(reading: &TypedReading, band: Option<&Band>) -> Note {
    let shown = reading.words();
    let Some(band) = band else {
        return Note {
            tone: Tone::Plain,
            text: format!("{shown} is noted."),
        };
    };
    let unit = reading
        .value
        .kind
        .units()
        .find(|unit| unit.symbol == reading.unit);
    let unit = unit.unwrap_or_else(|| reading.value.kind.usual_unit());
    let (low, high) = (band.low.show(unit), band.high.show(unit));
    if band.holds(reading.value) {
        Note {
            tone: Tone::Good,
            text: format!("{shown}: within {low} to {high}."),
        }
    } else {
        let side = if reading.value.si < band.low.si {
            "too low"
        } else {
            "too high"
        };
        let text =
            format!("{shown} again outside: {side} ({low} to {high}). Both readings are kept.");
        Note {
            tone: Tone::Warning,
            text,
        }
    }
}

/// How to treat what is not proved: a blade turns, a wire is live.
fn treat_as(state: &State, sources: &[SourceName]) -> &'static str {
    let kind = |name: &SourceName| state.sources.get(name).map(|source| source.declared.kind);
    if sources
        .iter()
        .all(|name| kind(name) == Some(SourceKind::Motion))
    {
        "It can turn at any time."
    } else {
        "Treat it as live."
    }
}

fn labels(state: &State, sources: &[SourceName]) -> String {
    let label = |name: &SourceName| {
        state
            .sources
            .get(name)
            .map_or_else(|| name.to_string(), |source| source.declared.label.clone())
    };
    sources.iter().map(label).collect::<Vec<_>>().join(", ")
}

/// Why a proof is void, as the end of a sentence.
pub fn void_reason(why: VoidReason) -> &'static str {
    match why {
        VoidReason::Handover => "another person took over",
        VoidReason::LongPause => "too much time went by",
        VoidReason::SteppedBack => "you went back across it",
        VoidReason::Reenergised => "it was switched or freed again",
        VoidReason::LockOff => "its lock came off",
        VoidReason::FoundLive => "it was found live",
        VoidReason::StateChanged => "the panel is not as recorded",
    }
}

/// Why a proof did not pass, and what to do.
pub fn proof_failure(why: &ProofFailure) -> String {
    match why {
        ProofFailure::InstrumentUnfit { why } => {
            format!(
                "This meter is not fit for the test. {why} Fetch another meter and begin again."
            )
        }
        ProofFailure::KnownSourceBefore { read } => format!(
            "The meter read {read} on the known source. It does not show what is live. Check the \
             source and the setting, or fetch another meter. The test begins again."
        ),
        ProofFailure::KnownSourceAfter { read } => format!(
            "The meter read {read} on the known source after the test. It failed in between. Every \
             reading is void. Fetch another meter and begin again."
        ),
        ProofFailure::NotDead { point, read } => {
            format!("Not dead: {read} at {point}. Hands off. Find the source.")
        }
    }
}

/// How every source on this evaporator stands. Never says that anything is dead now.
pub(super) fn sources(edition: &Edition, state: &State) -> Vec<Note> {
    state
        .sources
        .iter()
        .filter(|(name, source)| {
            // What hangs there is told of a circuit, too, that turned out to be another one.
            !source.locks.is_empty() || super::draft::source_exists(edition, state, name)
        })
        .filter(|(_, source)| source.setting.is_some() || source.void.is_some())
        .map(|(_, source)| standing(source))
        .collect()
}

fn standing(source: &SourceState) -> Note {
    let label = &source.declared.label;
    let done = source
        .setting
        .map_or("nothing done yet".to_owned(), |(setting, at)| {
            format!(
                "{} at {}",
                setting_word(source.declared.kind, setting),
                clock(at)
            )
        });
    let locks = match source.locks.len() {
        0 => String::new(),
        1 => ", 1 lock".to_owned(),
        count => format!(", {count} locks"),
    };
    match (source.proof, source.void) {
        (Some(proof), _) => Note {
            tone: Tone::Plain,
            text: format!(
                "{label}: {done}{locks}. Recorded proved {}.",
                clock(proof.at)
            ),
        },
        (None, Some(why)) => Note {
            tone: Tone::Warning,
            text: format!(
                "{label}: {done}{locks}. Not current, {}: {}.",
                void_reason(why),
                source.unproved()
            ),
        },
        (None, None) => Note {
            tone: Tone::Warning,
            text: format!("{label}: {done}{locks}. Not proved: {}.", source.unproved()),
        },
    }
}

fn setting_word(kind: SourceKind, setting: Setting) -> &'static str {
    match (kind, setting) {
        (_, Setting::Opened) => "recorded open",
        (_, Setting::Locked) => "recorded locked",
        (_, Setting::Unlocked) => "lock taken off",
        (_, Setting::Closed) => "switched on",
        (_, Setting::Waited) => "discharge time waited",
        (_, Setting::Stopped) => "recorded stopped",
        (_, Setting::Blocked) => "recorded blocked",
        (_, Setting::Freed) => "freed",
    }
}

/// Hours and minutes, UTC.
fn clock(at: Timestamp) -> String {
    at.strftime("%H:%M UTC").to_string()
}
