//! Hands went in long after the proof.

use std::collections::BTreeMap;

use jiff::{SignedDuration, Timestamp};

use super::super::entry::What;
use super::super::stream::Seq;
use super::words::{quoted, span};
use super::{Finding, Look, Moment, Rule};
use crate::flow::model::Setting;
use crate::flow::name::SourceName;

/// The longest time from a proof to a touching step that does not stand out.
const APART_MAX: SignedDuration = SignedDuration::from_hours(4);

/// A proof with the touching step that was furthest from it so far.
struct Proved {
    seq: Seq,
    at: Timestamp,
    late: Option<(Seq, SignedDuration, String)>,
}

pub(super) fn look(look: &Look<'_>) -> Vec<Finding> {
    let mut labels: BTreeMap<&SourceName, &str> = BTreeMap::new();
    let mut proofs: BTreeMap<&SourceName, Proved> = BTreeMap::new();
    let mut findings = Vec::new();
    for moment in look.moments {
        match &moment.entry.what {
            What::Begun { sources, .. } => {
                let named = sources.iter().map(|one| (&one.name, one.label.as_str()));
                labels.extend(named);
            }
            What::Proved { sources, .. } => {
                for source in sources {
                    close(&mut proofs, source, &labels, &mut findings);
                    proofs.insert(source, proved(moment));
                }
            }
            What::SourceSet { source, setting } => {
                close(&mut proofs, source, &labels, &mut findings);
                if *setting == Setting::Blocked {
                    proofs.insert(source, proved(moment));
                }
            }
            What::ProofVoided { sources, .. } => {
                for source in sources {
                    close(&mut proofs, source, &labels, &mut findings);
                }
            }
            What::Answered { .. } => touched(&mut proofs, moment),
            _ => {}
        }
    }
    let left: Vec<&SourceName> = proofs.keys().copied().collect();
    for source in left {
        close(&mut proofs, source, &labels, &mut findings);
    }
    merged(findings)
}

fn proved(moment: &Moment<'_>) -> Proved {
    Proved {
        seq: moment.seq,
        at: moment.entry.at,
        late: None,
    }
}

fn touched(proofs: &mut BTreeMap<&SourceName, Proved>, moment: &Moment<'_>) {
    let Some(place) = &moment.place else { return };
    for source in &place.touches {
        let Some(proof) = proofs.get_mut(source) else {
            continue;
        };
        let apart = moment.entry.at.duration_since(proof.at);
        if apart > APART_MAX {
            proof.late = Some((moment.seq, apart, place.asked.clone()));
        }
    }
}

/// A proof that ends, with what it leaves behind.
struct Late {
    labels: Vec<String>,
    proof: Seq,
    touch: Seq,
    apart: SignedDuration,
    asked: String,
}

fn close<'a>(
    proofs: &mut BTreeMap<&'a SourceName, Proved>,
    source: &'a SourceName,
    labels: &BTreeMap<&SourceName, &str>,
    findings: &mut Vec<Late>,
) {
    let Some(Proved { seq, late, .. }) = proofs.remove(source) else {
        return;
    };
    let Some((touch, apart, asked)) = late else {
        return;
    };
    let label = labels.get(source).copied().unwrap_or(source.as_str());
    findings.push(Late {
        labels: vec![label.to_owned()],
        proof: seq,
        touch,
        apart,
        asked,
    });
}

/// Sources that were proved together and touched together are told together.
fn merged(late: Vec<Late>) -> Vec<Finding> {
    let mut together: Vec<Late> = Vec::new();
    for one in late {
        let same = together
            .iter_mut()
            .find(|other| (other.proof, other.touch) == (one.proof, one.touch));
        match same {
            Some(other) => other.labels.extend(one.labels),
            None => together.push(one),
        }
    }
    let finding = |late: Late| {
        let sentence = format!(
            "{} was answered with hands in {} after the proof of {}. After so long somebody may \
             have changed something.",
            quoted(&late.asked),
            span(late.apart),
            late.labels.join(", ")
        );
        Finding::new(
            Rule::ProofLongBefore,
            vec![late.proof, late.touch],
            sentence,
        )
    };
    together.into_iter().map(finding).collect()
}
