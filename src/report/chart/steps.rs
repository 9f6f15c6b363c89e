//! What each speed setting of an assembly gives at one place.

use super::CannotDraw;
use super::canvas::{
    At, FAINT, INK, LETTERS, MARK, PAPER, SOFT, STRONG, Sheet, fitting, round_up, svg, width,
};
use crate::trade::chart::{SETTINGS_MAX, Step, Wanted};
use crate::trade::quantity::plain_number;

/// Draws the air of each step, or its speed where the air is not known of all, with the need.
///
/// # Errors
/// With no step or more than 10, or with a value that is not a number.
pub(super) fn speed_steps(steps: &[Step], wanted: Option<Wanted>) -> Result<String, CannotDraw> {
    check(steps)?;
    let of_air =
        steps.iter().all(|step| step.cfm.is_some()) && !matches!(wanted, Some(Wanted::Rpm(_)));
    let (unit, title) = if of_air {
        ("cfm", "Air of one fan at each setting")
    } else {
        ("rpm", "Speed settings")
    };
    let need = match wanted {
        Some(Wanted::Cfm(cfm)) if of_air => Some(cfm),
        Some(Wanted::Rpm(rpm)) if !of_air => Some(rpm),
        _ => None,
    };
    let height = |step: &Step| {
        if of_air {
            step.cfm.unwrap_or_default()
        } else {
            step.rpm
        }
    };
    let most = steps.iter().map(height).chain(need).fold(0.0, f64::max);
    let scale = Scale {
        top: 118,
        bottom: 380,
        most: round_up(most),
    };
    let says: Vec<String> = steps
        .iter()
        .map(|step| format!("setting {}: {} {unit}", step.setting, tidy(height(step))))
        .collect();
    let drawing = Drawing {
        steps,
        unit,
        need,
        of_air,
        scale,
    };
    let height = if drawing.shows_air_below() { 534 } else { 500 };
    svg((760, height), title, &says.join(", "), |sheet| {
        drawing.draw(sheet)
    })
}

/// Where the bars begin and end on the sheet.
const LEFT: i32 = 110;
const RIGHT: i32 = 740;

struct Drawing<'a> {
    steps: &'a [Step],
    unit: &'a str,
    need: Option<f64>,
    of_air: bool,
    scale: Scale,
}

impl Drawing<'_> {
    fn draw(&self, sheet: &Sheet<'_>) -> Result<(), CannotDraw> {
        let label = |text: &str, y: i32| sheet.text(text, (LEFT - 12, y), At::Right, LETTERS, &INK);
        for half in 0..=2 {
            let value = self.scale.most * f64::from(half) / 2.0;
            let y = self.scale.y(value);
            sheet.line((LEFT, y), (RIGHT, y), &FAINT, 1)?;
            label(&plain_number(value), y)?;
        }
        label(self.unit, self.scale.top - 34)?;
        let rows = ["setting", "rpm", "W", "cfm"];
        let shown = rows.len() - usize::from(!self.shows_air_below());
        for (row, name) in rows.into_iter().take(shown).enumerate() {
            label(name, self.below(row))?;
        }
        for (index, step) in self.steps.iter().enumerate() {
            self.bar(sheet, index, step)?;
        }
        sheet.line(
            (LEFT, self.scale.bottom),
            (RIGHT, self.scale.bottom),
            &INK,
            2,
        )?;
        if let Some(need) = self.need {
            sheet.dashes(LEFT, RIGHT, self.scale.y(need))?;
            let text = format!("needed {} {}", tidy(need), self.unit);
            sheet.text(&text, (RIGHT, 66), At::Right, LETTERS, &MARK)?;
        }
        // Last, so that no line crosses a number.
        for (index, step) in self.steps.iter().enumerate() {
            self.value(sheet, index, step)?;
        }
        Ok(())
    }

    /// Whether the air stands in a row of its own, as the bars show the speed.
    fn shows_air_below(&self) -> bool {
        !self.of_air && self.steps.iter().all(|step| step.cfm.is_some())
    }

    fn slot(&self) -> i32 {
        (RIGHT - LEFT) / self.steps.len() as i32
    }

    fn middle(&self, index: usize) -> i32 {
        LEFT + self.slot() * index as i32 + self.slot() / 2
    }

    fn below(&self, row: usize) -> i32 {
        self.scale.bottom + 28 + 34 * row as i32
    }

    fn height(&self, step: &Step) -> f64 {
        if self.of_air {
            step.cfm.unwrap_or_default()
        } else {
            step.rpm
        }
    }

    fn bar(&self, sheet: &Sheet<'_>, index: usize, step: &Step) -> Result<(), CannotDraw> {
        let middle = self.middle(index);
        let half = (self.slot() * 3 / 10).min(60);
        let colour = if step.chosen { &STRONG } else { &SOFT };
        let top = self.scale.y(self.height(step));
        sheet.bar(
            (middle - half, top),
            (middle + half, self.scale.bottom),
            colour,
        )?;
        let setting = if step.chosen {
            format!("✓ {}", step.setting)
        } else {
            step.setting.clone()
        };
        let mut rows = vec![setting, tidy(step.rpm), tidy(step.watts)];
        if self.shows_air_below() {
            rows.extend(step.cfm.map(tidy));
        }
        for (row, text) in rows.iter().enumerate() {
            let text = fitting(text, self.slot() - 4, LETTERS);
            sheet.text(&text, (middle, self.below(row)), At::Middle, LETTERS, &INK)?;
        }
        Ok(())
    }

    fn value(&self, sheet: &Sheet<'_>, index: usize, step: &Step) -> Result<(), CannotDraw> {
        let text = tidy(self.height(step));
        let (middle, y) = (self.middle(index), self.scale.y(self.height(step)) - 20);
        let half = width(&text, LETTERS) / 2;
        sheet.tint((middle - half, y - 12), (middle + half, y + 14), &PAPER)?;
        sheet.text(&text, (middle, y), At::Middle, LETTERS, &INK)
    }
}

fn check(steps: &[Step]) -> Result<(), CannotDraw> {
    if steps.is_empty() || steps.len() > SETTINGS_MAX {
        return Err(CannotDraw(format!(
            "A chart shows 1 to {SETTINGS_MAX} settings."
        )));
    }
    let values = steps
        .iter()
        .flat_map(|step| [step.rpm, step.watts, step.cfm.unwrap_or(0.0)]);
    for value in values {
        if !value.is_finite() || value < 0.0 {
            return Err(CannotDraw(
                "A setting's values must be zero or above.".into(),
            ));
        }
    }
    Ok(())
}

/// Three digits are enough on a chart.
fn tidy(value: f64) -> String {
    if value >= 100.0 {
        plain_number(value.round())
    } else {
        plain_number((value * 10.0).round() / 10.0)
    }
}

/// From a value to its height on the sheet.
struct Scale {
    top: i32,
    bottom: i32,
    most: f64,
}

impl Scale {
    fn y(&self, value: f64) -> i32 {
        let share = (value / self.most).clamp(0.0, 1.0);
        self.bottom - (share * f64::from(self.bottom - self.top)).round() as i32
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn step(setting: &str, cfm: f64, chosen: bool) -> Step {
        Step {
            setting: setting.into(),
            rpm: 1550.0,
            cfm: Some(cfm),
            watts: 47.0,
            chosen,
        }
    }

    #[test]
    fn every_value_and_the_need_are_written() {
        let steps = [step("low", 760.0, false), step("high", 912.0, true)];
        let svg = speed_steps(&steps, Some(Wanted::Cfm(850.0))).unwrap();
        for text in [
            "760",
            "912",
            "needed 850 cfm",
            "✓ high",
            "47",
            "<desc>setting low: 760",
        ] {
            assert!(svg.contains(text), "{text}");
        }
    }

    #[test]
    fn a_name_from_a_kit_cannot_break_out_of_the_drawing() {
        let svg = speed_steps(&[step("</text><x>&", 10.0, true)], None).unwrap();
        assert!(!svg.contains("<x>") && !svg.contains("</text><"), "{svg}");
    }

    #[test]
    fn nonsense_is_refused() {
        assert!(speed_steps(&[], None).is_err());
        assert!(speed_steps(&[step("1", f64::NAN, true)], None).is_err());
    }
}
