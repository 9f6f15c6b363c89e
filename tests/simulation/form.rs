//! How somebody fills in a form of a page.

use fanwright::store::InputKey;
use fanwright::walk::input::Input;
use reqwest::Url;

use crate::support::html::{Button, Form, Html};
use crate::walk::Dice;

/// What is done whatever became of the job since the page was made.
const ON_ANY_SCREEN: [&str; 9] = [
    "stop",
    "hurt",
    "call-supervisor",
    "pause",
    "am-well",
    "am-out",
    "found-well",
    "own-lock-on",
    "own-lock-off",
];

/// A form as it is sent.
#[derive(Clone, Debug)]
pub(super) struct Filled {
    pub(super) action: String,
    fields: Vec<(String, String)>,
}

impl Filled {
    fn of(form: &Form, button: &Button, typed: &[(&str, &str)]) -> Filled {
        let mut fields = form.sent();
        fields.retain(|(name, _)| !typed.iter().any(|(other, _)| other == name));
        let pressed = (button.name.as_str(), button.value.as_str());
        let added = typed.iter().chain([&pressed]);
        fields.extend(added.map(|(name, value)| ((*name).to_owned(), (*value).to_owned())));
        Filled {
            action: form.action.clone(),
            fields,
        }
    }

    fn get(&self, name: &str) -> &str {
        let found = self.fields.iter().find(|(other, _)| other == name);
        found.map_or("", |(_, value)| value)
    }

    /// The key of the input that it is: one for each page, and besides for each thing that counts
    /// on any screen.
    pub(super) fn key(&self) -> InputKey {
        let page = format!("page:{}", &self.get("token")[..32]);
        InputKey(match self.counts_on_any_screen() {
            true => format!("{page}:{}", self.get("do")),
            false => page,
        })
    }

    /// Whether it is meant for the job, whatever it shows.
    pub(super) fn counts_on_any_screen(&self) -> bool {
        ON_ANY_SCREEN.contains(&self.get("do"))
    }

    /// The body of the request.
    pub(super) fn encoded(&self) -> String {
        let url = Url::parse_with_params("http://page.invalid/", &self.fields).unwrap();
        url.query().unwrap_or_default().to_owned()
    }
}

/// The form that begins a job.
pub(super) fn begun(page: &Html, dice: &mut Dice) -> Option<Filled> {
    let begins = |button: &&Button| button.value == "begin";
    let form = page
        .forms
        .iter()
        .find(|form| form.buttons.iter().any(|b| begins(&b)))?;
    let button = form.buttons.iter().find(begins)?;
    let mut any = |name: &str| {
        let fields = form.fields.iter().filter(|field| field.name == name);
        let values: Vec<&str> = fields.map(|field| field.value.as_str()).collect();
        values.get(dice.roll(values.len())).copied()
    };
    let typed = [("evaporator", any("evaporator")?), ("flow", any("flow")?)];
    Some(Filled::of(form, button, &typed))
}

/// What somebody sends from a page who means this; something else if the page has no way to.
pub(super) fn filled(page: &Html, input: &Input, dice: &mut Dice) -> Option<Filled> {
    let of_job = page
        .forms
        .iter()
        .filter(|form| form.action.starts_with("/job/"));
    let ways: Vec<(&Form, &Button)> = of_job
        .filter(|form| !form.has("photo"))
        .flat_map(|form| form.buttons.iter().map(move |button| (form, button)))
        .collect();
    let with = |name: &str, value: &str| {
        let mut ways = ways.iter();
        ways.find(|(_, button)| button.name == name && button.value == value)
    };
    let meant = match input {
        Input::Press { key, .. } => with("press", key.as_str()),
        Input::Text(_) => with("do", "text"),
        Input::Tick { .. } => with("do", "tick"),
        Input::Accept { .. } => with("do", "accept"),
        Input::SendBack { .. } => with("do", "send-back"),
        Input::Resume => with("do", "resume"),
        Input::LiftStop => with("do", "lift-stop"),
        _ => None,
    };
    let (form, button) = match meant {
        Some(way) => way,
        None => ways.get(dice.roll(ways.len()))?,
    };
    let mut typed = Vec::new();
    if form.has("text") {
        let text = match input {
            Input::Text(text) => text.as_str(),
            _ => "208 V",
        };
        typed.push(("text", text));
    }
    if let Input::Tick { keys, .. } = input {
        typed.extend(keys.iter().map(|key| ("tick", key.as_str())));
    }
    if form.has("remark") {
        typed.push(("remark", "Look at it again."));
    }
    Some(Filled::of(form, button, &typed))
}
