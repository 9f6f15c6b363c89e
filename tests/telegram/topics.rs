//! Groups with topics: a job that is opened there gets its own, closed when it is accepted.

use fanwright::desk::ChannelAddress;
use fanwright::flow::model::Role;
use fanwright::store::InputKey;
use serde_json::Value;

use super::{World, png};
use crate::support::bot_api::{BotApi, Fault, Sent};
use crate::support::chat::Chat;
use crate::support::group_chat::GroupChat;

const GROUP: i64 = -1_001_234_567_890;

struct Crew {
    world: World,
    group: GroupChat,
    sam: Chat,
    toni: Chat,
}

impl Crew {
    async fn at_work() -> Crew {
        let world = World::new().await;
        let sam = world.supervisor().await;
        let mut toni = world.joined(2002, "Toni", Role::Technician).await;
        toni.say("/new").await;
        toni.reply("Corner Market, EV-3, meat cooler left").await;
        let group = world.group_of(&sam, GROUP).await;
        Crew {
            world,
            group,
            sam,
            toni,
        }
    }

    fn calls(&self, method: &str) -> Vec<Value> {
        self.world.api.calls(method)
    }

    /// Waits until the group shows how the job stands; gives that message.
    async fn status(&self) -> Sent {
        let shows = |api: &BotApi| {
            let all = api.sent(GROUP);
            all.into_iter()
                .rfind(|sent| sent.text.contains("Stand where you can see the fan."))
        };
        self.world
            .api
            .until("the room is shown", |api| shows(api).is_some())
            .await;
        shows(&self.world.api).unwrap()
    }
}

#[tokio::test]
async fn a_job_gets_one_topic_which_is_closed_when_it_is_accepted() {
    let mut crew = Crew::at_work().await;
    let general = crew.group.in_topic(None);
    let told = general.says(&crew.toni, "/here").await;
    let made = crew.calls("createforumtopic");
    assert_eq!(made.len(), 1);
    assert_eq!(made[0]["name"], "Corner Market · EV-3 · meat cooler left");
    let here = told
        .iter()
        .find(|sent| sent.text.starts_with("That job has a topic of its own"));
    assert_eq!(here.unwrap().topic, None);
    let status = crew.status().await;
    assert!(status.topic.is_some(), "{status:?}");
    general.says(&crew.toni, "/here").await;
    let own = crew.group.in_topic(status.topic);
    own.says(&crew.toni, "/here").await;
    assert_eq!(crew.calls("createforumtopic").len(), 1, "one is enough");

    let toni = &mut crew.toni;
    toni.say("/job").await;
    toni.press("Go on").await;
    toni.press("It turns").await;
    toni.press("That is all").await;
    toni.say("208 V").await;
    toni.photo(png()).await;
    toni.say("It hums").await;
    toni.press("Hand the job in").await;
    assert_eq!(crew.calls("closeforumtopic"), Vec::<Value>::new());
    let address = ChannelAddress::Telegram {
        chat: crew.sam.user,
        user: crew.sam.user,
    };
    let desk = &crew.world.desk;
    let sam = desk.who_is(&address).await.unwrap().unwrap();
    let job = desk.jobs_to_review(&sam).await.unwrap()[0].job;
    // The platform may not answer for a moment: the next look finds it.
    crew.world.api.fail_next("closeForumTopic", Fault::Broken);
    let key = InputKey("test:accept".to_owned());
    desk.accept(key, &sam, job, "").await.unwrap();
    crew.world
        .api
        .until("the topic is asked to close", |api| {
            !api.has_fault("closeforumtopic")
        })
        .await;
    let world = crew.world.crash().await;
    let closed = |api: &BotApi| !api.calls("closeforumtopic").is_empty();
    world.api.until("the topic is closed", closed).await;
    let call = world.api.calls("closeforumtopic").remove(0);
    assert_eq!(call["message_thread_id"], status.topic.unwrap());
    world.end().await;
}

#[tokio::test]
async fn without_the_right_to_make_topics_the_job_stays_and_the_right_is_named() {
    let crew = Crew::at_work().await;
    let why = "Bad Request: not enough rights to create a topic";
    crew.world
        .api
        .fail_next("createForumTopic", Fault::Refused(why));
    let told = crew.group.in_topic(None).says(&crew.toni, "/here").await;
    let named = told
        .iter()
        .any(|sent| sent.text.contains("an administrator who may manage topics"));
    assert!(named, "{told:?}");
    assert_eq!(crew.status().await.topic, None);
    crew.world.end().await;
}

#[tokio::test]
async fn no_topic_is_made_in_a_group_without_them_or_for_whoever_may_not_open_the_job() {
    let crew = Crew::at_work().await;
    crew.group.says(&crew.toni, "/here").await;
    assert_eq!(crew.status().await.topic, None);
    let tess = crew.world.joined(2003, "Tess", Role::Technician).await;
    let olga = crew.world.of_another_crew().await;
    for by in [&olga, &tess] {
        crew.group.in_topic(None).says(by, "/here").await;
    }
    assert_eq!(crew.calls("createforumtopic"), Vec::<Value>::new());
    crew.world.end().await;
}
