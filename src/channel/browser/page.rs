//! Templates in, pages out.

use std::sync::LazyLock;

use axum::http::StatusCode;
use axum::response::{Html, IntoResponse, Response};
use jiff::Timestamp;
use serde::Serialize;
use tera::{Context, Kwargs, State, Tera};

use super::{assets, clocks};
use crate::desk::Actor;
use crate::flow::model::Role;

/// Every template; the ending `.html` is what switches escaping on.
const TEMPLATES: &[(&str, &str)] = &[
    ("frame.html", include_str!("../../../templates/frame.html")),
    ("parts.html", include_str!("../../../templates/parts.html")),
    ("home.html", include_str!("../../../templates/home.html")),
    ("list.html", include_str!("../../../templates/list.html")),
    (
        "evaporator.html",
        include_str!("../../../templates/evaporator.html"),
    ),
    ("find.html", include_str!("../../../templates/find.html")),
    ("hurt.html", include_str!("../../../templates/hurt.html")),
    (
        "ask-code.html",
        include_str!("../../../templates/ask-code.html"),
    ),
    (
        "ask-name.html",
        include_str!("../../../templates/ask-name.html"),
    ),
    (
        "new-job.html",
        include_str!("../../../templates/new-job.html"),
    ),
    (
        "review.html",
        include_str!("../../../templates/review.html"),
    ),
    ("job.html", include_str!("../../../templates/job.html")),
    (
        "hand-over.html",
        include_str!("../../../templates/hand-over.html"),
    ),
    (
        "lock-off.html",
        include_str!("../../../templates/lock-off.html"),
    ),
    (
        "sign-in.html",
        include_str!("../../../templates/sign-in.html"),
    ),
    (
        "ways-in.html",
        include_str!("../../../templates/ways-in.html"),
    ),
    ("looks.html", include_str!("../../../templates/looks.html")),
    (
        "labels.html",
        include_str!("../../../templates/labels.html"),
    ),
    (
        "people.html",
        include_str!("../../../templates/people.html"),
    ),
    ("quiet.html", include_str!("../../../templates/quiet.html")),
    ("goods.html", include_str!("../../../templates/goods.html")),
    ("code.html", include_str!("../../../templates/code.html")),
    ("flows.html", include_str!("../../../templates/flows.html")),
    ("flow.html", include_str!("../../../templates/flow.html")),
    ("trial.html", include_str!("../../../templates/trial.html")),
    (
        "see-flow.html",
        include_str!("../../../templates/see-flow.html"),
    ),
    (
        "programs.html",
        include_str!("../../../templates/programs.html"),
    ),
    (
        "secret.html",
        include_str!("../../../templates/secret.html"),
    ),
    (
        "verify.html",
        include_str!("../../../templates/verify.html"),
    ),
    (
        "numbers.html",
        include_str!("../../../templates/numbers.html"),
    ),
    (
        "trouble.html",
        include_str!("../../../templates/trouble.html"),
    ),
];

static LOADED: LazyLock<Result<Tera, String>> = LazyLock::new(|| {
    let mut tera = Tera::new();
    tera.register_filter("by_the_clock", by_the_clock);
    tera.add_raw_templates(TEMPLATES.iter().copied())
        .map_err(|error| error.to_string())?;
    Ok(tera)
});

/// A time of a record by the clocks of the page; what is no time stays as it is.
fn by_the_clock(at: String, _: Kwargs, _: &State) -> String {
    let time = at.parse::<Timestamp>();
    time.map_or(at, clocks::to_the_second)
}

/// A time as pages show it: by the clocks of the crew, with their zone.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub(super) struct Moment {
    /// For machines.
    iso: String,
    /// For people.
    text: String,
}

impl Moment {
    pub(super) fn of(at: Timestamp) -> Moment {
        Moment {
            iso: at.strftime("%Y-%m-%dT%H:%M:%SZ").to_string(),
            text: clocks::to_the_minute(at),
        }
    }
}

/// What stands around the content of every page.
#[derive(Clone, Debug, Default, Serialize)]
pub(super) struct Frame {
    /// The title of the page.
    title: String,
    /// Who is signed in, by name.
    who: Option<String>,
    /// Whether that person is a supervisor.
    supervises: bool,
    /// Tells this version's script and style from an older one's.
    version: &'static str,
    /// Without scripts the page is shown again after so many seconds.
    again_after: Option<i64>,
    /// Where news of the page come from.
    news: Option<String>,
    /// A token for the sign-out button.
    token: Option<String>,
    /// Whether the page brings its own bar at the bottom.
    own_bar: bool,
    /// Whether the page is wide and brings the script and style of the bench for flows.
    bench: bool,
}

impl Frame {
    /// The frame of a page that needs nobody signed in.
    pub(super) fn of_nobody(title: &str) -> Frame {
        Frame {
            title: title.to_owned(),
            version: assets::version(),
            ..Frame::default()
        }
    }

    /// The frame of a signed-in person's page.
    pub(super) fn of(title: &str, actor: &Actor) -> Frame {
        Frame {
            who: Some(actor.name.clone()),
            supervises: actor.is(Role::Supervisor),
            ..Frame::of_nobody(title)
        }
    }

    pub(super) fn with_news(mut self, address: String) -> Frame {
        self.news = Some(address);
        self
    }

    pub(super) fn with_token(mut self, token: &str) -> Frame {
        self.token = Some(token.to_owned());
        self
    }

    pub(super) fn again_after(mut self, seconds: Option<i64>) -> Frame {
        self.again_after = seconds;
        self
    }

    pub(super) fn with_bench(mut self) -> Frame {
        self.bench = true;
        self
    }

    pub(super) fn with_own_bar(mut self) -> Frame {
        self.own_bar = true;
        self
    }
}

/// A page of this template: `frame` and `page` are what it can read.
pub(super) fn render(template: &str, frame: &Frame, page: &impl Serialize) -> Response {
    let mut context = Context::new();
    context.insert("frame", frame);
    context.insert("page", page);
    let rendered = LOADED.as_ref().map_err(String::clone).and_then(|tera| {
        tera.render(template, &context)
            .map_err(|error| error.to_string())
    });
    match rendered {
        Ok(html) => Html(html).into_response(),
        Err(error) => {
            tracing::error!(template, error, "a page could not be rendered");
            let told = "The server has a fault and could not show this page. Nothing was lost. \
                        Tell its operator.";
            (StatusCode::INTERNAL_SERVER_ERROR, told).into_response()
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_template_loads() {
        assert_eq!(LOADED.as_ref().err(), None);
    }

    #[test]
    fn what_people_typed_is_never_markup() {
        let frame = Frame::of_nobody("<b>title</b>");
        let page = serde_json::json!({ "sentence": "<script>alert(1)</script>" });
        let mut context = Context::new();
        context.insert("frame", &frame);
        context.insert("page", &page);
        let tera = LOADED.as_ref().unwrap();
        let html = tera.render("trouble.html", &context).unwrap();
        assert!(!html.contains("<script>alert"), "{html}");
        assert!(html.contains("&lt;script&gt;"), "{html}");
        assert!(html.contains("&lt;b&gt;title"), "{html}");
    }
}
