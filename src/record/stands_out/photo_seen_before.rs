//! A photo that another job has too.

use super::photo_before_job::photo;
use super::words::quoted;
use super::{Finding, Look, Moment, Rule};

pub(super) fn look(look: &Look<'_>) -> Vec<Finding> {
    let find = |moment: &Moment<'_>| {
        let photo = photo(moment)?;
        let seen = look
            .known
            .seen
            .iter()
            .find(|seen| seen.original == photo.original)?;
        let what = match &moment.place {
            Some(place) => format!("The photo for {}", quoted(&place.asked)),
            None => "A photo".to_owned(),
        };
        let how = if seen.same_file {
            "is the same file as one in"
        } else {
            "looks nearly the same as one in"
        };
        let sentence = format!("{what} {how} another job: {}.", seen.job);
        Some(Finding::new(
            Rule::PhotoSeenBefore,
            vec![moment.seq],
            sentence,
        ))
    };
    look.moments.iter().filter_map(find).collect()
}
