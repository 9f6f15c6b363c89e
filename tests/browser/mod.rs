//! The browser page over HTTP, as people use it without scripts, and once in a real browser.

mod chart;
mod clocks;
mod demo;
mod driver;
mod evaporator;
mod find;
mod flows;
mod forms;
mod goods;
mod guard;
mod home;
mod lock_off;
mod matrix;
mod numbers;
mod quiet;
mod real;
mod review;
mod round;
mod screens;
mod sign_in;
mod usable;
mod walk;

use crate::support::page::Page;
use crate::support::pages_server::PagesServer;

const LOOK: (&str, &str) = ("look-at-the-fan.yaml", include_str!("look.yaml"));

async fn server() -> PagesServer {
    PagesServer::with_flows(&[LOOK]).await
}

/// Adds an evaporator and begins a job on it.
async fn begin_job(page: &mut Page) {
    page.open("/new-job").await;
    let fields = [
        ("site", "Corner Market"),
        ("tag", "EV-3"),
        ("hangs", "meat cooler, left"),
    ];
    page.fill_and_press(&fields, "Add this evaporator").await;
    page.press("Begin the job").await;
    assert!(page.path.starts_with("/job/"), "{}", page.text);
}
