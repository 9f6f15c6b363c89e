//! A circuit is tested at every pair of its wires, and each of them to ground.

use super::super::finding::Grade;
use super::Rule;
use crate::flow::model::{Act, Points, SourceKind};

pub(super) const RULE: Rule = Rule {
    name: "points_incomplete",
    grade: Grade::Error,
    page: include_str!("../pages/points_incomplete.md"),
    run: |rule, ground| {
        let mut findings = Vec::new();
        for (place, step) in ground.places() {
            let Act::ProveDead(proof) = &step.act else {
                continue;
            };
            let of_wires = proof
                .sources
                .iter()
                .map(|(_, points)| pairs_of_wires(points));
            let of_wires = of_wires.max().unwrap_or(0);
            for (source, points) in &proof.sources {
                let declared = ground.flow(place.flow).flow.energy.get(&source.it);
                let Some(kind) = declared.map(|source| source.kind) else {
                    continue;
                };
                if let Some((wrong, mend)) = incomplete(kind, points, of_wires) {
                    let told = format!("`{}` tests `{}` {wrong}.", step.name, source.it);
                    findings.push(ground.finding(rule, place.flow, source.at, (told, mend)));
                }
            }
        }
        findings
    },
};

/// Words for what the pairs go to besides the wires.
const GROUND: [&str; 2] = ["ground", "earth"];
/// A charge is measured at two pairs at least: across what stores it, and where hands go. Where
/// three wires may carry it, hands go to three pairs.
const CHARGE_PAIRS_MIN: usize = 2;

/// How many pairs of a circuit have no ground in them.
fn pairs_of_wires(points: &Points) -> usize {
    let is_of_wires = |point: &&String| {
        let mut wires = point.split(" to ").map(|wire| wire.trim().to_lowercase());
        wires.all(|wire| !GROUND.contains(&wire.as_str()))
    };
    points.ac.iter().filter(is_of_wires).count()
}

/// What is missing, and how to mend it; `of_wires` pairs of wires are tested beside it.
fn incomplete(kind: SourceKind, points: &Points, of_wires: usize) -> Option<(String, String)> {
    match kind {
        SourceKind::Electrical => of_circuit(&points.ac),
        SourceKind::Charge => {
            let mut pairs: Vec<String> = points.dc.iter().map(|it| it.to_lowercase()).collect();
            pairs.sort();
            pairs.dedup();
            let needed = CHARGE_PAIRS_MIN.max(of_wires + 1);
            (pairs.len() < needed).then(|| {
                (
                    format!("at {} of {needed} pairs", pairs.len()),
                    "Name them: across what stores the charge, and every pair where hands go."
                        .to_owned(),
                )
            })
        }
        SourceKind::Motion => None,
    }
}

fn of_circuit(points: &[String]) -> Option<(String, String)> {
    let mut pairs: Vec<(String, String)> = Vec::new();
    let mut wires: Vec<String> = Vec::new();
    for point in points {
        let Some((one, other)) = point.split_once(" to ") else {
            return Some((
                format!("at “{point}”, which names no pair"),
                "Write each point as a pair: `L1 to ground`.".to_owned(),
            ));
        };
        let pair = [one, other].map(|wire| wire.trim().to_lowercase());
        for wire in &pair {
            if !wires.contains(wire) {
                wires.push(wire.clone());
            }
        }
        let [one, other] = pair;
        pairs.push((one, other));
    }
    let ground = wires.iter().any(|wire| GROUND.contains(&wire.as_str()));
    if !ground || wires.len() < 3 {
        return Some((
            "at too few points".to_owned(),
            "A circuit has two wires at least: name their pair, and each of them to ground."
                .to_owned(),
        ));
    }
    let has = |one: &String, other: &String| {
        pairs
            .iter()
            .any(|(a, b)| (a == one && b == other) || (a == other && b == one))
    };
    for (number, one) in wires.iter().enumerate() {
        for other in wires.iter().skip(number + 1) {
            if !has(one, other) {
                return Some((
                    format!("but not {one} to {other}"),
                    format!("Add “{one} to {other}”; the same wire keeps its name in all pairs."),
                ));
            }
        }
    }
    None
}
