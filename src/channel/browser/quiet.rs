//! Quiet hours: when a person is not reminded of anything, and by which clock.

use axum::extract::State;
use axum::response::{IntoResponse, Redirect, Response};
use serde::Serialize;

use super::Browser;
use super::form::{Posted, new_token};
use super::page::{Frame, render};
use super::session::SignedIn;
use super::trouble::Trouble;
use crate::desk::hours::quiet::QuietHours;
use crate::desk::hours::typed::{Wish, Zone};
use crate::flow::model::Role;

#[derive(Serialize)]
struct Page {
    token: String,
    /// How it stands, in one sentence.
    sentence: String,
    from: String,
    to: String,
    none: bool,
    /// The person's own zone.
    own: String,
    /// The zone of the crew.
    crews: String,
    /// The zone that counts where nobody chose one.
    counts: String,
    supervises: bool,
}

/// How it stands, and the forms to change it.
pub(super) async fn show(
    State(browser): State<Browser>,
    SignedIn { actor, session }: SignedIn,
) -> Result<Response, Trouble> {
    let hours = browser.desk().hours(&actor).await?;
    let shown = hours.quiet.unwrap_or(QuietHours::USUAL);
    let name = |zone: &Option<Zone>| {
        zone.as_ref()
            .map_or(String::new(), |it| it.name().to_owned())
    };
    let page = Page {
        token: new_token(&browser, &session)?,
        sentence: hours.sentence(browser.now()),
        from: shown.from(),
        to: shown.to(),
        none: hours.quiet.is_none(),
        own: name(&hours.own),
        crews: name(&hours.crews),
        counts: hours.zone_name().to_owned(),
        supervises: actor.is(Role::Supervisor),
    };
    let frame = Frame::of("Quiet hours", &actor).with_token(&page.token);
    Ok(render("quiet.html", &frame, &page))
}

/// Grants what the person wishes for themselves.
pub(super) async fn set(form: Posted) -> Result<Response, Trouble> {
    let times = (form.fields.text("from"), form.fields.text("to"));
    let none = form.fields.get("none").is_some();
    let wish = Wish::filled_in(times, none, form.fields.text("zone"))?;
    form.browser.desk().set_hours(&form.actor, wish).await?;
    Ok(Redirect::to("/quiet-hours").into_response())
}

/// Gives the crew a time zone.
pub(super) async fn set_crew(form: Posted) -> Result<Response, Trouble> {
    let zone = Zone::typed(form.fields.text("zone"))?;
    form.browser
        .desk()
        .set_crew_zone(form.key, &form.actor, zone)
        .await?;
    Ok(Redirect::to("/quiet-hours").into_response())
}
