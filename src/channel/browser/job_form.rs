//! What a form of a job's page means.

use super::form::Fields;
use crate::desk::screen::RowDecision;
use crate::flow::name::ChoiceKey;
use crate::record::person::PersonId;
use crate::walk::input::Input;
use crate::walk::prompt::Action;

/// The word by which a form names an action.
const WORDS: &[(&str, Action)] = &[
    ("back", Action::Back),
    ("pause", Action::Pause),
    ("resume", Action::Resume),
    ("stop", Action::Stop),
    ("hurt", Action::Emergency),
    ("hand-over", Action::HandOver),
    ("take-over", Action::TakeOver),
    ("keep-job", Action::KeepJob),
    ("call-supervisor", Action::CallSupervisor),
    ("stand-beside", Action::StandBeside),
    ("lift-stop", Action::LiftStop),
    ("leave", Action::LeaveLockedOut),
    ("keep-working", Action::KeepWorking),
    ("own-lock-on", Action::HangOwnLock),
    ("own-lock-off", Action::TakeOwnLockOff),
    ("hand-in", Action::HandIn),
    ("share", Action::Share),
    ("end-sharing", Action::EndSharing),
    ("check-on-me", Action::CheckOnMe),
    ("am-well", Action::AmWell),
    ("am-out", Action::AmOut),
    ("found-well", Action::FoundWell),
];

/// The word of an action; none for what is only told on request.
pub(super) fn word_of(action: Action) -> Option<&'static str> {
    let found = WORDS.iter().find(|(_, other)| *other == action);
    found.map(|(word, _)| *word)
}

/// What a person meant with a form.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Meant {
    /// An input to the job.
    Input(Input),
    /// Accept the job.
    Accept,
    /// Send the job back.
    SendBack,
    /// Decide what becomes of the row that the job proposes for the speed book.
    Row(RowDecision),
    /// Hand the job over: to whom is asked next.
    ChoosePerson,
}

/// What a form means; nothing if no button of it was pressed.
pub(super) fn meant(fields: &Fields, revision: u64) -> Option<Meant> {
    if let Some(key) = fields.get("press") {
        let key = ChoiceKey::from(key);
        return Some(Meant::Input(Input::Press { revision, key }));
    }
    let word = fields.get("do")?;
    let input = match word {
        "tick" => {
            let keys = fields.all("tick").map(ChoiceKey::from).collect();
            Input::Tick { revision, keys }
        }
        "text" => Input::Text(fields.text("text").trim().replace("\r\n", "\n")),
        "keep" => Input::Keep,
        "accept" => return Some(Meant::Accept),
        "send-back" => return Some(Meant::SendBack),
        "accept-row" => return Some(Meant::Row(RowDecision::Accept)),
        "decline-row" => return Some(Meant::Row(RowDecision::Decline)),
        "hand-over" => match fields.get("to") {
            None => return Some(Meant::ChoosePerson),
            Some("anybody") => Input::HandOver(None),
            Some(person) => Input::HandOver(Some(PersonId(person.parse().ok()?))),
        },
        word => {
            let (_, action) = WORDS.iter().find(|(other, _)| *other == word)?;
            action.input()?
        }
    };
    Some(Meant::Input(input))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn fields(pairs: &[(&str, &str)]) -> Fields {
        let pair = |(name, value): &(&str, &str)| ((*name).to_owned(), (*value).to_owned());
        Fields(pairs.iter().map(pair).collect())
    }

    #[test]
    fn every_button_means_one_input() {
        let press = meant(&fields(&[("press", "dead")]), 7);
        let key = ChoiceKey::from("dead");
        assert_eq!(press, Some(Meant::Input(Input::Press { revision: 7, key })));
        let ticked = meant(&fields(&[("tick", "a"), ("do", "tick"), ("tick", "b")]), 7);
        let keys = vec![ChoiceKey::from("a"), ChoiceKey::from("b")];
        assert_eq!(
            ticked,
            Some(Meant::Input(Input::Tick { revision: 7, keys }))
        );
        let typed = meant(&fields(&[("do", "text"), ("text", " 208 V ")]), 7);
        assert_eq!(typed, Some(Meant::Input(Input::Text("208 V".to_owned()))));
        assert_eq!(
            meant(&fields(&[("do", "hand-over"), ("to", "anybody")]), 7),
            Some(Meant::Input(Input::HandOver(None)))
        );
        for (word, action) in WORDS {
            let meant = meant(&fields(&[("do", word)]), 7);
            match action {
                Action::HandOver => assert_eq!(meant, Some(Meant::ChoosePerson)),
                _ => assert_eq!(meant, action.input().map(Meant::Input)),
            }
        }
    }

    #[test]
    fn what_no_page_sends_means_nothing() {
        for pairs in [
            &[("do", "dance")] as &[_],
            &[("text", "208 V")],
            &[("do", "hand-over"), ("to", "nobody's number")],
            &[],
        ] {
            assert_eq!(meant(&fields(pairs), 7), None);
        }
    }
}
