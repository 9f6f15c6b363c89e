//! In which way people are asked.

use fanwright::flow::model::Role;
use fanwright::walk::context::Way;

use super::{World, chat};

#[tokio::test]
async fn whoever_has_learned_the_trade_chooses_and_apprentices_read_first() {
    let mut world = World::new();
    let sam = world.supervisor().await;
    let tess = world.joins(&sam, &chat(2), &[Role::Technician]).await;
    let ann = world.joins(&sam, &chat(3), &[Role::Apprentice]).await;
    assert_eq!(world.desk.way(&tess).await.unwrap(), Way::ReadThenDo);
    world.desk.set_way(&tess, Way::DoThenConfirm).await.unwrap();
    let refused = world.desk.set_way(&ann, Way::DoThenConfirm).await;
    let refused = refused.unwrap_err().to_string();
    assert!(refused.contains("Apprentices read a step"), "{refused}");
    world.restart().await;
    assert_eq!(world.desk.way(&tess).await.unwrap(), Way::DoThenConfirm);
    assert_eq!(world.desk.way(&ann).await.unwrap(), Way::ReadThenDo);
    // Whoever becomes an apprentice reads first again.
    let roles = [Role::Apprentice].into();
    let set = world.desk.set_roles(world.key(), &sam, tess.person, roles);
    set.await.unwrap();
    assert_eq!(world.desk.way(&tess).await.unwrap(), Way::ReadThenDo);
}
