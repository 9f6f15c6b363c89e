//! Somebody who uses the pages without scripts: reads, presses, types, ticks, sends photos.

use std::io::Cursor;

use image::{ImageFormat, Rgb, RgbImage};
use reqwest::header::LOCATION;
use reqwest::{Client, RequestBuilder, StatusCode};

use super::html::{Form, Html};

/// A browser with one open page.
pub(crate) struct Page {
    pub(crate) client: Client,
    base: String,
    /// The path of the open page.
    pub(crate) path: String,
    /// The status that it came with.
    pub(crate) status: StatusCode,
    /// The text that a person sees.
    pub(crate) text: String,
    /// The page as it came.
    pub(crate) source: String,
    html: Html,
    photos: u8,
}

impl Page {
    /// A fresh browser on the server at `base`, with no page open.
    pub(crate) fn new(base: &str) -> Page {
        let client = Client::builder()
            .cookie_store(true)
            .redirect(reqwest::redirect::Policy::none())
            .build()
            .unwrap();
        Page {
            client,
            base: base.to_owned(),
            path: String::new(),
            status: StatusCode::OK,
            text: String::new(),
            source: String::new(),
            html: Html::default(),
            photos: 0,
        }
    }

    /// Joins with a code under a name.
    pub(crate) async fn joined(base: &str, code: &str, name: &str) -> Page {
        let mut page = Page::new(base);
        page.open(&format!("/join/{code}")).await;
        page.fill_and_press(&[("name", name)], "Come in").await;
        assert_eq!(page.path, "/", "{}", page.text);
        page
    }

    /// The form token of the open page.
    pub(crate) fn token(&self) -> String {
        let form = self.form(|form| form.has("token"));
        let token = form.fields.iter().find(|field| field.name == "token");
        token.unwrap().value.clone()
    }

    /// The server is at another address from here on; it is the same for the cookies.
    pub(crate) fn moves_to(&mut self, base: &str) {
        self.base = base.to_owned();
    }

    /// Opens an address.
    pub(crate) async fn open(&mut self, path: &str) {
        let request = self.client.get(format!("{}{path}", self.base));
        self.go(request, path).await;
    }

    /// Shows the open page again.
    pub(crate) async fn again(&mut self) {
        let path = self.path.clone();
        self.open(&path).await;
    }

    /// Whether the page shows this text.
    pub(crate) fn shows(&self, text: &str) -> bool {
        self.text.contains(text)
    }

    /// The labels of all buttons, in order.
    pub(crate) fn buttons(&self) -> Vec<String> {
        let buttons = self.html.forms.iter().flat_map(|form| &form.buttons);
        buttons.map(|button| button.label.clone()).collect()
    }

    /// Presses the button, or follows the link, that says this.
    pub(crate) async fn press(&mut self, label: &str) {
        self.fill_and_press(&[], label).await;
    }

    /// Follows the first link whose text begins like this: a job of a list.
    pub(crate) async fn press_card(&mut self, begins: &str) {
        let mut links = self.html.links.iter();
        // News that begin so are sentences.
        let found = links.find(|(_, text)| text.starts_with(begins) && !text.ends_with('.'));
        let (path, _) = found.unwrap_or_else(|| panic!("no {begins}:\n{}", self.text));
        let path = path.clone();
        self.open(&path).await;
    }

    /// Types into the field of the question and sends it.
    pub(crate) async fn say(&mut self, text: &str) {
        assert!(
            self.html.forms.iter().any(|form| form.has("text")),
            "nothing can be typed on this page:\n{}",
            self.text
        );
        self.fill_and_press(&[("text", text)], "Send").await;
    }

    /// Ticks exactly these and presses the closing button.
    pub(crate) async fn tick(&mut self, labels: &[&str]) {
        let form = self.form(|form| form.has("tick")).clone();
        let keys: Vec<String> = labels
            .iter()
            .map(|label| {
                let mut fields = form.fields.iter();
                let field = fields.find(|field| field.name == "tick" && field.label == *label);
                field
                    .unwrap_or_else(|| panic!("no tick {label}"))
                    .value
                    .clone()
            })
            .collect();
        let mut pairs: Vec<(&str, &str)> = Vec::new();
        pairs.extend(keys.iter().map(|key| ("tick", key.as_str())));
        let label = form.buttons[0].label.clone();
        self.fill_and_press(&pairs, &label).await;
    }

    /// Sends a photo, another one each time.
    pub(crate) async fn photo(&mut self) {
        self.photos += 1;
        let picture = RgbImage::from_pixel(64, 48, Rgb([self.photos, 90, 120]));
        let mut bytes = Vec::new();
        picture
            .write_to(&mut Cursor::new(&mut bytes), ImageFormat::Png)
            .unwrap();
        self.send_photo(bytes).await;
    }

    /// Sends these bytes as the photo.
    pub(crate) async fn send_photo(&mut self, bytes: Vec<u8>) {
        let form = self.form(|form| form.has("photo")).clone();
        let mut parts = reqwest::multipart::Form::new();
        for (name, value) in form.sent() {
            parts = parts.text(name, value);
        }
        let part = reqwest::multipart::Part::bytes(bytes).file_name("photo.png");
        let request = self
            .client
            .post(format!("{}{}", self.base, form.action))
            .multipart(parts.part("photo", part));
        self.go(request, &form.action).await;
    }

    /// Fills fields by name and presses a button of the same form, or follows a link.
    pub(crate) async fn fill_and_press(&mut self, fields: &[(&str, &str)], label: &str) {
        let request = self.request(fields, label);
        let (request, path) = request.unwrap_or_else(|| {
            panic!(
                "there is no button “{label}” at {}:\n{}",
                self.path, self.text
            )
        });
        self.go(request, &path).await;
    }

    /// The request that pressing a button makes; nothing if there is no such button or link.
    pub(crate) fn request(
        &self,
        fields: &[(&str, &str)],
        label: &str,
    ) -> Option<(RequestBuilder, String)> {
        for form in &self.html.forms {
            let pressed = form.buttons.iter().find(|button| button.label == label);
            let Some(button) = pressed else { continue };
            if !fields.iter().all(|(name, _)| form.has(name)) {
                continue;
            }
            let mut sent = form.sent();
            sent.retain(|(name, _)| !fields.iter().any(|(other, _)| other == name));
            let typed = fields.iter().map(|(name, value)| (*name, *value));
            sent.extend(typed.map(|(name, value)| (name.to_owned(), value.to_owned())));
            if !button.name.is_empty() {
                sent.push((button.name.clone(), button.value.clone()));
            }
            let request = self.client.post(format!("{}{}", self.base, form.action));
            return Some((request.form(&sent), form.action.clone()));
        }
        let mut links = self.html.links.iter();
        let (address, _) = links.find(|(_, text)| text == label)?;
        let request = self.client.get(format!("{}{address}", self.base));
        Some((request, address.clone()))
    }

    fn form(&self, wanted: impl Fn(&Form) -> bool) -> &Form {
        let form = self.html.forms.iter().find(|form| wanted(form));
        form.unwrap_or_else(|| panic!("no such form at {}:\n{}", self.path, self.text))
    }

    /// Sends a request and follows where it leads.
    pub(crate) async fn go(&mut self, request: RequestBuilder, path: &str) {
        let mut path = path.to_owned();
        let mut response = request.send().await.unwrap();
        for _ in 0..5 {
            let Some(to) = response.headers().get(LOCATION) else {
                break;
            };
            path = to.to_str().unwrap().to_owned();
            let address = format!("{}{path}", self.base);
            response = self.client.get(address).send().await.unwrap();
        }
        self.path = path;
        self.status = response.status();
        self.source = response.text().await.unwrap();
        self.html = Html::read(&self.source);
        self.text = self.html.text.clone();
    }
}
