//! Tokens there and back.

use super::super::action_code::ACTIONS;
use super::*;
use proptest::prelude::*;

fn on() -> impl Strategy<Value = On> {
    (any::<u128>(), any::<u64>()).prop_map(|(job, revision)| On {
        job: JobId(Uuid::from_u128(job)),
        revision,
    })
}

fn plan() -> impl Strategy<Value = Plan> {
    (any::<u32>(), any::<bool>()).prop_map(|(flow, training)| Plan {
        flow: FlowMark(flow),
        training,
    })
}

fn roles_press() -> impl Strategy<Value = RolesPress> {
    let roles = || any::<u8>().prop_map(|byte| RoleChange::from_byte(byte).unwrap());
    prop_oneof![
        Just(RolesPress::Ask),
        roles().prop_map(RolesPress::Tick),
        roles().prop_map(RolesPress::Give),
    ]
}

fn again_press() -> impl Strategy<Value = AgainPress> {
    let some = || (any::<u8>(), any::<u64>());
    prop_oneof![
        Just(AgainPress::Parts),
        Just(AgainPress::Whole),
        some().prop_map(|(part, ticked)| AgainPress::Tick { part, ticked }),
        some().prop_map(|(part, ticked)| AgainPress::Send { part, ticked }),
    ]
}

fn shown_press() -> impl Strategy<Value = ShownPress> {
    prop_oneof![
        Just(ShownPress::Ask),
        any::<u32>().prop_map(|mark| ShownPress::Sign(CompetenceMark(mark))),
        any::<u32>().prop_map(|mark| ShownPress::TakeBack(CompetenceMark(mark))),
    ]
}

fn token() -> impl Strategy<Value = Token> {
    let choice = (any::<u8>(), any::<u16>());
    prop_oneof![
        (on(), choice).prop_map(|(on, (index, check))| Token::Choose(on, Choice { index, check })),
        (on(), any::<u8>(), any::<u128>())
            .prop_map(|(on, at, mask)| { Token::Toggle(on, at, mask) }),
        (on(), any::<u128>()).prop_map(|(on, mask)| Token::Ticked(on, mask)),
        on().prop_map(Token::Keep),
        (on(), 0..ACTIONS.len()).prop_map(|(on, at)| Token::Do(on, ACTIONS[at])),
        (on(), any::<u128>()).prop_map(|(on, mask)| Token::More(on, mask)),
        on().prop_map(|on| Token::Close(on, Closing::Accept)),
        on().prop_map(|on| Token::Close(on, Closing::SendBack)),
        on().prop_map(|on| Token::Close(on, Closing::Row(RowDecision::Accept))),
        on().prop_map(|on| Token::Close(on, Closing::Row(RowDecision::Decline))),
        on().prop_map(|on| Token::Show(on.job)),
        on().prop_map(|on| Token::Here(on.job)),
        on().prop_map(|on| Token::Photos(on.job)),
        (on(), plan()).prop_map(|(on, it)| Token::Begin(EvaporatorId(on.job.0), it)),
        (on(), again_press()).prop_map(|(on, press)| Token::Again(on, press)),
        on().prop_map(|on| Token::Evaporator(EvaporatorId(on.job.0))),
        any::<[u8; 16]>().prop_map(|mark| Token::Withdraw(CodeMark(mark))),
        plan().prop_map(Token::Add),
        plan().prop_map(Token::Which),
        plan().prop_map(|it| Token::Diagram(it.flow)),
        any::<bool>().prop_map(Token::New),
        (on(), any::<i32>(), any::<i32>()).prop_map(|(on, latitude, longitude)| {
            let near = Near {
                latitude,
                longitude,
            };
            Token::Locate(EvaporatorId(on.job.0), near)
        }),
        (0..SharedPress::ALL.len(), any::<[u8; 16]>())
            .prop_map(|(at, mark)| Token::Shared(SharedPress::ALL[at], SharedMark(mark))),
        (on(), any::<[u8; 16]>())
            .prop_map(|(on, mark)| Token::Try(EvaporatorId(on.job.0), SharedMark(mark))),
        (any::<Option<u128>>(), roles_press()).prop_map(|(to, press)| {
            Token::Roles(to.map(|to| PersonId(Uuid::from_u128(to))), press)
        }),
        (on(), any::<u128>(), any::<u32>(), any::<u8>()).prop_map(
            |(on, owner, source, confirmed)| {
                let owner = PersonId(Uuid::from_u128(owner));
                let lock = LockOff {
                    source,
                    owner,
                    confirmed,
                    revision: on.revision,
                };
                Token::LockOff(on.job, lock)
            }
        ),
        (any::<Option<u128>>(), shown_press()).prop_map(|(to, press)| {
            Token::Shown(to.map(|to| PersonId(Uuid::from_u128(to))), press)
        }),
        (on(), any::<Option<u128>>()).prop_map(|(on, to)| {
            Token::HandOver(on, to.map(|to| PersonId(Uuid::from_u128(to))))
        }),
    ]
}

proptest! {
    #[test]
    fn every_token_reads_back_and_fits_a_button(token in token()) {
        let text = token.encode();
        prop_assert!((1..=DATA_BYTES_MAX).contains(&text.len()));
        prop_assert_eq!(Token::decode(&text), Some(token));
    }

    #[test]
    fn any_text_is_read_or_refused_but_never_both_ways(text in "[ -~]{0,80}") {
        if let Some(token) = Token::decode(&text) {
            prop_assert_eq!(token.encode(), text);
        }
    }
}

#[test]
fn a_token_of_another_version_or_length_is_refused() {
    let text = Token::New(true).encode();
    assert!(Token::decode(&format!("{text}AA")).is_none());
    let other = URL_SAFE_NO_PAD.encode([(2 << 4) | 10, 1]);
    assert!(Token::decode(&other).is_none());
    assert!(Token::decode("").is_none());
}

#[test]
fn every_action_has_its_own_code() {
    for (at, action) in ACTIONS.into_iter().enumerate() {
        assert_eq!(usize::from(code_of(action)), at + 1);
    }
}

#[test]
fn a_choice_whose_place_means_another_key_is_not_found() {
    let button = |key: &str| Button {
        key: key.into(),
        label: key.to_owned(),
    };
    let choice = Choice::of(1, &button("cut"));
    assert!(choice.find(&[button("plug"), button("cut")]).is_some());
    assert!(choice.find(&[button("cut"), button("plug")]).is_none());
    assert!(choice.find(&[button("plug")]).is_none());
}
