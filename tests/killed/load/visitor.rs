//! Somebody who works on the page as fast as it comes.

use fanwright::desk::ChannelAddress;
use fanwright::desk::id::JobId;
use fanwright::store::InputKey;
use reqwest::header::{COOKIE, LOCATION};
use reqwest::{Client, StatusCode};
use tokio::sync::watch;

use super::account::Shared;
use super::dice::Dice;
use super::site::Comer;
use crate::support::html::{Form, Html};

/// Where the program is, if it runs.
pub(super) type Base = watch::Receiver<String>;

pub(super) struct Visitor {
    client: Client,
    cookie: String,
    path: String,
    tag: String,
    account: Shared,
    dice: Dice,
    base: Base,
    words: usize,
}

/// A form that is sent.
#[derive(Clone)]
struct Filled {
    action: String,
    fields: Vec<(String, String)>,
}

impl Filled {
    fn of(form: &Form, filled: &[(&str, &str)]) -> Filled {
        let mut fields = form.sent();
        fields.retain(|(name, _)| filled.iter().all(|(other, _)| other != name));
        let filled = filled.iter();
        fields.extend(filled.map(|(name, value)| ((*name).to_owned(), (*value).to_owned())));
        Filled {
            action: form.action.clone(),
            fields,
        }
    }

    fn get(&self, name: &str) -> Option<&str> {
        let mut fields = self.fields.iter();
        let found = fields.find(|(field, _)| field == name);
        found.map(|(_, value)| value.as_str())
    }
}

impl Visitor {
    pub(super) fn new(comer: &Comer, account: &Shared, (dice, base): (Dice, Base)) -> Visitor {
        let ChannelAddress::Browser { session } = &comer.address else {
            panic!("{} is not on the page", comer.name)
        };
        Visitor {
            client: Client::builder()
                .redirect(reqwest::redirect::Policy::none())
                .build()
                .unwrap(),
            cookie: format!("fanwright={}", session.reveal()),
            path: format!("/job/{}", comer.job),
            tag: comer.tag.clone(),
            account: account.clone(),
            dice,
            base,
            words: 0,
        }
    }

    /// Works until the task is ended.
    pub(super) async fn works(mut self) {
        loop {
            self.base.mark_unchanged();
            let Some(page) = self.opens().await else {
                self.waits().await;
                continue;
            };
            let Some(filled) = self.fills(&page) else {
                self.path = format!("/new-job?find={}", self.tag);
                continue;
            };
            if !self.sends(&filled).await {
                self.waits().await;
                // A browser sends the very same form again, or somebody opens the page anew.
                if self.dice.one_in(2) {
                    self.sends(&filled).await;
                }
            }
        }
    }

    /// Waits until the program was started again.
    async fn waits(&mut self) {
        self.base.changed().await.unwrap();
    }

    fn address(&self, path: &str) -> String {
        format!("{}{path}", *self.base.borrow())
    }

    async fn opens(&mut self) -> Option<Html> {
        let get = self.client.get(self.address(&self.path));
        let answer = get.header(COOKIE, &self.cookie).send().await.ok()?;
        if answer.status() != StatusCode::OK {
            return None;
        }
        let page = Html::read(&answer.text().await.ok()?);
        if let Some((job, revision)) = self.screen_of(&page) {
            self.account.lock().sees(job, revision);
            self.account.counts();
        }
        Some(page)
    }

    fn screen_of(&self, page: &Html) -> Option<(JobId, u64)> {
        let job = self.path.strip_prefix("/job/")?.parse().ok()?;
        let mut fields = page.forms.iter().flat_map(|form| &form.fields);
        let revision = fields.find(|field| field.name == "revision")?;
        Some((job, revision.value.parse().ok()?))
    }

    /// The form that goes on from a page.
    fn fills(&mut self, page: &Html) -> Option<Filled> {
        let with = |label: &str| {
            let mut forms = page.forms.iter();
            let has = |form: &&Form| form.buttons.iter().any(|button| button.label == label);
            let form = forms.find(has)?;
            let button = form.buttons.iter().find(|button| button.label == label)?;
            Some((form, button.name.as_str(), button.value.as_str()))
        };
        if let Some((form, name, value)) = with("Begin the job") {
            let mut fields = form.fields.iter();
            let evaporator = fields.find(|field| field.name == "evaporator")?;
            self.account.lock().begins += 1;
            let evaporator = ("evaporator", evaporator.value.as_str());
            return Some(Filled::of(form, &[evaporator, (name, value)]));
        }
        if let Some((form, name, value)) = with("Hand the job in") {
            self.account.lock().answers += 1;
            return Some(Filled::of(form, &[(name, value)]));
        }
        if page.text.contains("What do you see") {
            let (form, name, value) = with("Send")?;
            self.words += 1;
            let text = format!("{} saw {}", self.tag, self.words);
            let mut account = self.account.lock();
            account.typed.insert(text.clone());
            account.answers += 1;
            return Some(Filled::of(form, &[("text", &text), (name, value)]));
        }
        let label = if self.dice.one_in(2) {
            "It turns"
        } else {
            "It stands"
        };
        let (form, name, value) = with(label)?;
        self.account.lock().answers += 1;
        Some(Filled::of(form, &[(name, value)]))
    }

    /// Whether the server answered.
    async fn sends(&mut self, filled: &Filled) -> bool {
        let post = self.client.post(self.address(&filled.action));
        let sent = post.header(COOKIE, &self.cookie).form(&filled.fields);
        let Ok(answer) = sent.send().await else {
            return false;
        };
        if answer.status() != StatusCode::SEE_OTHER {
            // The same form again after another was sent from the same page, or a limit.
            return answer.status() == StatusCode::UNPROCESSABLE_ENTITY;
        }
        let to = answer.headers()[LOCATION].to_str().unwrap();
        to.clone_into(&mut self.path);
        let nonce = &filled.get("token").unwrap()[..32];
        let mut account = self.account.lock();
        if let Some(Ok(job)) = to.strip_prefix("/job/").map(str::parse) {
            account.sees(job, 0);
        }
        account
            .acknowledged
            .insert(InputKey(format!("page:{nonce}")));
        if let Some(text) = filled.get("text") {
            account.seen_kept.insert(text.to_owned());
        }
        drop(account);
        self.account.counts();
        true
    }
}
