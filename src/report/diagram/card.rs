//! One card with its lines of text, each measured.

use super::measure::{Weight, width, wrap};
use super::model::{Card, Hands, Kind};

/// How wide every card is.
pub(super) const WIDTH: f32 = 300.0;
/// Between a card's edge and its letters.
const PAD: f32 = 10.0;
/// The square with the card's number.
pub(super) const NUMBER: f32 = 38.0;
const HEAD_SIZE: f32 = 12.0;
const TEXT_SIZE: f32 = 13.0;
const NOTE_SIZE: f32 = 11.0;
/// Height of a line over the size of its letters.
const LEADING: f32 = 1.28;
/// Where the numbers of exits begin, from the right edge.
const TO_WIDTH: f32 = 42.0;

/// One line of text; `y` is its base line.
#[derive(Clone, Debug, PartialEq)]
pub struct Line {
    /// From the left edge of the sheet, or of the card while it has no place.
    pub x: f32,
    /// From the top.
    pub y: f32,
    /// What it says.
    pub text: String,
    /// The size of its letters.
    pub size: f32,
    /// How heavy they are.
    pub weight: Weight,
}

impl Line {
    /// How wide it is.
    pub fn width(&self) -> f32 {
        width(&self.text, self.size, self.weight)
    }

    pub(super) fn moved(mut self, x: f32, y: f32) -> Self {
        self.x += x;
        self.y += y;
        self
    }
}

/// How a way on is drawn.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Way {
    /// An arrow to the card right below.
    Below,
    /// A line beside the cards.
    Wire,
    /// Only by the number of the card.
    Number,
}

/// An exit on its way to be drawn.
#[derive(Clone, Debug, PartialEq)]
pub struct WayOut {
    /// When it is taken.
    pub when: Option<String>,
    /// The number of the card it leads to.
    pub to: usize,
    /// How it is drawn.
    pub way: Way,
}

/// A card's contents, from its own top left corner.
#[derive(Clone, Debug)]
pub(super) struct Body {
    pub(super) height: f32,
    pub(super) head_height: f32,
    pub(super) lines: Vec<Line>,
    /// For each exit, where its line leaves the right edge.
    pub(super) exits: Vec<f32>,
    /// For each exit with words or a number, the lines above which a rule is drawn.
    pub(super) rules: Vec<f32>,
}

/// Fills a card from the top down.
struct Pen {
    y: f32,
    lines: Vec<Line>,
}

impl Pen {
    /// Text from `x` on that stays within `room`.
    fn text(&mut self, text: &str, (x, room): (f32, f32), (size, weight): (f32, Weight)) {
        for text in wrap(text, room, size, weight) {
            self.y += size * LEADING;
            self.lines.push(Line {
                x,
                y: self.y - size * 0.22,
                text,
                size,
                weight,
            });
        }
    }
}

/// Sets a card's text. `from` are the numbers of cards that lead here by number alone.
pub(super) fn set(card: &Card, number: usize, ways: &[WayOut], from: &[usize]) -> Body {
    let mut pen = Pen {
        y: 5.0,
        lines: Vec::new(),
    };
    let word = if card.about.is_empty() {
        card.kind.word().to_owned()
    } else {
        format!("{} · {}", card.kind.word(), card.about)
    };
    let room = WIDTH - NUMBER - 2.0 * PAD - if card.caution { 24.0 } else { 0.0 };
    pen.text(&word, (NUMBER + PAD, room), (HEAD_SIZE, Weight::Bold));
    // Under a reading's head stand the ticks of a rule.
    pen.y += if card.kind == Kind::Reading {
        11.0
    } else {
        5.0
    };
    let head_height = pen.y;
    let number = number.to_string();
    let size = if number.len() > 2 { 14.0 } else { 16.0 };
    pen.lines.push(Line {
        x: (NUMBER - width(&number, size, Weight::Bold)) / 2.0,
        y: 19.0,
        text: number,
        size,
        weight: Weight::Bold,
    });
    let inside = WIDTH - 2.0 * PAD;
    pen.y += 4.0;
    pen.text(&card.says, (PAD, inside), (TEXT_SIZE, Weight::Plain));
    for note in &card.notes {
        pen.y += 2.0;
        let heavy = card.hands != Hands::Off && Some(note) == card.notes.first();
        let weight = if heavy { Weight::Bold } else { Weight::Plain };
        pen.text(&format!("▪ {note}"), (PAD, inside), (NOTE_SIZE, weight));
    }
    if !from.is_empty() {
        let numbers: Vec<String> = from.iter().map(ToString::to_string).collect();
        let text = format!("Also comes from {}", numbers.join(", "));
        pen.y += 2.0;
        pen.text(&text, (PAD, inside), (NOTE_SIZE, Weight::Plain));
    }
    pen.y += 5.0;
    let (exits, rules) = ways_out(&mut pen, ways);
    Body {
        height: pen.y.ceil() + 2.0,
        head_height,
        lines: pen.lines,
        exits,
        rules,
    }
}

fn ways_out(pen: &mut Pen, ways: &[WayOut]) -> (Vec<f32>, Vec<f32>) {
    let mut exits = Vec::new();
    let mut rules = Vec::new();
    for way in ways {
        if way.when.is_none() && way.way == Way::Below {
            exits.push(pen.y);
            continue;
        }
        rules.push(pen.y);
        pen.y += 2.0;
        let top = pen.y;
        let when = way.when.as_deref().unwrap_or("Then");
        let room = WIDTH - 2.0 * PAD - TO_WIDTH;
        pen.text(when, (PAD, room), (NOTE_SIZE, Weight::Plain));
        let middle = (top + pen.y) / 2.0;
        let arrow = match way.way {
            Way::Below => "↓",
            Way::Wire => "→",
            Way::Number => "»",
        };
        let text = format!("{arrow} {}", way.to);
        pen.lines.push(Line {
            x: WIDTH - PAD - width(&text, NOTE_SIZE, Weight::Bold),
            y: middle + NOTE_SIZE * 0.36,
            text,
            size: NOTE_SIZE,
            weight: Weight::Bold,
        });
        exits.push(middle);
        pen.y += 3.0;
    }
    (exits, rules)
}
