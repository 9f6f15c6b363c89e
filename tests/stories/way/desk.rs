//! At the desk itself, without a channel.

use fanwright::desk::Actor;
use fanwright::desk::evaporators::NewEvaporator;
use fanwright::desk::jobs::NewJob;
use fanwright::desk::screen::{Outcome, Screen};
use fanwright::flow::embedded;
use fanwright::store::InputKey;
use fanwright::walk::input::Input;

use super::{Deed, Floor, PHOTO, Way};

/// Inputs, as a channel would bring them.
pub(crate) struct AtTheDesk {
    inputs: u64,
}

impl AtTheDesk {
    fn key(&mut self) -> InputKey {
        self.inputs += 1;
        InputKey(format!("story:{}", self.inputs))
    }
}

impl Way for AtTheDesk {
    // The people of a story first became known in terminals.
    const CHANNEL: &'static str = "terminal";

    async fn open(_: &Floor) -> Self {
        AtTheDesk { inputs: 0 }
    }

    async fn come_in(&mut self, _: &Floor, _: &Actor) {}

    async fn begin(&mut self, floor: &Floor, actor: &Actor) {
        let new = NewEvaporator {
            site: "Corner Market".to_owned(),
            tag: "EV-3".to_owned(),
            hangs: "meat cooler left".to_owned(),
        };
        let place = floor.desk.add_evaporator(self.key(), actor, new);
        let job = NewJob {
            evaporator: place.await.unwrap().id,
            flow: embedded::main_flow(),
            training: false,
        };
        floor.desk.begin(self.key(), actor, job).await.unwrap();
    }

    async fn does(&mut self, floor: &Floor, actor: &Actor, screen: &Screen, deed: Deed) -> String {
        let input = match deed {
            Deed::Input(input) => input,
            Deed::Photo => Input::Photo(floor.desk.take_photo(PHOTO.to_vec()).await.unwrap()),
        };
        let handled = floor
            .desk
            .handle(self.key(), actor, screen.job, input)
            .await;
        match handled.unwrap().outcome {
            Outcome::Refused(sentence) => sentence,
            _ => String::new(),
        }
    }

    async fn comes_back(&mut self, _: &Floor) {}
}
