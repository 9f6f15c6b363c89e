//! The parts of a step and of a flow's head, as text to compare and to read.

use std::fmt::{Display, Write as _};

use indexmap::IndexMap;

use crate::flow::heading::Heading;
use crate::flow::model::{Act, Branch, Danger, Fact, FactType, Flow, Measure, Range, Source, Step};
use crate::flow::name::ChoiceKey;
use crate::flow::template::Template;

/// One part of a step or of a flow's head, as text.
#[derive(Debug, PartialEq, Eq)]
pub(super) struct Part {
    pub(super) name: &'static str,
    pub(super) text: String,
    pub(super) safety: bool,
}

/// The name of the part that says where a step leads.
pub(super) const WAYS: &str = "ways on";

/// What a flow says before its steps.
pub(super) fn head(flow: &Flow) -> Vec<Part> {
    let mut parts = Listing::default();
    parts.add("title", false, flow.title.clone());
    parts.add("language", false, flow.language.clone());
    let minutes = f64::from(flow.pause_limit_seconds) / 60.0;
    parts.add("pause limit", true, format!("{minutes} min"));
    let again = flow.look_again.iter().map(|again| {
        let hours = f64::from(again.after_seconds) / 3600.0;
        format!("after {hours} h, by {}, {}", again.owner, again.date)
    });
    parts.add("look again", false, lines(again));
    let check_ins = flow.check_ins.iter().map(|it| &it.source);
    parts.add("check-ins", true, lines(check_ins));
    let outcomes = flow.outcomes.iter();
    let outcomes = outcomes.map(|(name, label)| format!("{name}: {label}"));
    parts.add("outcomes", false, lines(outcomes));
    let shown = flow.competences.iter();
    let shown = shown.map(|(name, competence)| format!("{name}: {}", competence.label));
    parts.add("competences", false, lines(shown));
    let sources = flow.energy.iter();
    let sources = sources.map(|(name, source)| format!("{name}: {}", source_text(source)));
    parts.add("energy sources", true, lines(sources));
    let facts = flow.facts.iter();
    let facts = facts.map(|(name, fact)| format!("{name}: {}", fact_text(fact)));
    parts.add("facts", false, lines(facts));
    parts.add(
        "needs",
        false,
        lines(flow.needs.iter().map(|need| &need.it)),
    );
    parts.add(
        "gives",
        false,
        lines(flow.gives.iter().map(|give| &give.it)),
    );
    parts.add("first step", !flow.energy.is_empty(), &flow.start);
    parts.0
}

/// What a step asks and does.
pub(super) fn parts(flow: &Flow, step: &Step) -> Vec<Part> {
    let mut parts = Listing::default();
    let guards = guards(step);
    parts.add("kind", guards, kind(&step.act));
    danger(&mut parts, &step.danger);
    let sets = step.sets.iter();
    let sets = sets.map(|(source, setting)| format!("{}: {setting:?}", source.it).to_lowercase());
    parts.add("sets", true, lines(sets));
    parts.add(
        "who may answer",
        true,
        lines(step.by.iter().map(|role| role.word())),
    );
    let shown = step.needs_shown.iter();
    parts.add("must have shown", true, lines(shown.map(|name| &name.it)));
    let duty = step
        .duty
        .as_ref()
        .map(|it| format!("{:?}", it.it).to_lowercase());
    parts.add("duty", true, lines(duty));
    let leads = step
        .leads
        .as_ref()
        .map(|it| format!("{:?}", it.it).to_lowercase());
    parts.add("leads", true, lines(leads));
    parts.add("words", guards, &step.say.source);
    parts.text("caution", true, step.caution.as_ref());
    parts.text("why", false, step.why.as_ref());
    parts.text("how", false, step.how.as_ref());
    let picture = step.picture.as_ref();
    parts.add("picture", false, lines(picture.map(|name| &name.it)));
    parts.add("source", false, lines(&step.cite));
    let least = step.takes_at_least_seconds;
    parts.add("least time", false, lines(least.map(|s| format!("{s} s"))));
    act(&mut parts, &step.act);
    // Another way can lead around what protects, so it is marked wherever there is something to
    // be protected from.
    parts.add(
        WAYS,
        !flow.energy.is_empty(),
        lines(step.then.iter().map(way)),
    );
    parts.0
}

fn danger(parts: &mut Listing, danger: &Danger) {
    match danger {
        Danger::HandsOff => parts.add("hands", true, "off"),
        Danger::Touches(sources) => {
            let names = sources.iter().map(|source| &source.it);
            parts.add("touches", true, lines(names));
        }
        Danger::TestsLive { sources, gear } => {
            let names = sources.iter().map(|source| &source.it);
            parts.add("tests live", true, lines(names));
            parts.add("gear", true, lines(gear.iter().map(|fact| &fact.it)));
        }
    }
}

fn act(parts: &mut Listing, act: &Act) {
    match act {
        Act::Tell { button } | Act::Confirm { button } => parts.add("button", false, button),
        Act::Choose { fact } | Act::Photo { fact } | Act::Write { fact } => {
            parts.add("asks for", false, fact);
        }
        Act::Measure(measure) => measured(parts, measure),
        Act::Wait { long, safety } => {
            parts.add("time", true, &long.source);
            parts.add("safety wait", true, safety);
        }
        Act::WorkOut(work_out) => {
            parts.add("computes", true, work_out.formula.name);
            let with = work_out.with.iter();
            let with = with.map(|(input, value)| format!("{input}: {}", value.source));
            parts.add("inputs", true, lines(with));
            let store = work_out.store.iter();
            let store = store.map(|(fact, result)| format!("{fact}: {result}"));
            parts.add("keeps", false, lines(store));
            parts.add("if it cannot be worked out", true, &work_out.unable.it);
        }
        Act::ProveDead(proof) => {
            let points = proof.sources.iter();
            let points = points.map(|(source, points)| {
                let (ac, dc) = (points.ac.join(", "), points.dc.join(", "));
                format!("{}: AC {ac}; DC {dc}", source.it)
            });
            parts.add("points", true, lines(points));
            parts.add("limit", true, proof.limit.name);
            parts.add("if it is live", true, &proof.not_dead.it);
        }
        Act::Hold { role, release } => {
            parts.add("released by", true, role.word());
            parts.add("button", false, release);
        }
        Act::Run(run) => {
            parts.add("walks", true, &run.flow.it);
            let with = run.with.iter();
            let with = with.map(|(need, value)| format!("{need}: {}", value.source));
            parts.add("gives it", false, lines(with));
            let take = run
                .take
                .iter()
                .map(|(own, given)| format!("{own}: {given}"));
            parts.add("takes from it", false, lines(take));
            let energy = run.energy.iter();
            let energy = energy.map(|(its, own)| format!("{its}: {own}"));
            parts.add("its energy sources", true, lines(energy));
        }
        Act::Finish { outcome } => parts.add("ends as", true, outcome),
    }
}

fn measured(parts: &mut Listing, measure: &Measure) {
    parts.add("asks for", false, &measure.fact);
    let range = |range: Option<&Range>| lines(range.map(between));
    parts.add("plausible", true, range(measure.plausible.as_ref()));
    parts.add("expected", true, range(measure.expect.as_ref()));
    parts.add("instrument", false, lines(&measure.instrument));
    parts.add("example", false, lines(&measure.example));
}

fn between(range: &Range) -> String {
    format!("{} to {}", range.from.source, range.to.source)
}

fn way(branch: &Branch) -> String {
    match &branch.when {
        Some(when) => format!("{} if {}", branch.go.it, when.source),
        None => branch.go.it.to_string(),
    }
}

fn kind(act: &Act) -> &'static str {
    match act {
        Act::Tell { .. } => "tell",
        Act::Confirm { .. } => "confirm",
        Act::Choose { .. } => "choose",
        Act::Measure(_) => "measure",
        Act::Photo { .. } => "photo",
        Act::Write { .. } => "write",
        Act::Wait { .. } => "wait",
        Act::WorkOut(_) => "work_out",
        Act::ProveDead(_) => "prove_dead",
        Act::Hold { .. } => "hold",
        Act::Run(_) => "run",
        Act::Finish { .. } => "finish",
    }
}

/// Whether a step protects somebody, or must be protected.
pub(super) fn guards(step: &Step) -> bool {
    let act = match &step.act {
        Act::ProveDead(_) | Act::Hold { .. } | Act::Run(_) => true,
        Act::Wait { safety, .. } => *safety,
        _ => false,
    };
    act || step.caution.is_some()
        || !step.sets.is_empty()
        || !step.by.is_empty()
        || !step.needs_shown.is_empty()
        || !matches!(step.danger, Danger::HandsOff)
}

fn source_text(source: &Source) -> String {
    let mut text = format!("{:?}, {}", source.kind, source.label);
    if let Some(feeder) = &source.fed_by {
        let _ = write!(text, ", fed by {feeder}");
    }
    if let Some(prover) = &source.proved_by {
        let _ = write!(text, ", proved by {prover}");
    }
    if let Some(when) = &source.exists_when {
        let _ = write!(text, ", exists when {}", when.source);
    }
    text
}

fn fact_text(fact: &Fact) -> String {
    let choices = |keys: &IndexMap<_, String>| {
        let keys = keys.iter();
        lines(keys.map(|(key, label): (&ChoiceKey, _)| format!("{key} ({label})")))
    };
    let holds = match &fact.holds {
        FactType::OneOf(keys) => format!("one of {}", choices(keys)),
        FactType::SomeOf(keys) => format!("some of {}", choices(keys)),
        FactType::Measures { kind, show_in } => format!("{kind:?} in {}", show_in.symbol),
        FactType::Counts { noun, from, to } => format!("{from} to {to} {noun}"),
        FactType::Number { noun } => format!("a number: {noun}"),
        FactType::Text { characters_max } => format!("text of {characters_max} characters"),
        FactType::Photo { of } => format!("a photo: {of}"),
    };
    let held = fact.held.iter();
    let held = lines(held.map(|(key, role)| format!("{} is held for {}", key.it, role.word())));
    let held = if held.is_empty() {
        held
    } else {
        format!(", {held}")
    };
    let stays = fact.stays.map_or(String::new(), |stays| {
        let stays = format!("{stays:?}").to_lowercase();
        format!(", stays known as {stays}")
    });
    let first_page = match fact.first_page {
        None => "",
        Some(Heading::Found) => ", on the first page as found",
        Some(Heading::Done) => ", on the first page as done",
        Some(Heading::Gained) => ", on the first page as gained",
        Some(Heading::Open) => ", on the first page as open",
    };
    format!("{}, {holds}{held}{stays}{first_page}", fact.label)
}

/// Several things on one line.
fn lines<T: Display>(things: impl IntoIterator<Item = T>) -> String {
    let things: Vec<String> = things.into_iter().map(|thing| thing.to_string()).collect();
    things.join("; ")
}

/// Parts in the making.
#[derive(Default)]
struct Listing(Vec<Part>);

impl Listing {
    fn add(&mut self, name: &'static str, safety: bool, text: impl Display) {
        let text = text.to_string();
        if !text.is_empty() {
            self.0.push(Part { name, text, safety });
        }
    }

    fn text(&mut self, name: &'static str, safety: bool, template: Option<&Template>) {
        if let Some(template) = template {
            self.add(name, safety, &template.source);
        }
    }
}
