//! The job whose every order is searched: lock so many circuits, prove them, touch them, give them
//! back.

use fanwright::flow::edition::Edition;
use fanwright::flow::library::{Library, Sources};

/// The small job: lock so many circuits, prove them, touch them, give them back.
pub(super) fn edition(circuits: usize) -> Edition {
    let names: Vec<char> = ('a'..).take(circuits).collect();
    let mut sources = Sources::default();
    for (name, text) in [
        ("job.yaml", job(&names)),
        ("make-dead.yaml", make_dead(&names)),
    ] {
        sources.files.insert(name.to_owned(), text);
    }
    let library = Library::load(sources).unwrap_or_else(|problems| {
        let told: Vec<String> = problems.iter().map(ToString::to_string).collect();
        panic!("{}", told.join("\n"))
    });
    library.edition(&"job".into()).unwrap()
}

/// The flow of the whole job.
fn job(names: &[char]) -> String {
    format!(
        "flow: job\ntitle: Job\nlanguage: en\npause_limit: 30 min\noutcomes: {{ done: Done }}\n\
         energy:\n{}start: work\nsteps:\n\
         \x20 work: {{ touches: [{}], confirm: It is done, say: Do it., then: off_a }}\n{}\
         \x20 switch_in: {{ hands_off: true, sets: {{ {} }}, confirm: On, say: On., then: end }}\n\
         \x20 end: {{ finish: done, say: Done. }}\n",
        energy(names, ", proved_by: make-dead"),
        list(names, ""),
        one_by_one(names, ("off", "unlocked"), "switch_in"),
        list(names, ": closed"),
    )
}

/// The flow that proves every circuit.
fn make_dead(names: &[char]) -> String {
    format!(
        "flow: make-dead\ntitle: Make dead\nlanguage: en\n\
         outcomes: {{ made_safe: Made safe, not_safe: Not made safe }}\n\
         energy:\n{}start: open\nsteps:\n\
         \x20 open: {{ hands_off: true, sets: {{ {} }}, confirm: Open, say: Open., \
         then: lock_a }}\n{}\
         \x20 prove:\n    hands_off: true\n    prove_dead: {{ {} }}\n\
         \x20   limit: absence_of_voltage_limit\n    not_dead: live\n    say: Test.\n\
         \x20   then: proved\n\
         \x20 live: {{ hands_off: true, tell: Stop here, say: Live., then: not_proved }}\n\
         \x20 proved: {{ finish: made_safe, say: Recorded. }}\n\
         \x20 not_proved: {{ finish: not_safe, say: Live. }}\n",
        energy(names, ""),
        list(names, ": opened"),
        one_by_one(names, ("lock", "locked"), "prove"),
        list(names, ": { ac: [L1 to ground] }"),
    )
}

fn energy(names: &[char], proved: &str) -> String {
    let line = |name| format!("  {name}: {{ kind: electrical, label: Circuit {name}{proved} }}\n");
    names.iter().map(line).collect()
}

fn list(names: &[char], after: &str) -> String {
    let items: Vec<String> = names.iter().map(|name| format!("{name}{after}")).collect();
    items.join(", ")
}

/// One step for each circuit, in order, that sets it.
fn one_by_one(names: &[char], (step, setting): (&str, &str), last: &str) -> String {
    let mut steps = String::new();
    for (at, name) in names.iter().enumerate() {
        let next = names.get(at + 1).map(|next| format!("{step}_{next}"));
        let next = next.unwrap_or_else(|| last.to_owned());
        steps += &format!(
            "  {step}_{name}: {{ hands_off: true, sets: {{ {name}: {setting} }}, \
             confirm: Done, say: Do it., then: {next} }}\n"
        );
    }
    steps
}
