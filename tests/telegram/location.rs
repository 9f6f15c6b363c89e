//! Where an evaporator is: offered, asked, kept roughly and said so.

use serde_json::json;

use super::World;

#[tokio::test]
async fn a_location_is_kept_roughly_with_the_evaporator_only_when_it_is_asked_to_be() {
    let world = World::new().await;
    let mut toni = world.at_work().await;
    let place = json!({ "location": { "latitude": 45.123_456, "longitude": -93.265_01 } });
    let message = toni.message(place.clone());
    let asked = toni.sends("message", message).await;
    let text = &asked[0].text;
    assert!(
        text.starts_with("Keep where Corner Market · EV-3 · meat cooler left is?"),
        "{text}"
    );
    assert!(
        text.contains("within about 100 m: 45.123° N, 93.265° W."),
        "{text}"
    );
    let shown = toni.say("/evaporator ev-3").await;
    assert!(
        !shown[0].text.contains("45.123"),
        "not before it is asked to be"
    );
    let kept = toni.press("Keep it with the evaporator").await;
    assert!(
        kept[0]
            .text
            .ends_with("is at 45.123° N, 93.265° W, within about 100 m.")
    );
    let shown = toni.say("/evaporator ev-3").await;
    assert!(shown[0].text.contains("45.123° N, 93.265° W"), "{shown:?}");
    // A location that is followed changes by itself.
    let followed = toni.message(place);
    assert_eq!(toni.sends("edited_message", followed).await, []);
    assert!(toni.say("/job").await[0].text.contains("step 1"));
    world.end().await;
}

#[tokio::test]
async fn a_location_without_a_job_or_by_a_stranger_keeps_nothing() {
    let world = World::new().await;
    let mut sam = world.supervisor().await;
    let place = json!({ "location": { "latitude": 1.0, "longitude": 2.0 } });
    let message = sam.message(place.clone());
    let told = sam.sends("message", message).await;
    assert!(
        told[0]
            .text
            .starts_with("I keep a location with the evaporator"),
        "{told:?}"
    );
    let mut stranger = world.chat(9_009, "Nobody");
    let message = stranger.message(place);
    let told = stranger.sends("message", message).await;
    assert!(
        told[0].text.contains("You are not in a crew yet."),
        "{told:?}"
    );
    world.end().await;
}
