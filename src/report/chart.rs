//! Charts of a job as SVG: the speed steps, before and after.
//!
//! Plain bars, dark text on white, every value written beside its mark, so that a chart says the
//! same in print, on a phone and without colours.

mod bars;
mod canvas;
mod gains;
mod steps;
mod trend;

pub use bars::{BARS_MAX, Bar, bars};
use gains::before_and_after;
use steps::speed_steps;
pub use trend::{POINTS_MAX, Point, trend};

use crate::trade::chart::Chart;

/// Why a chart could not be drawn: one sentence.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{0}")]
pub struct CannotDraw(pub String);

/// Draws a chart as SVG.
///
/// # Errors
/// When it shows nothing, too much, or a value that is no number.
pub fn draw(chart: &Chart) -> Result<String, CannotDraw> {
    match chart {
        Chart::Settings { steps, wanted } => speed_steps(steps, *wanted),
        Chart::BeforeAndAfter { pairs, note } => before_and_after(pairs, note),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::picture::png;
    use crate::trade::chart::{Pair, Step, Wanted};

    fn settings(cfm: Option<f64>) -> Chart {
        let step = |setting: &str, rpm, watts, chosen| Step {
            setting: setting.into(),
            rpm,
            cfm: cfm.map(|cfm| cfm * rpm / 1550.0),
            watts,
            chosen,
        };
        Chart::Settings {
            steps: vec![
                step("1", 1050.0, 16.0, false),
                step("2", 1300.0, 28.0, false),
                step("3", 1550.0, 45.0, true),
            ],
            wanted: Some(Wanted::Rpm(1550.0)),
        }
    }

    #[test]
    fn every_chart_is_drawn_for_pages_and_for_chats() {
        let pair = |what: &str, unit: &str, before, after| Pair {
            what: what.into(),
            unit: unit.into(),
            before,
            after,
            known: "by nameplate, then wattmeter".into(),
        };
        let gain = Chart::BeforeAndAfter {
            pairs: vec![
                pair("Power of 2 fans", "W", 270.0, 90.0),
                pair("Heat into the box", "Btu/h", 921.0, 307.0),
            ],
            note: "Saved: 140 W to 220 W, likely 180 W.".into(),
        };
        for chart in [settings(None), settings(Some(600.0)), gain] {
            let svg = draw(&chart).unwrap();
            assert!(svg.starts_with("<svg") && svg.contains("<title>"), "{svg}");
            let png = png(&svg).unwrap();
            assert!(png.bytes.starts_with(b"\x89PNG"));
        }
        let svg = draw(&settings(Some(600.0))).unwrap();
        assert!(
            svg.contains("cfm") && svg.contains("needed 1550 rpm"),
            "{svg}"
        );
    }
}
