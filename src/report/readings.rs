//! The readings of a job as a table for a spreadsheet: CSV as RFC 4180 has it.

use super::checklist::{Checklist, Line};

/// The first line.
const HEAD: [&str; 9] = [
    "time (UTC)",
    "part of the job",
    "what was read",
    "value",
    "unit",
    "expected",
    "as expected",
    "who",
    "through",
];

/// Every reading of a job, one a line, in the order in which they were taken.
pub fn csv(list: &Checklist) -> String {
    let mut text = row(HEAD.map(str::to_owned));
    for section in &list.sections {
        for line in &section.lines {
            if let Some(cells) = reading(&section.title, line) {
                text += &row(cells);
            }
        }
    }
    text
}

fn reading(title: &str, line: &Line) -> Option<[String; 9]> {
    let reading = line.reading.as_ref()?;
    let as_expected = match reading.as_expected {
        Some(true) => "yes",
        Some(false) => "no",
        None => "",
    };
    let channel = serde_json::to_value(line.through).ok();
    let channel = channel.as_ref().and_then(|channel| channel.as_str());
    Some([
        line.at.to_string(),
        guarded(title),
        guarded(line.asked.as_deref().unwrap_or_default()),
        // A number may begin with a minus; anything else may not.
        match reading.value.replace(',', "").parse::<f64>() {
            Ok(_) => reading.value.clone(),
            Err(_) => guarded(&reading.value),
        },
        guarded(&reading.unit),
        guarded(line.expected.as_deref().unwrap_or_default()),
        as_expected.to_owned(),
        guarded(&line.who),
        channel.unwrap_or_default().to_owned(),
    ])
}

/// What a formula begins with, by OWASP ASVS 5.0.0, item 1.2.10, and the page "CSV Injection" of
/// OWASP, which names the line break and the wide signs of East Asian keyboards too.
const STARTS_A_FORMULA: [char; 12] = [
    '=', '+', '-', '@', '\t', '\r', '\n', '\0', '\u{ff1d}', '\u{ff0b}', '\u{ff0d}', '\u{ff20}',
];

/// A text that a spreadsheet takes for a formula gets a quote in front, which it does not show.
pub(super) fn guarded(text: &str) -> String {
    if text.starts_with(STARTS_A_FORMULA) {
        format!("'{text}")
    } else {
        text.to_owned()
    }
}

/// One line of a table.
pub(super) fn row<const CELLS: usize>(cells: [String; CELLS]) -> String {
    let cells = cells.map(|cell| {
        if cell.contains(['"', ',', '\n', '\r']) {
            format!("\"{}\"", cell.replace('"', "\"\""))
        } else {
            cell
        }
    });
    cells.join(",") + "\r\n"
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_cell_with_commas_quotes_or_lines_is_quoted() {
        let mut cells: [String; 9] = Default::default();
        cells[0] = "say \"hi\", twice".to_owned();
        cells[1] = "two\nlines".to_owned();
        assert_eq!(
            row(cells),
            "\"say \"\"hi\"\", twice\",\"two\nlines\",,,,,,,\r\n"
        );
    }

    #[test]
    fn what_a_spreadsheet_would_run_is_text() {
        for formula in [
            "=1+1",
            "+1",
            "-1+cmd",
            "@SUM(A1)",
            "\t=1",
            "\r=1",
            "\n=1",
            "\0=1",
            "\u{ff1d}1",
        ] {
            assert_eq!(guarded(formula), format!("'{formula}"));
        }
        assert_eq!(guarded("The meter at A=1"), "The meter at A=1");
    }
}
