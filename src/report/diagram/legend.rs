//! What the marks of a diagram mean: only those that it has.

use super::card::{Line, Way};
use super::energy::Energy;
use super::measure::{Weight, width};
use super::model::{Diagram, Hands, Kind};
use super::place::{MARGIN, Rect, Sheet, Wire};
use super::svg::{INK, Svg, ground};

const SIZE: f32 = 13.0;
const SAMPLE: f32 = 54.0;
const ROW: f32 = 40.0;
const BETWEEN: f32 = 30.0;

/// One mark of the legend.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Mark {
    Ground(Energy),
    Kind(Kind),
    Hands(Hands),
    Caution,
    Wire { back: bool },
    Number,
}

impl Mark {
    fn words(self) -> &'static str {
        match self {
            Self::Ground(energy) => energy.words(),
            Self::Kind(kind) => match kind {
                Kind::Reading => "Reading: a number with its unit",
                Kind::Photo => "Photo",
                Kind::Wait => "Wait: goes on when the time is over",
                Kind::WorkOut => "Worked out by the bot",
                Kind::Prove => "Live-dead-live test",
                Kind::HoldPoint => "Hold point: another person releases it",
                Kind::Flow => "Another flow is walked",
                Kind::End => "End of this flow",
                Kind::Read | Kind::Act | Kind::Choose | Kind::Write => kind.word(),
            },
            Self::Hands(Hands::In) => "Hands in: proved and own lock first",
            Self::Hands(_) => "Live parts are measured, guard on",
            Self::Caution => "A caution stands above the question",
            Self::Wire { back: false } => "Way on",
            Self::Wire { back: true } => "Way back",
            Self::Number => "» 12: go on at number 12",
        }
    }
}

/// A legend with the places of its marks.
pub(super) struct Legend {
    /// How much the sheet grows by it.
    pub(super) height: f32,
    marks: Vec<(Mark, f32, f32)>,
}

/// The legend of a sheet, below everything else.
pub(super) fn legend(diagram: &Diagram, sheet: &Sheet) -> Legend {
    let mut at = (MARGIN, sheet.height + 6.0);
    let mut marks = Vec::new();
    for mark in marks_of(diagram, sheet) {
        let wide = SAMPLE + 10.0 + width(mark.words(), SIZE, Weight::Plain);
        if at.0 + wide > sheet.width - MARGIN && at.0 > MARGIN {
            at = (MARGIN, at.1 + ROW);
        }
        marks.push((mark, at.0, at.1));
        at.0 += wide + BETWEEN;
    }
    Legend {
        height: at.1 + ROW + 14.0 - sheet.height,
        marks,
    }
}

fn marks_of(diagram: &Diagram, sheet: &Sheet) -> Vec<Mark> {
    let energies = Energy::ALL.into_iter().map(Mark::Ground);
    let kinds = Kind::ALL.into_iter().map(Mark::Kind);
    let all = energies
        .chain(kinds)
        .chain([Mark::Hands(Hands::In), Mark::Hands(Hands::LiveTest)])
        .chain([Mark::Caution])
        .chain([Mark::Wire { back: false }, Mark::Wire { back: true }])
        .chain([Mark::Number]);
    all.filter(|mark| match mark {
        Mark::Ground(energy) => sheet.regions.iter().any(|it| it.energy == *energy),
        Mark::Kind(Kind::Read | Kind::Act | Kind::Choose | Kind::Write) => false,
        Mark::Kind(kind) => diagram.cards.iter().any(|card| card.kind == *kind),
        Mark::Hands(hands) => diagram.cards.iter().any(|card| card.hands == *hands),
        Mark::Caution => diagram.cards.iter().any(|card| card.caution),
        Mark::Wire { back } => sheet.wires.iter().any(|wire| wire.back == *back),
        Mark::Number => {
            let mut ways = sheet.cards.iter().flat_map(|card| &card.ways);
            ways.any(|way| way.way == Way::Number)
        }
    })
    .collect()
}

impl Legend {
    pub(super) fn draw(&self, out: &mut Svg) {
        for (mark, x, y) in &self.marks {
            let rect = Rect {
                x: *x,
                y: *y,
                width: SAMPLE,
                height: 26.0,
            };
            sample(out, *mark, &rect);
            let line = Line {
                x: x + SAMPLE + 10.0,
                y: y + 18.0,
                text: mark.words().to_owned(),
                size: SIZE,
                weight: Weight::Plain,
            };
            out.line(&line, INK);
        }
    }
}

fn sample(out: &mut Svg, mark: Mark, rect: &Rect) {
    match mark {
        Mark::Ground(energy) => out.rect(rect, ground(energy), 1.0),
        Mark::Kind(kind) => out.frame(kind, rect, 13.0),
        Mark::Hands(hands) => {
            out.rect(rect, "#ffffff", 1.4);
            out.hands(hands, rect);
        }
        Mark::Caution => {
            out.rect(rect, "#ffffff", 1.4);
            out.caution(rect, false);
        }
        Mark::Wire { back } => out.wire(&Wire {
            points: vec![
                (rect.x, rect.y + 4.0),
                (rect.x + rect.width * 0.7, rect.y + 4.0),
                (rect.x + rect.width * 0.7, rect.y + 24.0),
            ],
            back,
        }),
        Mark::Number => {
            out.rect(rect, "#ffffff", 1.4);
            let line = Line {
                x: rect.x + 12.0,
                y: rect.y + 18.0,
                text: "» 12".to_owned(),
                size: SIZE,
                weight: Weight::Bold,
            };
            out.line(&line, INK);
        }
    }
}
