//! A placed diagram as SVG text.
//!
//! Every state has a pattern and a word, every kind of step a form and a word: nothing hangs on
//! a colour, so that it reads the same in grey and to everybody's eyes.

use super::card::{Line, NUMBER};
use super::energy::Energy;
use super::legend;
use super::measure::Weight;
use super::model::{Diagram, Hands, Kind};
use super::place::{PlacedCard, Rect, Sheet, Wire};

/// Text and outlines.
pub(super) const INK: &str = "#1c1c1c";
/// The head of an ordinary card.
const HEAD: &str = "#e9e9e6";

/// The patterns of the energy states.
const PATTERNS: &str = r##"<defs>
<pattern id="live" width="12" height="12" patternUnits="userSpaceOnUse"
 patternTransform="rotate(45)">
<rect width="12" height="12" fill="#fbf1e1"/><rect width="3.4" height="12" fill="#ecc78f"/>
</pattern>
<pattern id="opened" width="11" height="11" patternUnits="userSpaceOnUse">
<rect width="11" height="11" fill="#f3eef7"/><circle cx="5.5" cy="5.5" r="1.8" fill="#b3a1c7"/>
</pattern>
<pattern id="locked" width="9" height="9" patternUnits="userSpaceOnUse">
<rect width="9" height="9" fill="#ecf3f6"/><rect width="1.6" height="9" fill="#a9c1cf"/>
</pattern>
<pattern id="hands" width="7" height="7" patternUnits="userSpaceOnUse">
<rect width="7" height="7" fill="#ffffff"/><rect width="7" height="3.5" fill="#1c1c1c"/>
</pattern>
</defs>
"##;

/// The whole sheet with its legend.
pub fn svg(diagram: &Diagram, sheet: &Sheet) -> String {
    let legend = legend::legend(diagram, sheet);
    let (width, height) = (sheet.width.ceil(), (sheet.height + legend.height).ceil());
    let mut out = Svg(String::new());
    out.add(format_args!(
        r##"<svg xmlns="http://www.w3.org/2000/svg" role="img" width="{width}" height="{height}" viewBox="0 0 {width} {height}"
 font-family="'DejaVu Sans', sans-serif" fill="{INK}">
<title>{}</title>
{PATTERNS}<rect width="{width}" height="{height}" fill="#ffffff"/>
"##,
        escaped(&diagram.title)
    ));
    for line in &sheet.head {
        out.line(line, INK);
    }
    for region in &sheet.regions {
        out.rect(&region.rect, ground(region.energy), 1.0);
    }
    for strip in &sheet.strips {
        out.rect(&strip.rect, INK, 0.0);
        for line in &strip.lines {
            out.line(line, "#ffffff");
        }
    }
    for region in &sheet.regions {
        let label = &region.label;
        out.rect(
            &Rect {
                x: label.x - 5.0,
                y: label.y - label.size,
                width: label.width() + 10.0,
                height: label.size + 5.0,
            },
            "#ffffff",
            0.0,
        );
        out.line(label, INK);
    }
    for wire in &sheet.wires {
        out.wire(wire);
    }
    for card in &sheet.cards {
        out.card(diagram, card);
    }
    legend.draw(&mut out);
    out.0.push_str("</svg>\n");
    out.0
}

/// What fills the ground of a region.
pub(super) fn ground(energy: Energy) -> &'static str {
    match energy {
        Energy::Live => "url(#live)",
        Energy::Opened => "url(#opened)",
        Energy::Locked => "url(#locked)",
        Energy::Proved => "#ffffff",
        Energy::NotHere => "#f4f4f1",
    }
}

/// SVG text that grows.
pub(super) struct Svg(String);

impl Svg {
    pub(super) fn add(&mut self, what: std::fmt::Arguments<'_>) {
        self.0.push_str(&what.to_string());
    }

    pub(super) fn line(&mut self, line: &Line, colour: &str) {
        let weight = match line.weight {
            Weight::Plain => "",
            Weight::Bold => r#" font-weight="bold""#,
        };
        self.add(format_args!(
            "<text x=\"{:.1}\" y=\"{:.1}\" font-size=\"{}\"{weight} fill=\"{colour}\" \
             textLength=\"{:.1}\" lengthAdjust=\"spacingAndGlyphs\">{}</text>\n",
            line.x,
            line.y,
            line.size,
            line.width(),
            escaped(&line.text)
        ));
    }

    pub(super) fn rect(&mut self, rect: &Rect, fill: &str, stroke: f32) {
        let line = if stroke > 0.0 { INK } else { "none" };
        self.add(format_args!(
            "<rect x=\"{:.1}\" y=\"{:.1}\" width=\"{:.1}\" height=\"{:.1}\" fill=\"{fill}\" \
             stroke=\"{line}\" stroke-width=\"{stroke}\"/>\n",
            rect.x, rect.y, rect.width, rect.height
        ));
    }

    pub(super) fn wire(&mut self, wire: &Wire) {
        let corners = &wire.points;
        let points: Vec<String> = corners
            .iter()
            .map(|(x, y)| format!("{x:.1},{y:.1}"))
            .collect();
        let points = points.join(" ");
        // A white rim, so that lines show on every ground and crossings read as crossings.
        self.add(format_args!(
            "<polyline points=\"{points}\" fill=\"none\" stroke=\"#ffffff\" stroke-width=\"5\"/>\n"
        ));
        let dashes = if wire.back {
            r#" stroke-dasharray="7 4""#
        } else {
            ""
        };
        self.add(format_args!(
            "<polyline class=\"way\" points=\"{points}\" fill=\"none\" stroke=\"{INK}\" \
             stroke-width=\"1.8\"{dashes}/>\n"
        ));
        if let Some((x, y)) = corners.last() {
            self.add(format_args!(
                "<path d=\"M{x:.1} {y:.1} l-5 -9 h10 z\" fill=\"{INK}\"/>\n"
            ));
        }
    }

    fn card(&mut self, diagram: &Diagram, placed: &PlacedCard) {
        let Some(card) = diagram.cards.get(placed.card) else {
            return;
        };
        self.add(format_args!(
            "<g class=\"step\" id=\"{}\">\n",
            escaped(card.step.as_str())
        ));
        self.frame(card.kind, &placed.rect, placed.head_height);
        self.hands(card.hands, &placed.rect);
        for rule in &placed.rules {
            let (x, end) = (placed.rect.x, placed.rect.x + placed.rect.width);
            self.add(format_args!(
                "<path d=\"M{:.1} {rule:.1} H{:.1}\" stroke=\"#9a9a95\" stroke-width=\"0.8\"/>\n",
                x + 8.0,
                end - 8.0
            ));
        }
        let inverse = is_inverse(card.kind);
        if card.caution {
            self.caution(&placed.rect, inverse);
        }
        for line in &placed.lines {
            let in_head = line.y < placed.rect.y + placed.head_height;
            let on_number = line.x < placed.rect.x + NUMBER && in_head;
            let light = on_number || (in_head && inverse);
            self.line(line, if light { "#ffffff" } else { INK });
        }
        self.add(format_args!("</g>\n"));
    }

    /// A card's outline and head: each kind has its own.
    pub(super) fn frame(&mut self, kind: Kind, rect: &Rect, head_height: f32) {
        let mut behind = *rect;
        if kind == Kind::Flow {
            behind.x += 6.0;
            behind.y += 6.0;
            self.rect(&behind, HEAD, 1.4);
        }
        let heavy = match kind {
            Kind::HoldPoint | Kind::Prove => 4.0,
            Kind::End => 2.4,
            _ => 1.4,
        };
        self.rect(rect, "#ffffff", heavy);
        let mut head = *rect;
        head.height = head_height;
        self.rect(&head, if is_inverse(kind) { INK } else { HEAD }, 0.0);
        self.head_marks(kind, &head);
        let mut number = head;
        number.width = NUMBER;
        self.rect(&number, if is_inverse(kind) { "#555550" } else { INK }, 0.0);
        let (x, y) = (rect.x, rect.y + rect.height);
        match kind {
            Kind::End => {
                let mut foot = *rect;
                foot.y = y;
                foot.height = 6.0;
                self.rect(&foot, INK, 0.0);
            }
            Kind::Photo => {
                let (left, right) = (x - 5.0, x + rect.width + 5.0);
                let (top, foot) = (rect.y - 5.0, y + 5.0);
                self.add(format_args!(
                    "<path d=\"M{left:.1} {:.1} V{top:.1} h14 M{right:.1} {:.1} V{top:.1} h-14 \
                     M{left:.1} {:.1} V{foot:.1} h14 M{right:.1} {:.1} V{foot:.1} h-14\" \
                     fill=\"none\" stroke=\"{INK}\" stroke-width=\"3\"/>\n",
                    top + 14.0,
                    top + 14.0,
                    foot - 14.0,
                    foot - 14.0
                ));
            }
            _ => {}
        }
    }

    /// Ticks of a rule under readings, a double line under results, dots under waits.
    fn head_marks(&mut self, kind: Kind, head: &Rect) {
        let y = head.y + head.height;
        let (from, to) = (head.x, head.x + head.width);
        let dashes = match kind {
            Kind::Reading => {
                for (step, long) in [(7.5, 5.0), (37.5, 9.0)] {
                    self.add(format_args!(
                        "<path d=\"M{from:.1} {:.1} H{to:.1}\" stroke=\"{INK}\" \
                         stroke-width=\"{long}\" stroke-dasharray=\"1.2 {:.1}\"/>\n",
                        y - long / 2.0,
                        step - 1.2
                    ));
                }
                ""
            }
            Kind::Wait => r#" stroke-dasharray="3 5" stroke-width="3.5""#,
            Kind::WorkOut => {
                self.add(format_args!(
                    "<path d=\"M{from:.1} {:.1} H{to:.1}\" stroke=\"{INK}\" stroke-width=\"1.3\"/>\n",
                    y - 3.5
                ));
                r#" stroke-width="1.3""#
            }
            _ => "",
        };
        self.add(format_args!(
            "<path d=\"M{from:.1} {y:.1} H{to:.1}\" stroke=\"{INK}\"{dashes}/>\n"
        ));
    }

    /// A barred edge where hands go in, a saw's edge where live parts are measured.
    pub(super) fn hands(&mut self, hands: Hands, rect: &Rect) {
        let edge = Rect {
            x: rect.x - 9.0,
            y: rect.y,
            width: 9.0,
            height: rect.height,
        };
        match hands {
            Hands::Off => {}
            Hands::In => self.rect(&edge, "url(#hands)", 1.4),
            Hands::LiveTest => {
                let mut d = format!("M{:.1} {:.1}", rect.x, rect.y);
                let teeth = (rect.height / 12.0).round().max(1.0);
                let step = rect.height / teeth / 2.0;
                for _ in 0..(teeth as usize) {
                    d.push_str(&format!(" l-9 {step:.2} l9 {step:.2}"));
                }
                self.add(format_args!("<path d=\"{d} z\" fill=\"{INK}\"/>\n"));
            }
        }
    }

    pub(super) fn caution(&mut self, rect: &Rect, inverse: bool) {
        let (fill, mark) = if inverse {
            ("#ffffff", INK)
        } else {
            (INK, "#ffffff")
        };
        let (x, y) = (rect.x + rect.width - 24.0, rect.y + 4.0);
        self.add(format_args!(
            "<rect x=\"{x:.1}\" y=\"{y:.1}\" width=\"16\" height=\"16\" rx=\"3\" fill=\"{fill}\"/>\
             <path d=\"M{:.1} {:.1} v6.5 m0 2.2 v2\" stroke=\"{mark}\" stroke-width=\"2.4\"/>\n",
            x + 8.0,
            y + 2.6
        ));
    }
}

/// Whether the head of this kind is dark: the steps at which a job stands still for safety.
fn is_inverse(kind: Kind) -> bool {
    matches!(kind, Kind::HoldPoint | Kind::Prove)
}

fn escaped(text: &str) -> String {
    text.replace('&', "&amp;")
        .replace('<', "&lt;")
        .replace('>', "&gt;")
        .replace('"', "&quot;")
}
