//! Conversations: what comes to whom until it is done.

use std::sync::Arc;

use fanwright::desk::Rules;
use fanwright::desk::hours::typed::{Wish, Zone};
use fanwright::desk::screen::Phase;
use fanwright::flow::library::Sources;
use fanwright::flow::model::Role;
use fanwright::flow::name::FlowName;
use fanwright::record::entry::StepRef;
use fanwright::walk::input::Input;
use jiff::SignedDuration;
use jiff::tz::TimeZone;

use super::super::{World, chat, desk_walking, press};
use super::{AT, times};

#[tokio::test]
async fn whoever_may_release_a_hold_is_told_again_until_they_did() {
    let world = World::new();
    let sam = world.supervisor().await;
    let tess = world.joins(&sam, &chat(2), &[Role::Technician]).await;
    let eli = world.joins(&sam, &chat(3), &[Role::Electrician]).await;
    let screen = world.at_the_hold(&tess).await;
    let told = world.told_until("2031-05-05T12:00:00Z").await;
    assert_eq!(
        told[0],
        format!(
            "Sun 4 08:36 to 3: Reminder: {AT} waits for a licensed electrician, since Sun 4 May, \
             08:06."
        )
    );
    assert_eq!(
        times(&told),
        ["Sun 4 08:36 to 3", "Sun 4 10:36 to 3", "Sun 4 16:36 to 3"]
    );
    let told = world.told_until("2031-05-06T12:00:00Z").await;
    assert_eq!(times(&told), ["Mon 5 16:36 to 3"], "then daily");
    world.does(&eli, screen.job, press(&screen, "go")).await;
    let told = world.told_until("2031-06-01T12:00:00Z").await;
    assert_eq!(told, Vec::<String>::new(), "done");
}

#[tokio::test]
async fn a_hold_that_was_nearly_left_waits_anew() {
    let world = World::new();
    let sam = world.supervisor().await;
    let tess = world.joins(&sam, &chat(2), &[Role::Technician]).await;
    world.joins(&sam, &chat(3), &[Role::Electrician]).await;
    let job = world.at_the_hold(&tess).await.job;
    let told = world.told_until("2031-05-04T09:00:00Z").await;
    assert_eq!(times(&told), ["Sun 4 08:36 to 3"]);
    world.does(&tess, job, Input::LeaveLockedOut).await;
    let told = world.told_until("2031-05-04T11:00:00Z").await;
    assert_eq!(times(&told), Vec::<&str>::new(), "nobody waits for it");
    world.does(&tess, job, Input::KeepWorking).await;
    let told = world.told_until("2031-05-04T12:00:00Z").await;
    assert_eq!(times(&told), ["Sun 4 11:30 to 3"]);
}

#[tokio::test]
async fn the_night_is_quiet_by_the_clock_of_whoever_sleeps() {
    let world = World::new();
    let sam = world.supervisor().await;
    let tess = world.joins(&sam, &chat(2), &[Role::Technician]).await;
    let eli = world.joins(&sam, &chat(3), &[Role::Electrician]).await;
    let owl = world.joins(&sam, &chat(4), &[Role::Electrician]).await;
    let far = world.joins(&sam, &chat(5), &[Role::Electrician]).await;
    world.after(SignedDuration::from_hours(12));
    world.at_the_hold(&tess).await;
    // It is 20:06. One electrician keeps to what is usual, one wants no quiet hours, and for one
    // the morning begins at 22:00 UTC.
    let wish = |text: &str| Wish::typed(text).unwrap();
    let hours = world.desk.set_hours(&owl, wish("none")).await.unwrap();
    assert_eq!(hours.quiet, None);
    world
        .desk
        .set_hours(&far, wish("20:00 07:00 Asia/Tokyo"))
        .await
        .unwrap();
    let told = world.told_until("2031-05-05T07:00:00Z").await;
    assert_eq!(
        times(&told),
        [
            "Sun 4 20:36 to 4",
            "Sun 4 22:00 to 5",
            "Sun 4 22:36 to 4",
            "Mon 5 00:00 to 5",
            "Mon 5 04:36 to 4",
            "Mon 5 06:00 to 3",
            "Mon 5 06:00 to 5",
        ]
    );
    assert!(told[1].contains("since Mon 5 May, 05:06"), "{}", told[1]);
    let hours = world.desk.hours(&eli).await.unwrap();
    assert_eq!(hours.zone, TimeZone::UTC);
}

#[tokio::test]
async fn the_crews_zone_counts_for_whoever_has_none_of_their_own() {
    let world = World::new();
    let sam = world.supervisor().await;
    let tess = world.joins(&sam, &chat(2), &[Role::Technician]).await;
    let chicago = || Zone::typed("America/Chicago").unwrap();
    let refused = world.desk.set_crew_zone(world.key(), &tess, chicago());
    let refused = refused.await.unwrap_err().to_string();
    assert!(refused.contains("supervisor"), "{refused}");
    world
        .desk
        .set_crew_zone(world.key(), &sam, chicago())
        .await
        .unwrap();
    let hours = world.desk.hours(&tess).await.unwrap();
    assert_eq!(hours.zone_name(), "America/Chicago");
    assert_eq!(
        hours.sentence("2031-05-04T08:00:00Z".parse().unwrap()),
        "You are not reminded of anything from 20:00 to 06:00 by the clock of America/Chicago, \
         where it is 03:00 now."
    );
    let own = Wish::typed("22:00 5:00 Europe/Berlin").unwrap();
    let hours = world.desk.set_hours(&tess, own).await.unwrap();
    assert_eq!(hours.zone_name(), "Europe/Berlin");
    let back = Wish::typed("crew").unwrap();
    let hours = world.desk.set_hours(&tess, back).await.unwrap();
    assert_eq!(hours.zone_name(), "America/Chicago");
    assert_eq!(hours.quiet.unwrap().from(), "22:00", "it stays");
}

#[tokio::test]
async fn a_job_waits_for_its_reviewer_and_then_for_its_holder() {
    let world = World::new();
    let sam = world.supervisor().await;
    let tess = world.joins(&sam, &chat(2), &[Role::Technician]).await;
    let screen = world.begin(&tess).await;
    let screen = world.presses(&tess, &screen, "go").await.screen;
    world.presses(&tess, &screen, "turns").await;
    world.does(&tess, screen.job, Input::HandIn).await;
    let told = world.told_until("2031-05-05T12:00:00Z").await;
    assert_eq!(
        told,
        [format!(
            "Mon 5 08:00 to 1: Reminder: The job at {AT} waits for review, since Sun 4 May, 08:00."
        )]
    );
    let remark = "Which fan was it?";
    let sent = world.desk.send_back(world.key(), &sam, screen.job, remark);
    sent.await.unwrap();
    let told = world.told_until("2031-05-08T18:00:00Z").await;
    assert_eq!(
        told,
        [
            format!(
                "Mon 5 16:00 to 2: Reminder: The job at {AT} was sent back to you on Mon 5 May, \
                 12:00 and is not taken up: {remark}"
            ),
            format!(
                "Tue 6 16:00 to 2: Reminder: The job at {AT} was sent back to you on Mon 5 May, \
                 12:00 and is not taken up: {remark}"
            ),
            format!(
                "Wed 7 16:00 to 1: Reminder: The job at {AT} was sent back to {} on Mon 5 May, \
                 12:00 and is not taken up: {remark}",
                tess.name
            ),
            format!(
                "Thu 8 16:00 to 2: Reminder: The job at {AT} was sent back to you on Mon 5 May, \
                 12:00 and is not taken up: {remark}"
            ),
            format!(
                "Thu 8 16:00 to 1: Reminder: The job at {AT} was sent back to {} on Mon 5 May, \
                 12:00 and is not taken up: {remark}",
                tess.name
            ),
        ]
    );
    world.does(&tess, screen.job, Input::HandIn).await;
    world
        .desk
        .accept(world.key(), &sam, screen.job, "")
        .await
        .unwrap();
    let told = world.told_until("2031-06-08T18:00:00Z").await;
    assert_eq!(told, Vec::<String>::new());
}

#[tokio::test]
async fn a_job_left_locked_out_asks_for_its_owner_on_the_agreed_day() {
    let world = World::new();
    let sam = world.supervisor().await;
    let tess = world.joins(&sam, &chat(2), &[Role::Technician]).await;
    let job = world.begin(&tess).await.job;
    world.does(&tess, job, Input::Stop).await;
    world.says(&tess, job, "Water runs down the panel").await;
    world.does(&tess, job, Input::LeaveLockedOut).await;
    world.says(&tess, job, "The night shift").await;
    world.says(&tess, job, "Tuesday morning").await;
    let told = world.told_until("2031-05-08T12:00:00Z").await;
    let line = format!(
        "Reminder: {AT} is left locked out, since Sun 4 May, 08:00. Owner: The night shift. \
         Looked at again: Tuesday morning."
    );
    assert_eq!(
        told,
        [
            format!("Tue 6 06:00 to 2: {line}"),
            format!("Wed 7 06:00 to 2: {line}"),
            format!("Thu 8 06:00 to 1: {line}"),
        ],
        "supervisors hear of it when it did not help"
    );
    world.does(&tess, job, Input::Resume).await;
    let told = world.told_until("2031-05-20T12:00:00Z").await;
    assert_eq!(told, Vec::<String>::new(), "taken up");
}

#[tokio::test]
async fn the_agreed_day_is_counted_from_when_it_was_agreed() {
    let world = World::new();
    let sam = world.supervisor().await;
    let tess = world.joins(&sam, &chat(2), &[Role::Technician]).await;
    let screen = world.begin(&tess).await;
    world.presses(&tess, &screen, "go").await;
    let job = screen.job;
    world.does(&tess, job, Input::Stop).await;
    world.says(&tess, job, "Water runs down the panel").await;
    world.does(&tess, job, Input::LeaveLockedOut).await;
    world.says(&tess, job, "The night shift").await;
    world.says(&tess, job, "tomorrow").await;
    world.does(&tess, job, Input::HandIn).await;
    world.told_until("2031-05-05T12:00:00Z").await;
    let again = StepRef {
        flow: FlowName::from("look-at-the-fan"),
        instance: 1,
        step: "arrive".into(),
    };
    let back = Input::SendBack {
        remark: "Where did you stand?".to_owned(),
        steps: vec![again],
    };
    world.does(&sam, job, back).await;
    world.does(&tess, job, Input::Resume).await;
    let screen = world.desk.screen(&tess, job).await.unwrap();
    let left = world.presses(&tess, &screen, "go").await.screen;
    assert_eq!(left.phase, Phase::LockedOut, "the rest stands");
    let told = world.told_until("2031-05-05T18:00:00Z").await;
    let of_today = |line: &String| line.contains("Looked at again: tomorrow.");
    assert!(told.iter().any(of_today), "{told:?}");
}

#[tokio::test]
async fn locks_that_a_finished_job_left_on_ask_for_whoever_comes_back() {
    let mut world = World::new();
    let mut sources = Sources::default();
    let locked = include_str!("../locked.yaml").to_owned();
    sources
        .files
        .insert("lock-and-leave.yaml".to_owned(), locked);
    let store = Arc::new(world.memory.clone());
    let (clock, chance) = (&world.clock, &world.chance);
    world.desk = desk_walking(sources, store, clock, chance, Rules::default());
    let sam = world.supervisor().await;
    let tess = world.joins(&sam, &chat(2), &[Role::Technician]).await;
    let on = world.corner(&tess).await;
    let job = world.begins(&tess, on, "lock-and-leave").await;
    let screen = world.desk.screen(&tess, job).await.unwrap();
    world.presses(&tess, &screen, "go").await;
    for words in ["lock 7", "The night shift", "Wednesday"] {
        world.says(&tess, job, words).await;
    }
    let told = world.told_until("2031-05-07T12:00:00Z").await;
    assert_eq!(
        told,
        [format!(
            "Wed 7 06:00 to 2: Reminder: {AT} is left locked out, since Sun 4 May, 08:00. Owner: \
             The night shift. Looked at again: Wednesday."
        )]
    );
    // Without the lock the promise is still one.
    let off = Input::TakeLockOff {
        source: "fan_circuit".into(),
        owner: tess.person,
        not_here: true,
        tried_to_reach: true,
        will_know: true,
    };
    world.does(&sam, job, off).await;
    let told = world.told_until("2031-05-08T12:00:00Z").await;
    assert_eq!(
        told,
        [format!(
            "Wed 7 18:00 to 2: Reminder: {AT} was to be looked at again after the job of Sun 4 \
             May, 08:00. Promised by The night shift: Wednesday. No later job there is done."
        )]
    );
}

#[tokio::test]
async fn whoever_promised_to_look_again_is_told_until_somebody_did() {
    let world = World::new();
    let sam = world.supervisor().await;
    let tess = world.joins(&sam, &chat(2), &[Role::Technician]).await;
    let on = world.corner(&tess).await;
    world.promises(&tess, on, ("Tilly", "Tuesday, noon")).await;
    let told = world.told_until("2031-05-07T12:00:00Z").await;
    assert_eq!(
        told,
        [format!(
            "Tue 6 18:00 to 2: Reminder: {AT} was to be looked at again after the job of Sun 4 \
             May, 08:00. Promised by Tilly: Tuesday, noon. No later job there is done."
        )]
    );
    // Somebody is at it, so nobody is told; the next look is promised for a day that cannot be
    // understood, so it is due after the usual time.
    let again = world.begins(&sam, on, "promise-to-look").await;
    let told = world.told_until("2031-05-08T06:00:00Z").await;
    assert_eq!(told, Vec::<String>::new());
    let name = format!("{}, by phone", tess.name);
    world.says(&sam, again, &name).await;
    world.says(&sam, again, "when the part is here").await;
    let told = world.told_until("2031-05-10T12:00:00Z").await;
    assert_eq!(times(&told), ["Fri 9 06:00 to 2", "Sat 10 06:00 to 2"]);
    assert!(told[0].contains("after the job of Thu 8 May"), "{told:?}");
}

#[tokio::test]
async fn what_is_due_at_once_comes_in_one_message_the_most_pressing_first() {
    let world = World::new();
    let sam = world.supervisor().await;
    let tess = world.joins(&sam, &chat(2), &[Role::Technician]).await;
    let on = world.corner(&tess).await;
    for _ in 0..2 {
        let job = world.promises(&tess, on, ("Sam", "tomorrow")).await;
        world.does(&tess, job, Input::HandIn).await;
        world.after(SignedDuration::from_mins(1));
    }
    let told = world.told_until("2031-05-05T18:30:00Z").await;
    assert_eq!(
        told,
        [
            format!(
                "Mon 5 08:00 to 1: Reminder: The job at {AT} waits for review, since Sun 4 May, \
                 08:00."
            ),
            // Its time was 08:01, but not so soon after the other.
            format!(
                "Mon 5 08:30 to 1: Reminder: The job at {AT} waits for review, since Sun 4 May, \
                 08:01."
            ),
            format!(
                "Mon 5 18:00 to 1: Reminder: {AT} was to be looked at again after the job of Sun \
                 4 May, 08:01. Promised by Sam: tomorrow. No later job there is done."
            ),
        ]
    );
    let told = world.told_until("2031-05-06T09:00:00Z").await;
    assert_eq!(
        told,
        [
            format!(
                "Tue 6 08:00 to 1: Reminder: The job at {AT} waits for review, since Sun 4 May, \
                 08:00."
            ),
            format!(
                "Tue 6 08:30 to 1: Reminder: The job at {AT} waits for review, since Sun 4 May, \
                 08:01."
            ),
        ]
    );
    world.after(SignedDuration::from_hours(24 * 6));
    let told = world.told_until("2031-05-12T09:00:00Z").await;
    let lines: Vec<&str> = told[0].lines().collect();
    assert_eq!(
        lines,
        [
            "Mon 12 09:00 to 1: Reminder: 3 things wait for you.".to_owned(),
            format!(
                "• {AT} was to be looked at again after the job of Sun 4 May, 08:01. Promised by \
                 Sam: tomorrow. No later job there is done."
            ),
            format!("• The job at {AT} waits for review, since Sun 4 May, 08:00."),
            format!("• The job at {AT} waits for review, since Sun 4 May, 08:01."),
        ]
    );
}

#[tokio::test]
async fn what_became_due_several_times_while_the_server_was_away_is_told_once() {
    let world = World::new();
    let sam = world.supervisor().await;
    let tess = world.joins(&sam, &chat(2), &[Role::Technician]).await;
    let screen = world.begin(&tess).await;
    let screen = world.presses(&tess, &screen, "go").await.screen;
    world.presses(&tess, &screen, "turns").await;
    for remark in ["Which fan was it?", "Which one?"] {
        world.does(&tess, screen.job, Input::HandIn).await;
        let sent = world.desk.send_back(world.key(), &sam, screen.job, remark);
        sent.await.unwrap();
        world.after(SignedDuration::from_hours(1));
    }
    world.does(&tess, screen.job, Input::HandIn).await;
    world.after(SignedDuration::from_hours(5 * 24));
    let told = world.told_until("2031-05-09T12:00:00Z").await;
    assert_eq!(
        told,
        [format!(
            "Fri 9 10:00 to 1: Reminder: The job at {AT} waits for review, since Sun 4 May, 10:00."
        )]
    );
}
