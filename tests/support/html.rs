//! Reads the pages of this program: forms, links and the text that a person sees. It knows no
//! more of HTML than those pages use.

/// One page.
#[derive(Clone, Debug, Default)]
pub(crate) struct Html {
    /// The forms, in order.
    pub(crate) forms: Vec<Form>,
    /// The links, in order: where to, and what they say.
    pub(crate) links: Vec<(String, String)>,
    /// The text that a person sees, one line for each element.
    pub(crate) text: String,
}

/// One form.
#[derive(Clone, Debug, Default)]
pub(crate) struct Form {
    pub(crate) action: String,
    pub(crate) fields: Vec<Field>,
    pub(crate) buttons: Vec<Button>,
}

/// A field with what it holds when the page is opened.
#[derive(Clone, Debug)]
pub(crate) struct Field {
    pub(crate) name: String,
    pub(crate) value: String,
    pub(crate) label: String,
    pub(crate) is_on: bool,
}

/// A button that sends the form.
#[derive(Clone, Debug)]
pub(crate) struct Button {
    pub(crate) name: String,
    pub(crate) value: String,
    pub(crate) label: String,
}

impl Form {
    /// What is sent when nothing is changed, buttons left aside.
    pub(crate) fn sent(&self) -> Vec<(String, String)> {
        let sent = self.fields.iter().filter(|field| field.is_on);
        sent.map(|field| (field.name.clone(), field.value.clone()))
            .collect()
    }

    pub(crate) fn has(&self, name: &str) -> bool {
        self.fields.iter().any(|field| field.name == name)
    }
}

/// What is open while a page is read.
#[derive(Default)]
struct Reading {
    page: Html,
    form: Option<Form>,
    button: Option<Button>,
    link: Option<(String, String)>,
    textarea: Option<Field>,
    /// The place in the form of a field whose label is being read.
    labelled: Option<usize>,
    hidden: usize,
}

impl Html {
    pub(crate) fn read(html: &str) -> Html {
        let mut reading = Reading::default();
        let mut rest = html;
        while let Some(at) = rest.find('<') {
            reading.text(&rest[..at]);
            let Some(end) = rest[at..].find('>') else {
                break;
            };
            reading.tag(&rest[at + 1..at + end]);
            rest = &rest[at + end + 1..];
        }
        reading.page
    }
}

impl Reading {
    fn text(&mut self, text: &str) {
        let text = unescaped(text);
        if let Some(textarea) = &mut self.textarea {
            textarea.value.push_str(&text);
        }
        let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
        if text.is_empty() || self.hidden > 0 {
            return;
        }
        let add = |label: &mut String| {
            if !label.is_empty() {
                label.push(' ');
            }
            label.push_str(&text);
        };
        if let Some(button) = &mut self.button {
            add(&mut button.label);
        }
        if let Some((_, label)) = &mut self.link {
            add(label);
        }
        if let (Some(form), Some(at)) = (&mut self.form, self.labelled) {
            add(&mut form.fields[at].label);
        }
        self.page.text.push_str(&text);
        self.page.text.push('\n');
    }

    fn tag(&mut self, tag: &str) {
        let (name, rest) = tag.split_once(char::is_whitespace).unwrap_or((tag, ""));
        let get = |wanted: &str| attribute(rest, wanted).unwrap_or_default();
        match name {
            "head" | "script" | "style" | "noscript" => self.hidden += 1,
            "/head" | "/script" | "/style" | "/noscript" => self.hidden -= 1,
            "form" => {
                self.form = Some(Form {
                    action: get("action"),
                    ..Form::default()
                });
            }
            "/form" => self.page.forms.extend(self.form.take()),
            "button" => {
                self.button = Some(Button {
                    name: get("name"),
                    value: get("value"),
                    label: String::new(),
                });
            }
            "/button" => {
                if let (Some(form), Some(button)) = (&mut self.form, self.button.take()) {
                    form.buttons.push(button);
                }
            }
            "a" => self.link = Some((get("href"), String::new())),
            "/a" => self.page.links.extend(self.link.take()),
            "/label" => self.labelled = None,
            "textarea" => self.textarea = Some(field("textarea", rest)),
            "/textarea" => {
                if let (Some(form), Some(textarea)) = (&mut self.form, self.textarea.take()) {
                    form.fields.push(textarea);
                }
            }
            "input" => {
                if let Some(form) = &mut self.form {
                    form.fields.push(field(&get("type"), rest));
                    self.labelled = Some(form.fields.len() - 1)
                        .filter(|_| matches!(&*get("type"), "radio" | "checkbox"));
                }
            }
            _ => {}
        }
    }
}

fn field(kind: &str, attributes: &str) -> Field {
    let get = |wanted: &str| attribute(attributes, wanted).unwrap_or_default();
    let words: Vec<&str> = attributes.split_whitespace().collect();
    Field {
        name: get("name"),
        value: get("value"),
        label: String::new(),
        is_on: !matches!(kind, "radio" | "checkbox" | "file") || words.contains(&"checked"),
    }
}

fn attribute(attributes: &str, wanted: &str) -> Option<String> {
    let spaced = format!(" {attributes}");
    let start = spaced.find(&format!(" {wanted}=\""))? + wanted.len() + 3;
    let length = spaced[start..].find('"')?;
    Some(unescaped(&spaced[start..start + length]))
}

fn unescaped(text: &str) -> String {
    text.replace("&lt;", "<")
        .replace("&gt;", ">")
        .replace("&quot;", "\"")
        .replace("&#x27;", "'")
        .replace("&#39;", "'")
        .replace("&#x2F;", "/")
        .replace("&amp;", "&")
}

#[test]
fn a_form_and_its_text_are_read_back() {
    let html = Html::read(
        "<head><title>no</title></head><p>Look &amp; see</p><form action=\"/a\">\
         <input type=\"hidden\" name=\"token\" value=\"t\"><label><input type=\"checkbox\" \
         name=\"tick\" value=\"a\" checked> <span>One</span></label><textarea name=\"text\">\
         typed</textarea><button name=\"do\" value=\"x\">Go on</button></form>",
    );
    let form = &html.forms[0];
    assert_eq!(form.fields[1].label, "One");
    let sent: Vec<String> = form
        .sent()
        .into_iter()
        .map(|(name, value)| format!("{name}={value}"))
        .collect();
    assert_eq!(sent, ["token=t", "tick=a", "text=typed"]);
    assert_eq!(form.buttons[0].label, "Go on");
    assert_eq!(html.text, "Look & see\nOne\ntyped\nGo on\n");
}
