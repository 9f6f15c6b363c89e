//! Codes, crews, roles, sessions.

use std::collections::BTreeSet;
use std::sync::Arc;

use fanwright::desk::{ChannelAddress, Code, DeskError, Rules};
use fanwright::flow::model::Role;
use fanwright::store::{InputKey, Store};
use jiff::SignedDuration;

use super::{World, chat};

fn roles(roles: &[Role]) -> BTreeSet<Role> {
    roles.iter().copied().collect()
}

#[tokio::test]
async fn the_first_code_founds_a_crew_once() {
    let world = World::new();
    let lost = world
        .desk
        .first_supervisor_code()
        .await
        .unwrap()
        .unwrap()
        .code;
    let code = world
        .desk
        .first_supervisor_code()
        .await
        .unwrap()
        .unwrap()
        .code;
    let late = world.desk.join(world.key(), &lost, "Max", &chat(9)).await;
    assert!(
        matches!(late, Err(DeskError::BadCode)),
        "a code given before stops working"
    );
    let sam = world
        .desk
        .join(world.key(), &code, "Sam", &chat(1))
        .await
        .unwrap();
    assert_eq!(sam.roles, roles(&[Role::Supervisor]));
    assert_eq!(world.desk.first_supervisor_code().await.unwrap(), None);
    let again = world.desk.join(world.key(), &code, "Eve", &chat(2)).await;
    assert!(matches!(again, Err(DeskError::BadCode)));
}

#[tokio::test]
async fn an_invitation_works_once_and_not_too_late() {
    let world = World::new();
    let sam = world.supervisor().await;
    let invited = world
        .desk
        .invite(&sam, roles(&[Role::Technician]))
        .await
        .unwrap();
    let tess = world
        .desk
        .join(world.key(), &invited.code, "Tess", &chat(2))
        .await
        .unwrap();
    assert_eq!(
        (tess.crew, tess.roles.clone()),
        (sam.crew, roles(&[Role::Technician]))
    );
    assert_eq!(tess.name, "Tess");
    let eve = world
        .desk
        .join(world.key(), &invited.code, "Eve", &chat(3))
        .await;
    assert!(matches!(eve, Err(DeskError::BadCode)));
    assert_eq!(world.desk.who_is(&chat(3)).await.unwrap(), None);

    let late = world
        .desk
        .invite(&sam, roles(&[Role::Technician]))
        .await
        .unwrap();
    world.after(SignedDuration::from_hours(7 * 24 + 1));
    let refused = world
        .desk
        .join(world.key(), &late.code, "Lee", &chat(4))
        .await;
    assert!(matches!(refused, Err(DeskError::BadCode)));
    let forged = world
        .desk
        .join(world.key(), &Code::typed("0000"), "Lee", &chat(4))
        .await;
    assert!(matches!(forged, Err(DeskError::BadCode)));
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn many_who_use_one_code_at_once_get_one_place() {
    let world = World::new();
    let sam = world.supervisor().await;
    let technician = roles(&[Role::Technician]);
    let code = world.desk.invite(&sam, technician).await.unwrap().code;
    let mut tries = tokio::task::JoinSet::new();
    for user in 2..40 {
        let (desk, code, key) = (world.desk.clone(), code.clone(), world.key());
        tries.spawn(async move { desk.join(key, &code, "Ann", &chat(user)).await });
    }
    let tries = tries.join_all().await;
    assert_eq!(tries.iter().filter(|joined| joined.is_ok()).count(), 1);
    assert_eq!(world.desk.people(&sam).await.unwrap().len(), 2);
    assert_eq!(world.memory.names().await.unwrap().len(), 2);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_whole_crew_can_come_through_an_open_door_at_once() {
    let rules = Rules {
        open_door: Some(roles(&[Role::Technician])),
        ..Rules::default()
    };
    let world = World::over(|memory| Arc::new(memory.clone()), rules);
    let mut tries = tokio::task::JoinSet::new();
    for user in 1..=200 {
        let (desk, key) = (world.desk.clone(), world.key());
        tries.spawn(async move { desk.join_open_door(key, "Ann", &chat(user)).await });
    }
    let joined = tries.join_all().await;
    let crews: BTreeSet<_> = joined
        .iter()
        .map(|one| one.as_ref().unwrap().crew)
        .collect();
    assert_eq!(crews.len(), 1);
    let ann = joined[0].as_ref().unwrap();
    assert_eq!(world.desk.people(ann).await.unwrap().len(), 200);
}

#[tokio::test]
async fn the_same_join_twice_is_one_person() {
    let world = World::new();
    let sam = world.supervisor().await;
    let code = world
        .desk
        .invite(&sam, roles(&[Role::Technician]))
        .await
        .unwrap()
        .code;
    let key = InputKey("update 7".to_owned());
    let first = world
        .desk
        .join(key.clone(), &code, "Tess", &chat(2))
        .await
        .unwrap();
    let second = world.desk.join(key, &code, "Tess", &chat(2)).await.unwrap();
    assert_eq!(first, second);
    assert_eq!(world.desk.people(&sam).await.unwrap().len(), 2);
}

#[tokio::test]
async fn only_hashes_of_codes_are_kept() {
    let world = World::new();
    let sam = world.supervisor().await;
    let code = world
        .desk
        .invite(&sam, roles(&[Role::Technician]))
        .await
        .unwrap()
        .code;
    let kept = format!("{:?}", world.memory);
    let bytes = format!("{:?}", code.reveal().as_bytes());
    assert!(!kept.contains(code.reveal()));
    assert!(!kept.contains(bytes.trim_matches(['[', ']'])));
}

#[tokio::test]
async fn roles_are_changed_by_a_supervisor_and_one_always_stays() {
    let world = World::new();
    let sam = world.supervisor().await;
    let tess = world.joins(&sam, &chat(2), &[Role::Technician]).await;
    let more = roles(&[Role::Technician, Role::Electrician]);
    let by_tess = world
        .desk
        .set_roles(world.key(), &tess, tess.person, more.clone())
        .await;
    assert!(matches!(by_tess, Err(DeskError::NotAllowed(_))));
    world
        .desk
        .set_roles(world.key(), &sam, tess.person, more.clone())
        .await
        .unwrap();
    assert_eq!(
        world.desk.who_is(&chat(2)).await.unwrap().unwrap().roles,
        more
    );
    let none = world
        .desk
        .set_roles(world.key(), &sam, sam.person, roles(&[]))
        .await;
    assert!(
        matches!(none, Err(DeskError::NotAllowed(_))),
        "the last supervisor stays"
    );
    world
        .desk
        .set_roles(world.key(), &sam, tess.person, roles(&[]))
        .await
        .unwrap();
    assert_eq!(world.desk.who_is(&chat(2)).await.unwrap(), None);
    let gone = world.desk.people(&tess).await;
    assert!(
        matches!(gone, Err(DeskError::NotSignedIn)),
        "an actor kept from before is no use"
    );
}

#[tokio::test]
async fn a_browser_signs_in_with_a_code_and_out_again() {
    let world = World::new();
    let sam = world.supervisor().await;
    let code = world.desk.sign_in_code(&sam).await.unwrap().code;
    let session = world.desk.new_session().unwrap();
    let page = ChannelAddress::Browser { session };
    assert_eq!(world.desk.who_is(&page).await.unwrap(), None);
    let on_page = world
        .desk
        .join(world.key(), &code, "", &page)
        .await
        .unwrap();
    assert_eq!(
        (on_page.person, on_page.name),
        (sam.person, sam.name.clone())
    );
    world.after(SignedDuration::from_hours(6 * 24));
    assert!(world.desk.who_is(&page).await.unwrap().is_some());
    world.after(SignedDuration::from_hours(6 * 24));
    assert!(
        world.desk.who_is(&page).await.unwrap().is_some(),
        "use keeps it alive"
    );
    world.desk.sign_out(&page).await.unwrap();
    assert_eq!(world.desk.who_is(&page).await.unwrap(), None);
    assert!(
        world.desk.who_is(&chat(1)).await.unwrap().is_some(),
        "the chat is not signed out"
    );
}

#[tokio::test]
async fn an_idle_session_ends() {
    let world = World::new();
    let sam = world.supervisor().await;
    let code = world.desk.sign_in_code(&sam).await.unwrap().code;
    let page = ChannelAddress::Browser {
        session: world.desk.new_session().unwrap(),
    };
    world
        .desk
        .join(world.key(), &code, "", &page)
        .await
        .unwrap();
    world.after(SignedDuration::from_hours(7 * 24 + 1));
    assert_eq!(world.desk.who_is(&page).await.unwrap(), None);
}

#[tokio::test]
async fn a_shut_door_asks_for_a_code_and_an_open_one_does_not() {
    let world = World::new();
    let shut = world
        .desk
        .join_open_door(world.key(), "Ann", &chat(2))
        .await;
    assert!(shut.unwrap_err().to_string().contains("need a code"));
    let rules = Rules {
        open_door: Some(roles(&[Role::Apprentice])),
        ..Rules::default()
    };
    let world = World::over(|memory| Arc::new(memory.clone()), rules);
    let ann = world
        .desk
        .join_open_door(world.key(), "Ann", &chat(2))
        .await
        .unwrap();
    let bob = world
        .desk
        .join_open_door(world.key(), "Bob", &chat(3))
        .await
        .unwrap();
    assert_eq!(ann.crew, bob.crew);
    assert_eq!(bob.roles, roles(&[Role::Apprentice]));
    let sam = world.supervisor().await;
    assert_eq!(
        sam.crew, ann.crew,
        "the first supervisor takes the crew that has none"
    );
}

#[tokio::test]
async fn an_erased_name_shows_as_somebody() {
    let world = World::new();
    let sam = world.supervisor().await;
    let tess = world.joins(&sam, &chat(2), &[Role::Technician]).await;
    let by_tess = world.desk.erase_name(&tess, sam.person).await;
    assert!(matches!(by_tess, Err(DeskError::NotAllowed(_))));
    world.desk.erase_name(&sam, tess.person).await.unwrap();
    assert_eq!(
        world.desk.who_is(&chat(2)).await.unwrap().unwrap().name,
        "somebody"
    );
}
