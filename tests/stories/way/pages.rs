//! On the pages of the browser, over HTTP and without scripts: a browser for each person.

use std::collections::BTreeMap;
use std::sync::Arc;

use fanwright::desk::Actor;
use fanwright::desk::screen::Screen;
use fanwright::walk::input::Input;
use fanwright::walk::prompt::Ask;

use super::{Deed, Floor, PHOTO, Way, first_line, label};
use crate::support::page::Page;
use crate::support::pages_server::PagesServer;

/// A server of pages and who looks at them.
pub(crate) struct OnPages {
    server: PagesServer,
    pages: BTreeMap<String, Page>,
}

async fn serve(floor: &Floor) -> PagesServer {
    let clock = Arc::clone(&floor.clock);
    let now = move || clock.0.lock().unwrap().0;
    PagesServer::at(floor.desk.clone(), Arc::new(now)).await
}

impl Way for OnPages {
    const CHANNEL: &'static str = "browser";

    async fn open(floor: &Floor) -> Self {
        OnPages {
            server: serve(floor).await,
            pages: BTreeMap::new(),
        }
    }

    async fn come_in(&mut self, floor: &Floor, actor: &Actor) {
        let code = floor.desk.sign_in_code(actor).await.unwrap().code;
        let page = Page::joined(&self.server.base, code.reveal(), &actor.name).await;
        self.pages.insert(actor.name.clone(), page);
    }

    async fn begin(&mut self, _: &Floor, actor: &Actor) {
        let page = self.pages.get_mut(&actor.name).unwrap();
        page.open("/new-job").await;
        let fields = [
            ("site", "Corner Market"),
            ("tag", "EV-3"),
            ("hangs", "meat cooler left"),
        ];
        page.fill_and_press(&fields, "Add this evaporator").await;
        page.press("Begin the job").await;
    }

    async fn does(&mut self, floor: &Floor, actor: &Actor, screen: &Screen, deed: Deed) -> String {
        let page = self.pages.get_mut(&actor.name).unwrap();
        page.open(&format!("/job/{}", screen.job)).await;
        assert!(page.shows(first_line(screen)), "{}", page.text);
        match (deed, &screen.prompt.ask) {
            (Deed::Photo, _) => page.send_photo(PHOTO.to_vec()).await,
            (Deed::Input(Input::Text(text)), _) => page.say(&text).await,
            (Deed::Input(Input::Tick { keys, .. }), Ask::Tick { options, .. }) => {
                let chosen = options.iter().filter(|option| keys.contains(&option.key));
                let labels: Vec<&str> = chosen.map(|option| option.label.as_str()).collect();
                page.tick(&labels).await;
            }
            (Deed::Input(input), _) => {
                page.press(&label(screen, &input).unwrap()).await;
                if let Input::HandOver(Some(person)) = input {
                    let people = floor.desk.colleagues(actor).await.unwrap();
                    let to = people.iter().find(|line| line.person == person).unwrap();
                    let buttons = page.buttons();
                    let button = buttons.iter().find(|label| label.starts_with(&to.name));
                    page.press(button.unwrap()).await;
                }
            }
        }
        page.text.clone()
    }

    async fn comes_back(&mut self, floor: &Floor) {
        self.server = serve(floor).await;
        for page in self.pages.values_mut() {
            page.moves_to(&self.server.base);
        }
    }
}
