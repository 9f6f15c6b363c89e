//! What the template of the report is given: one JSON file with every text, and the pictures.

use serde::Serialize;
use serde_json::Value;

use super::letters::{fit, fit_picture};
use super::world::Files;
use super::{NoPdf, Report};
use crate::record::stands_out::Finding;
use crate::report::chart;
use crate::report::checklist::{
    Checklist, GapLine, Line, LockLine, ProtectionLine, Scale, Signed, SourceLine, Told,
    WorkingLine,
};
use crate::report::verify_code::VerifyCode;
use crate::trade::chart::Chart;

/// The whole of it. The template reads these names.
#[derive(Serialize)]
struct Sheet<'a> {
    paper: &'static str,
    list: Head<'a>,
    readings: Vec<Reading<'a>>,
    charts: Vec<Figure>,
    sections: Vec<Part<'a>>,
    photos: Vec<Photo<'a>>,
    workings: Vec<Working<'a>>,
    code: &'a VerifyCode,
}

/// What the report says of the job as a whole.
#[derive(Serialize)]
struct Head<'a> {
    title: &'a str,
    evaporator: &'a str,
    training: bool,
    status: &'a str,
    outcome: Option<&'a str>,
    holder: &'a str,
    people: &'a [String],
    began: String,
    last: String,
    found: &'a [Told],
    done: &'a [Told],
    gained: &'a [Told],
    open: &'a [Told],
    stands_out: Vec<String>,
    signed: Vec<Hand<'a>>,
    course: &'a [Told],
    sources: &'a [SourceLine],
    protection: Vec<Protected<'a>>,
    job: &'a str,
    flow: &'a str,
    edition: &'a str,
    kit: Option<&'a str>,
    speed_book: Option<&'a str>,
    entries: u64,
    hash: String,
    seals: Vec<String>,
}

/// A lock on a source, or a gap between locks.
#[derive(Serialize)]
struct Protected<'a> {
    source: &'a str,
    owner: String,
    gap: bool,
    from: String,
    to: String,
}

/// A hand-in or a decision.
#[derive(Serialize)]
struct Hand<'a> {
    what: &'a str,
    who: &'a str,
    at: String,
    remark: &'a str,
    seal: String,
}

/// A reading beside what was expected.
#[derive(Serialize)]
struct Reading<'a> {
    at: String,
    asked: &'a str,
    said: String,
    expected: &'a str,
    verdict: &'static str,
    scale: Option<Scale>,
    who: &'a str,
}

/// A chart.
#[derive(Serialize)]
struct Figure {
    file: String,
    alt: String,
}

/// A stretch of the walk.
#[derive(Serialize)]
struct Part<'a> {
    title: &'a str,
    lines: Vec<Moment<'a>>,
}

/// One thing that happened.
#[derive(Serialize)]
struct Moment<'a> {
    at: String,
    who: &'a str,
    asked: &'a str,
    said: &'a str,
    warning: bool,
    /// `expected 187 V to 253 V`, `photo 3`, `working 2`.
    notes: Vec<String>,
}

/// A photo.
#[derive(Serialize)]
struct Photo<'a> {
    file: Option<String>,
    asked: &'a str,
    at: String,
    who: &'a str,
    taken: Option<&'a str>,
    stored: &'a str,
}

/// A computation.
#[derive(Serialize)]
struct Working<'a> {
    said: &'a str,
    #[serde(flatten)]
    working: &'a WorkingLine,
}

/// The files of a report.
pub(super) fn files(report: &Report<'_>) -> Result<Files, NoPdf> {
    let failed = |error: serde_json::Error| NoPdf::Failed(error.to_string());
    let mut files = Files::new();
    let mut writer = Writer {
        report,
        files: &mut files,
        readings: Vec::new(),
        charts: Vec::new(),
        photos: Vec::new(),
        workings: Vec::new(),
    };
    let list = report.list;
    let sections = list.sections.iter();
    let sections = sections
        .map(|section| Part {
            title: &section.title,
            lines: section.lines.iter().map(|it| writer.line(it)).collect(),
        })
        .collect();
    let Writer {
        readings,
        charts,
        photos,
        workings,
        ..
    } = writer;
    let sheet = Sheet {
        paper: report.paper.name(),
        list: head(list)?,
        readings,
        charts,
        sections,
        photos,
        workings,
        code: report.code,
    };
    let mut sheet = serde_json::to_value(&sheet).map_err(failed)?;
    fit_all(&mut sheet);
    let sheet = serde_json::to_vec(&sheet).map_err(failed)?;
    files.push(("report.json".to_owned(), sheet));
    files.push(("code.svg".to_owned(), report.code.svg.clone().into_bytes()));
    Ok(files)
}

/// Makes every text fit for paper.
fn fit_all(value: &mut Value) {
    match value {
        Value::String(text) => *text = fit(text),
        Value::Array(all) => all.iter_mut().for_each(fit_all),
        Value::Object(all) => all.values_mut().for_each(fit_all),
        Value::Null | Value::Bool(_) | Value::Number(_) => {}
    }
}

fn head(list: &Checklist) -> Result<Head<'_>, NoPdf> {
    let page = &list.first_page;
    let signed = page.signed.iter().map(hand).collect();
    let seal = |seal: &crate::report::checklist::SealLine| {
        let at = time(seal.at);
        format!("up to entry {}, {at} UTC, key {}", seal.up_to, seal.key)
    };
    Ok(Head {
        title: &list.title,
        evaporator: &list.evaporator,
        training: list.training,
        status: &list.status,
        outcome: list.outcome.as_deref(),
        holder: &list.holder,
        people: &list.people,
        began: time(list.began),
        last: time(list.last),
        found: &page.found,
        done: &page.done,
        gained: &page.gained,
        open: &page.open,
        stands_out: list.stands_out.iter().map(stands_out).collect(),
        signed,
        course: &page.course,
        sources: &list.sources,
        protection: list.protection.iter().flat_map(protected).collect(),
        job: &list.job,
        flow: &list.flow,
        edition: &list.edition,
        kit: list.kit.as_deref(),
        speed_book: list.speed_book.as_deref(),
        entries: list.head.seq.0,
        hash: list.head.hash.to_string(),
        seals: list.seals.iter().map(seal).collect(),
    })
}

/// The locks on a source, and its gaps, as rows of one table.
fn protected(source: &ProtectionLine) -> Vec<Protected<'_>> {
    let lock = |lock: &'_ LockLine| {
        let by = lock.taken_off_by.iter();
        let by: String = by.map(|by| format!(", taken off by {by}")).collect();
        let to = lock.off.map(time);
        (
            lock.owner.clone(),
            false,
            time(lock.on),
            to.map(|to| to + &by),
        )
    };
    let gap = |gap: &GapLine| (String::new(), true, time(gap.from), gap.to.map(time));
    let rows = source
        .locks
        .iter()
        .map(lock)
        .chain(source.gaps.iter().map(gap));
    rows.map(|(owner, gap, from, to)| Protected {
        source: &source.label,
        owner,
        gap,
        from,
        to: to.unwrap_or_else(|| {
            if gap {
                "no lock since"
            } else {
                "it still hangs"
            }
            .to_owned()
        }),
    })
    .collect()
}

/// A finding, with the entries that caused it.
fn stands_out(finding: &Finding) -> String {
    let entries: Vec<String> = finding.entries.iter().map(ToString::to_string).collect();
    let entries = entries.join(", ");
    match finding.entries.len() {
        0 => finding.sentence.clone(),
        1 => format!("{} (entry {entries})", finding.sentence),
        _ => format!("{} (entries {entries})", finding.sentence),
    }
}

fn hand(signed: &Signed) -> Hand<'_> {
    Hand {
        what: &signed.what,
        who: &signed.who,
        at: time(signed.at),
        remark: &signed.remark,
        seal: signed.seal.as_ref().map_or_else(
            || "not sealed".to_owned(),
            |seal| format!("sealed up to entry {}, key {}", seal.up_to, seal.key),
        ),
    }
}

/// Goes through the lines once and gathers what has a page of its own.
struct Writer<'a, 'f> {
    report: &'a Report<'a>,
    files: &'f mut Files,
    readings: Vec<Reading<'a>>,
    charts: Vec<Figure>,
    photos: Vec<Photo<'a>>,
    workings: Vec<Working<'a>>,
}

impl<'a> Writer<'a, '_> {
    fn line(&mut self, line: &'a Line) -> Moment<'a> {
        let asked = line.asked.as_deref().unwrap_or_default();
        let mut notes = Vec::new();
        if let Some(expected) = &line.expected {
            notes.push(format!("expected {expected}"));
        }
        self.reading(line);
        if line.photo.is_some() {
            self.photo(line);
            notes.push(format!("photo {}", self.photos.len()));
        }
        if let Some(working) = &line.working {
            self.workings.push(Working {
                said: &line.said,
                working,
            });
            self.chart(line, working);
            notes.push(format!("working {}", self.workings.len()));
        }
        Moment {
            at: time(line.at),
            who: &line.who,
            asked,
            said: &line.said,
            warning: line.weight == crate::report::checklist::Weight::Warning,
            notes,
        }
    }

    fn reading(&mut self, line: &'a Line) {
        let Some(reading) = &line.reading else {
            return;
        };
        self.readings.push(Reading {
            at: time(line.at),
            asked: line.asked.as_deref().unwrap_or_default(),
            said: format!("{} {}", reading.value, reading.unit),
            expected: line.expected.as_deref().unwrap_or_default(),
            verdict: match reading.as_expected {
                Some(true) => "as expected",
                Some(false) => "outside",
                None => "",
            },
            scale: reading.scale,
            who: &line.who,
        });
    }

    fn photo(&mut self, line: &'a Line) {
        let Some(photo) = &line.photo else {
            return;
        };
        let name = format!("photo-{}.jpg", self.photos.len() + 1);
        let mut known = self.report.photos.iter();
        let small = known.find(|small| small.stored == photo.stored);
        let file = small.map(|small| {
            self.files.push((name.clone(), small.jpeg.clone()));
            name
        });
        self.photos.push(Photo {
            file,
            asked: line.asked.as_deref().unwrap_or("Photo"),
            at: time(line.at),
            who: &line.who,
            taken: photo.taken.as_deref(),
            stored: &photo.stored,
        });
    }

    fn chart(&mut self, line: &Line, working: &WorkingLine) {
        // A record is shown even where one of its charts cannot be drawn.
        let Some(Ok(svg)) = working
            .chart
            .as_ref()
            .map(fit_chart)
            .map(|it| chart::draw(&it))
        else {
            return;
        };
        let file = format!("chart-{}.svg", self.charts.len() + 1);
        // The typesetting library knows typefaces by name only.
        let svg = svg.replace("\"sans-serif\"", "\"DejaVu Sans\"");
        self.files.push((file.clone(), svg.into_bytes()));
        self.charts.push(Figure {
            file,
            alt: format!("Chart. {}", line.said),
        });
    }
}

/// A chart with no sign in its texts that the report cannot show.
fn fit_chart(chart: &Chart) -> Chart {
    let mut chart = chart.clone();
    let fit = |text: &mut String| *text = fit_picture(text);
    match &mut chart {
        Chart::Settings { steps, .. } => steps.iter_mut().for_each(|step| fit(&mut step.setting)),
        Chart::BeforeAndAfter { pairs, note } => {
            fit(note);
            for pair in pairs {
                fit(&mut pair.what);
                fit(&mut pair.unit);
                fit(&mut pair.known);
            }
        }
    }
    chart
}

/// A time in UTC, as tables show it.
fn time(at: jiff::Timestamp) -> String {
    at.strftime("%Y-%m-%d %H:%M:%S").to_string()
}
