//! Codes that were given out and not used: seen, withdrawn, gone when used.

use fanwright::desk::DeskError;
use fanwright::flow::model::Role;
use fanwright::record::around::CrewWhat;
use fanwright::record::chain::Hash;
use fanwright::record::stream::Seq;
use fanwright::store::Store;
use jiff::SignedDuration;

use super::{World, chat};

#[tokio::test]
async fn an_open_code_is_seen_with_its_roles_its_end_and_who_gave_it() {
    let world = World::new();
    let sam = world.supervisor().await;
    assert_eq!(world.desk.open_codes(&sam).await.unwrap(), []);
    let roles = [Role::Technician, Role::Electrician].into();
    let given = world.desk.invite(&sam, roles).await.unwrap();
    let open = world.desk.open_codes(&sam).await.unwrap();
    assert_eq!(open.len(), 1);
    assert_eq!(open[0].roles, [Role::Technician, Role::Electrician].into());
    assert_eq!(open[0].until, given.until);
    assert_eq!(open[0].by.as_ref().unwrap().name, "Sam Supervisor");
    let operators = [Role::Apprentice].into();
    let by_operator = world.desk.invite_as_operator(None, operators).await;
    by_operator.unwrap();
    let open = world.desk.open_codes(&sam).await.unwrap();
    assert!(open.iter().any(|open| open.by.is_none()));
    world.after(SignedDuration::from_hours(7 * 24 + 1));
    assert_eq!(world.desk.open_codes(&sam).await.unwrap(), []);
}

#[tokio::test]
async fn a_withdrawn_code_lets_nobody_in_and_leaves_a_trail() {
    let world = World::new();
    let sam = world.supervisor().await;
    let given = world.desk.invite(&sam, [Role::Technician].into()).await;
    let given = given.unwrap();
    let code = world.desk.open_codes(&sam).await.unwrap()[0].code;
    let key = world.key();
    for _ in 0..2 {
        let key = key.clone();
        let withdrawn = world.desk.withdraw_code(key, &sam, code).await;
        withdrawn.expect("the same input twice withdraws once");
    }
    assert_eq!(world.desk.open_codes(&sam).await.unwrap(), []);
    let joined = world
        .desk
        .join(world.key(), &given.code, "Eve", &chat(2))
        .await;
    assert!(matches!(joined, Err(DeskError::BadCode)));
    let crew = world.memory.read(sam.crew.stream(), Seq::FIRST, 99).await;
    let crew = crew.unwrap();
    let last: serde_json::Value = serde_json::from_slice(&crew.last().unwrap().bytes).unwrap();
    let what: CrewWhat = serde_json::from_value(last["what"].clone()).unwrap();
    assert_eq!(what, CrewWhat::InvitationWithdrawn { code });
    assert_eq!(last["who"], sam.person.0.to_string());
}

#[tokio::test]
async fn a_used_code_is_open_no_more() {
    let world = World::new();
    let sam = world.supervisor().await;
    let tess = world.joins(&sam, &chat(2), &[Role::Technician]).await;
    assert_eq!(world.desk.open_codes(&sam).await.unwrap(), []);
    let seen = world.desk.open_codes(&tess).await;
    assert!(matches!(seen, Err(DeskError::NotAllowed(_))));
}

#[tokio::test]
async fn only_the_crews_supervisor_withdraws_its_codes() {
    let world = World::new();
    let sam = world.supervisor().await;
    let tess = world.joins(&sam, &chat(2), &[Role::Technician]).await;
    let given = world.desk.invite(&sam, [Role::Technician].into()).await;
    given.unwrap();
    let code = world.desk.open_codes(&sam).await.unwrap()[0].code;
    let refused = world.desk.withdraw_code(world.key(), &tess, code).await;
    assert!(matches!(refused, Err(DeskError::NotAllowed(_))));
    let other = world.desk.invite_new_crew().await.unwrap().code;
    let olga = world.desk.join(world.key(), &other, "Olga", &chat(9)).await;
    let olga = olga.unwrap();
    let told = async |code| {
        let refused = world.desk.withdraw_code(world.key(), &olga, code).await;
        refused.unwrap_err().to_string()
    };
    assert_eq!(told(code).await, told(Hash::NONE).await);
    assert_eq!(world.desk.open_codes(&sam).await.unwrap().len(), 1);
}
