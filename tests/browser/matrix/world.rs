//! Two crews with somebody in every role, and jobs in every state.

use std::collections::HashMap;

use fanwright::desk::evaporators::NewEvaporator;
use fanwright::desk::id::{EvaporatorId, JobId};
use fanwright::desk::jobs::NewJob;
use fanwright::desk::screen::Outcome;
use fanwright::desk::{Actor, ChannelAddress};
use fanwright::flow::library::{Library, Sources};
use fanwright::flow::model::Role;
use fanwright::flow::name::FlowName;
use fanwright::store::InputKey;
use fanwright::walk::input::Input;
use fanwright::walk::prompt::Ask;

use crate::support::page::Page;
use crate::support::pages_server::PagesServer;

const FLOW: &str = include_str!("flow.yaml");

const SIGN: &str = "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 2 2\"/>";

const PASSWORD: &str = "coil drips on my boots";

/// The people of a crew: the word of their column, and their roles. Whoever `worked` began every
/// job and handed it over to the `holder`; the `spare` is there to be changed.
const PEOPLE: [(&str, &[Role]); 7] = [
    ("supervisor", &[Role::Supervisor]),
    ("apprentice", &[Role::Apprentice]),
    ("technician", &[Role::Technician]),
    ("electrician", &[Role::Electrician]),
    ("holder", &[Role::Technician]),
    ("worked", &[Role::Supervisor, Role::Technician]),
    ("spare", &[Role::Technician]),
];

/// A crew.
pub(super) struct Crew {
    people: HashMap<&'static str, Actor>,
    evaporator: EvaporatorId,
    /// Jobs that nobody changes, by how far they are.
    jobs: HashMap<String, JobId>,
    /// What a job with a photo shows.
    pub(super) photo: String,
    pub(super) trial: String,
    /// With what the spare person signs in, beside the password.
    login: String,
}

/// A server with both.
pub(super) struct World {
    pub(super) server: PagesServer,
    pub(super) ours: Crew,
    pub(super) theirs: Crew,
    inputs: u32,
}

impl Crew {
    pub(super) fn actor(&self, who: &str) -> &Actor {
        &self.people[who]
    }

    /// What a word like `$person` stands for in this crew.
    pub(super) fn named(&self, word: &str) -> Option<String> {
        Some(match word {
            "evaporator" => self.evaporator.to_string(),
            "person" => self.actor("spare").person.0.to_string(),
            "trial" => self.trial.clone(),
            "photo" => self.photo.clone(),
            "login" => self.login.clone(),
            _ => return None,
        })
    }
}

impl World {
    pub(super) async fn new() -> World {
        let mut sources = Sources::default();
        sources
            .files
            .insert("look-it-over.yaml".to_owned(), FLOW.to_owned());
        sources.pictures.insert("sign".to_owned(), SIGN.to_owned());
        let library = Library::load(sources).unwrap();
        let server = PagesServer::over(library).await;
        let mut inputs = 0;
        let ours = found(&server, "ours", &mut inputs).await;
        let theirs = found(&server, "theirs", &mut inputs).await;
        let mut world = World {
            server,
            ours,
            theirs,
            inputs,
        };
        for is_ours in [true, false] {
            world.furnish(is_ours).await;
        }
        world
    }

    pub(super) fn crew(&self, is_ours: bool) -> &Crew {
        if is_ours { &self.ours } else { &self.theirs }
    }

    fn crew_mut(&mut self, is_ours: bool) -> &mut Crew {
        if is_ours {
            &mut self.ours
        } else {
            &mut self.theirs
        }
    }

    async fn furnish(&mut self, is_ours: bool) {
        let job = self.kept_job(is_ours, "handed-in").await;
        let supervisor = self.crew(is_ours).actor("supervisor").clone();
        let desk = self.server.desk.clone();
        let checklist = desk.checklist(&supervisor, job).await.unwrap();
        let checklist = serde_json::to_value(&checklist).unwrap();
        let photo = find(&checklist, "stored").expect("the job has a photo");
        let flow = FlowName::from("look-it-over");
        let trial = desk.rehearse(&supervisor, &flow, Role::Apprentice).await;
        let crew = self.crew_mut(is_ours);
        crew.photo = photo;
        crew.trial = trial.unwrap().id.to_string();
    }

    /// A job that is looked at only: the same one each time.
    pub(super) async fn kept_job(&mut self, is_ours: bool, state: &str) -> JobId {
        if let Some(job) = self.crew(is_ours).jobs.get(state) {
            return *job;
        }
        let job = self.new_job(is_ours, state).await;
        let kept = &mut self.crew_mut(is_ours).jobs;
        kept.insert(state.to_owned(), job);
        job
    }

    /// A fresh job that came this far.
    pub(super) async fn new_job(&mut self, is_ours: bool, state: &str) -> JobId {
        let crew = self.crew(is_ours);
        let [worked, holder, supervisor] =
            ["worked", "holder", "supervisor"].map(|who| crew.actor(who).clone());
        let new = NewJob {
            evaporator: crew.evaporator,
            flow: FlowName::from("look-it-over"),
            training: false,
        };
        let key = next(&mut self.inputs);
        let begun = self.server.desk.begin(key, &worked, new).await.unwrap();
        let job = begun.screen.job;
        let to = Input::HandOver(Some(holder.person));
        self.does(&worked, job, to).await;
        self.does(&holder, job, Input::TakeOver).await;
        match state {
            "begun" => {}
            "offered" => self.does(&holder, job, Input::HandOver(None)).await,
            "stopped" => self.does(&holder, job, Input::Stop).await,
            "photo" => self.presses(&holder, job, 1).await,
            "locked" => {
                self.presses(&holder, job, 2).await;
                self.presses(&holder, job, 0).await;
                self.does(&holder, job, Input::Text("7".to_owned())).await;
            }
            "hold" => self.presses(&holder, job, 3).await,
            "over" | "handed-in" | "accepted" | "sent-back" => {
                self.presses(&holder, job, 1).await;
                let photo = self.server.desk.take_photo(png()).await.unwrap();
                self.does(&holder, job, Input::Photo(photo)).await;
                if state != "over" {
                    self.does(&holder, job, Input::HandIn).await;
                }
                let remark = "Look again".to_owned();
                match state {
                    "accepted" => self.does(&supervisor, job, Input::Accept { remark }).await,
                    "sent-back" => {
                        let steps = Vec::new();
                        let input = Input::SendBack { remark, steps };
                        self.does(&supervisor, job, input).await
                    }
                    _ => {}
                }
            }
            other => panic!("there is no job:{other}"),
        }
        job
    }

    async fn does(&mut self, who: &Actor, job: JobId, input: Input) {
        let key = next(&mut self.inputs);
        let handled = self.server.desk.handle(key, who, job, input.clone()).await;
        assert_eq!(handled.unwrap().outcome, Outcome::Advanced, "{input:?}");
    }

    /// Presses one of the buttons, by its place.
    async fn presses(&mut self, who: &Actor, job: JobId, button: usize) {
        let screen = self.server.desk.screen(who, job).await.unwrap();
        let Ask::Press(buttons) = &screen.prompt.ask else {
            panic!("no button to press: {:?}", screen.prompt.ask);
        };
        let revision = screen.prompt.revision;
        let key = buttons[button].key.clone();
        self.does(who, job, Input::Press { revision, key }).await;
    }

    /// The revision of a job, 0 where it cannot be seen.
    pub(super) async fn revision(&self, is_ours: bool, job: JobId) -> u64 {
        let holder = self.crew(is_ours).actor("holder");
        let screen = self.server.desk.screen(holder, job).await;
        screen.map_or(0, |screen| screen.prompt.revision)
    }

    /// A fresh browser of somebody of our crew; of nobody, if it is nobody.
    pub(super) async fn browser(&self, who: &str) -> Page {
        if who == "nobody" {
            return Page::new(&self.server.base);
        }
        let actor = self.ours.actor(who);
        let code = self.server.desk.sign_in_code(actor).await.unwrap().code;
        Page::joined(&self.server.base, code.reveal(), "").await
    }
}

async fn found(server: &PagesServer, name: &str, inputs: &mut u32) -> Crew {
    let mut people: HashMap<&'static str, Actor> = HashMap::new();
    for (who, roles) in PEOPLE {
        let code = match people.get("supervisor") {
            None => server.desk.invite_new_crew().await.unwrap().code,
            Some(supervisor) => {
                let roles = roles.iter().copied().collect();
                server.desk.invite(supervisor, roles).await.unwrap().code
            }
        };
        let address = ChannelAddress::Terminal {
            account: format!("{name} {who}"),
        };
        let known_as = format!("{who} of {name}");
        let joined = server.desk.join(next(inputs), &code, &known_as, &address);
        people.insert(who, joined.await.unwrap());
    }
    let new = NewEvaporator {
        site: format!("Market of {name}"),
        tag: "EV-3".to_owned(),
        hangs: "meat cooler".to_owned(),
    };
    let by = &people["supervisor"];
    let evaporator = server.desk.add_evaporator(next(inputs), by, new).await;
    let (spare, here) = (
        &people["spare"],
        ChannelAddress::Terminal {
            account: name.to_owned(),
        },
    );
    let set = server
        .desk
        .set_password(next(inputs), spare, &here, PASSWORD);
    set.await.unwrap();
    let password = server.desk.password(spare).await.unwrap().unwrap();
    Crew {
        evaporator: evaporator.unwrap().id,
        people,
        jobs: HashMap::new(),
        photo: String::new(),
        trial: String::new(),
        login: password.login,
    }
}

fn next(inputs: &mut u32) -> InputKey {
    *inputs += 1;
    InputKey(format!("matrix:{inputs}"))
}

/// The first text under this name, however deep.
fn find(value: &serde_json::Value, name: &str) -> Option<String> {
    match value {
        serde_json::Value::Object(map) => map
            .get(name)
            .and_then(|found| found.as_str())
            .map(str::to_owned)
            .or_else(|| map.values().find_map(|inner| find(inner, name))),
        serde_json::Value::Array(all) => all.iter().find_map(|inner| find(inner, name)),
        _ => None,
    }
}

/// A small photo.
pub(super) fn png() -> Vec<u8> {
    let mut bytes = std::io::Cursor::new(Vec::new());
    let picture = image::DynamicImage::new_rgb8(8, 8);
    picture
        .write_to(&mut bytes, image::ImageFormat::Png)
        .unwrap();
    bytes.into_inner()
}
