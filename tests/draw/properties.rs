//! What must hold for the sheet of any flow.

use std::collections::BTreeSet;
use std::fmt::Write;

use fanwright::report::diagram::{self, Diagram, Kind, Line, Rect, Sheet, Way};
use proptest::prelude::*;

use super::{diagram_of, shipped};

fn inside(line: &Line, rect: &Rect) -> bool {
    let above = line.y - line.size * 0.8;
    line.x >= rect.x
        && line.x + line.width() <= rect.x + rect.width + 0.01
        && above >= rect.y
        && line.y + line.size * 0.25 <= rect.y + rect.height
}

/// Whether a stretch of a line, level or upright, goes through a rectangle.
fn crosses((from, to): ((f32, f32), (f32, f32)), rect: &Rect) -> bool {
    let stretch = Rect {
        x: from.0.min(to.0),
        y: from.1.min(to.1),
        width: (from.0 - to.0).abs(),
        height: (from.1 - to.1).abs(),
    };
    let inner = Rect {
        x: rect.x + 0.5,
        y: rect.y + 0.5,
        width: rect.width - 1.0,
        height: rect.height - 1.0,
    };
    stretch.overlaps(&inner)
}

fn holds(name: &str, diagram: &Diagram, sheet: &Sheet) {
    let drawn: BTreeSet<usize> = sheet.cards.iter().map(|card| card.card).collect();
    assert_eq!(
        drawn.len(),
        diagram.cards.len(),
        "{name}: each step is drawn"
    );
    assert_eq!(sheet.cards.len(), diagram.cards.len(), "{name}: and once");
    let whole = Rect {
        x: 0.0,
        y: 0.0,
        width: sheet.width,
        height: sheet.height,
    };
    let number = |card: usize| {
        sheet
            .cards
            .iter()
            .find(|it| it.card == card)
            .unwrap()
            .number
    };
    for (at, placed) in sheet.cards.iter().enumerate() {
        let card = &diagram.cards[placed.card];
        assert_eq!(placed.number, at + 1, "{name}: numbers are in order");
        for other in &sheet.cards[at + 1..] {
            assert!(
                !placed.rect.overlaps(&other.rect),
                "{name}: {} lies over {}",
                placed.number,
                other.number
            );
        }
        for line in &placed.lines {
            assert!(
                inside(line, &placed.rect),
                "{name}: {line:?} {:?}",
                placed.rect
            );
        }
        let ways: Vec<usize> = placed.ways.iter().map(|way| way.to).collect();
        let exits: Vec<usize> = card.exits.iter().map(|exit| number(exit.to)).collect();
        assert_eq!(ways, exits, "{name}: each way on is drawn once");
        let said: String = placed.lines.iter().map(|line| line.text.as_str()).collect();
        let plain = |text: &str| text.split_whitespace().collect::<String>();
        assert!(plain(&said).contains(&plain(&card.says)), "{name}: {said}");
    }
    for strip in &sheet.strips {
        assert!(
            strip.lines.iter().all(|line| inside(line, &strip.rect)),
            "{name}"
        );
    }
    for region in &sheet.regions {
        assert!(inside(&region.label, &region.rect), "{name}: {region:?}");
        assert!(region.rect.x + region.rect.width <= whole.width);
    }
    assert!(sheet.head.iter().all(|line| inside(line, &whole)), "{name}");
    lines_hold(name, sheet);
}

/// Every way with a line has one, and it goes through no card.
fn lines_hold(name: &str, sheet: &Sheet) {
    let lines = sheet.cards.iter().flat_map(|card| &card.ways);
    let lines = lines.filter(|way| way.way != Way::Number).count();
    assert_eq!(
        sheet.wires.len(),
        lines,
        "{name}: as many lines as ways with a line"
    );
    for wire in &sheet.wires {
        for stretch in wire.points.windows(2) {
            for card in &sheet.cards {
                let stretch = (stretch[0], stretch[1]);
                assert!(
                    !crosses(stretch, &card.rect),
                    "{name}: a line {wire:?} goes through {}",
                    card.number
                );
            }
        }
    }
}

#[test]
fn on_every_shipped_sheet_nothing_is_lost_cut_or_covered() {
    let mut most = 0;
    for (name, diagram, sheet) in shipped() {
        holds(name.as_str(), &diagram, &sheet);
        most = most.max(sheet.cards.len());
        let shape = sheet.width / sheet.height;
        assert!((0.4..3.0).contains(&shape), "{name}: {shape}");
        let ends = diagram.cards.iter().filter(|card| card.kind == Kind::End);
        assert!(ends.count() > 0, "{name}");
    }
    assert!(most > 60, "a long flow is among them");
}

#[test]
fn no_shipped_condition_is_shown_as_an_expression() {
    for (name, diagram, _) in shipped() {
        for exit in diagram.cards.iter().flat_map(|card| &card.exits) {
            let when = exit.when.as_deref().unwrap_or_default();
            for raw in ["==", "&&", "||", "\"", "_"] {
                assert!(!when.contains(raw), "{name}: {when}");
            }
        }
    }
}

/// A random flow: steps with random texts that lead anywhere.
fn flow() -> impl Strategy<Value = String> {
    let step = (
        0..5usize,
        "[A-Za-z ]{1,160}",
        any::<[prop::sample::Index; 3]>(),
        0..4usize,
    );
    prop::collection::vec(step, 1..70).prop_map(|steps| {
        let mut yaml = String::from(
            "flow: random\ntitle: Random\nlanguage: en\noutcomes: { done: Done }\n\
             energy:\n  fan: { kind: electrical, label: Fan circuit, proved_by: random }\n\
             facts:\n  pick: { one_of: { a: The first, b: The second one, c: A third } }\n\
             start: s0\nsteps:\n",
        );
        let count = steps.len();
        for (at, (kind, say, to, sets)) in steps.iter().enumerate() {
            let to = to.map(|to| to.index(count + 1));
            let name = |to: usize| {
                if to == count {
                    "end".to_owned()
                } else {
                    format!("s{to}")
                }
            };
            if at % 9 == 4 {
                writeln!(yaml, "  # --- Part {at} {say}").unwrap();
            }
            write!(yaml, "  s{at}: {{ say: 'x {say}', ").unwrap();
            match kind {
                0 => write!(yaml, "tell: Go on, hands_off: true"),
                1 => write!(yaml, "confirm: Done, touches: [fan], caution: Mind it"),
                2 => write!(
                    yaml,
                    "hold: electrician, release: Released, hands_off: true"
                ),
                _ => write!(yaml, "choose: pick, hands_off: true"),
            }
            .unwrap();
            let setting = ["opened", "locked", "unlocked", "closed"][*sets];
            if at % 3 == 0 {
                write!(yaml, ", sets: {{ fan: {setting} }}").unwrap();
            }
            if *kind > 2 {
                writeln!(
                    yaml,
                    ", then: [{{ when: 'pick == \"a\"', go: {} }}, {{ when: 'pick == \"b\"', \
                     go: {} }}, {{ go: {} }}] }}",
                    name(to[0]),
                    name(to[1]),
                    name(to[2])
                )
                .unwrap();
            } else {
                writeln!(yaml, ", then: {} }}", name(to[0])).unwrap();
            }
        }
        yaml.push_str("  end: { finish: done, say: The end, hands_off: true }\n");
        yaml
    })
}

proptest! {
    #![proptest_config(ProptestConfig {
        cases: 40,
        failure_persistence: None,
        ..ProptestConfig::default()
    })]
    #[test]
    fn on_the_sheet_of_any_flow_nothing_is_lost_cut_or_covered(yaml in flow()) {
        let diagram = diagram_of(&yaml);
        let sheet = diagram::sheet(&diagram);
        holds("random", &diagram, &sheet);
        prop_assert_eq!(diagram::svg(&diagram, &sheet).matches("class=\"step\"").count(),
            diagram.cards.len());
    }
}
