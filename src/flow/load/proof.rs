//! Reading a `prove_dead` step: the sources, the points of each, the limit.

use super::super::model::{Act, Located, Points, ProveDead, SourceKind};
use super::super::name::{SourceName, StepName};
use super::super::tree::Tree;
use super::fields::{Fields, Report};
use super::step::{Head, source_name};
use crate::trade::quantity::Kind;
use crate::trade::rows;

pub(super) fn prove_dead(
    report: &mut Report<'_>,
    head: &Head<'_>,
    fields: &mut Fields<'_>,
    tree: &Tree,
) -> Option<Act> {
    let mut sources = Vec::new();
    for (name, points) in report.map(tree, "`prove_dead`") {
        if let Some(source) = source_name(report, head, name) {
            let points = points_of(report, points);
            check_points(report, head, &source, &points);
            sources.push((source, points));
        }
    }
    let limit = fields.require(report, "limit").and_then(|tree| {
        let name = report.text(tree, "`limit`")?;
        let row = rows::row(&name).filter(|row| row.kind == Kind::Voltage);
        if row.is_none() {
            report.add(
                tree.at,
                format!("There is no data row of a voltage called `{name}`."),
                "",
            );
        }
        row
    });
    let not_dead = fields.require(report, "not_dead").and_then(|tree| {
        report.text(tree, "`not_dead`").map(|it| Located {
            at: tree.at,
            it: StepName::from(it),
        })
    });
    if sources.is_empty() {
        report.add(
            tree.at,
            "`prove_dead` names no source.",
            "Name a source with its points.",
        );
        return None;
    }
    Some(Act::ProveDead(Box::new(ProveDead {
        sources,
        limit: limit?,
        not_dead: not_dead?,
    })))
}

fn points_of(report: &mut Report<'_>, tree: &Tree) -> Points {
    let mut fields = Fields::of(report, tree, "The points");
    let mut read = |report: &mut Report<'_>, key| {
        let tree = fields.take(key);
        tree.map(|tree| report.texts(tree, "The point"))
            .unwrap_or_default()
    };
    let ac = read(report, "ac");
    let dc = read(report, "dc");
    fields.finish(report);
    let texts = |points: Vec<Located<String>>| points.into_iter().map(|point| point.it).collect();
    Points {
        ac: texts(ac),
        dc: texts(dc),
    }
}

fn check_points(
    report: &mut Report<'_>,
    head: &Head<'_>,
    source: &Located<SourceName>,
    points: &Points,
) {
    let wrong = match head.energy[&source.it].kind {
        SourceKind::Electrical if points.ac.is_empty() => "An electrical source is tested on AC",
        SourceKind::Charge if points.dc.is_empty() => "A stored charge is tested on DC",
        SourceKind::Motion => "A moving part is not proved with a meter",
        SourceKind::Electrical | SourceKind::Charge => return,
    };
    report.add(
        source.at,
        format!("{wrong}; `{}` does not fit.", source.it),
        "Name the pairs: `ac: [L1 to L2, L1 to ground, …]` or `dc: [Plus to minus]`.",
    );
}
