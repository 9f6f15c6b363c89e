//! What stands around every answer, whatever it is about.

use std::sync::Arc;

use axum::http::Method;
use fanwright::channel::browser::Browser;
use fanwright::desk::Desk;
use fanwright::store::faulty::{Fault, Faulty};
use fanwright::store::{Memory, Store};
use jiff::Timestamp;
use reqwest::StatusCode;
use reqwest::header::HeaderMap;

use crate::support::page::Page;
use crate::support::pages_server::PagesServer;

const LOOK: (&str, &str) = ("look-at-the-fan.yaml", include_str!("../browser/look.yaml"));

/// Where an answer of each kind comes from: pages, files, the API, problems, nothing.
fn paths() -> Vec<String> {
    let pages = Browser::addresses().into_iter();
    let pages = pages.filter(|address| address.method == Method::GET);
    let mut paths: Vec<String> = pages
        .map(|address| address.path.replace(['{', '}'], ""))
        .collect();
    for more in [
        "/no/such/page",
        "/assets/page.js",
        "/assets/none",
        "/api/v1/jobs",
        "/api/v1/none",
        "/openapi.json",
        "/problems/no-token",
        "/problems/none",
    ] {
        paths.push(more.to_owned());
    }
    paths
}

fn is_guarded(path: &str, headers: &HeaderMap) {
    let header = |name: &str| {
        headers
            .get(name)
            .map_or("", |value| value.to_str().unwrap())
    };
    assert_eq!(header("x-content-type-options"), "nosniff", "{path}");
    assert_eq!(header("referrer-policy"), "no-referrer", "{path}");
    let policy = header("content-security-policy");
    for part in ["default-src 'none'", "frame-ancestors 'none'"] {
        assert!(policy.contains(part), "{path}: {policy}");
    }
    assert!(!policy.contains("unsafe-eval"), "{path}: {policy}");
    assert_eq!(
        header("cross-origin-resource-policy"),
        "same-origin",
        "{path}"
    );
    assert!(
        header("strict-transport-security").contains("31536000"),
        "{path}"
    );
    for name in headers.keys() {
        let name = name.as_str();
        assert!(!name.starts_with("access-control-"), "{path}: {name}");
        assert!(
            !["server", "x-powered-by"].contains(&name),
            "{path}: {name}"
        );
    }
    let cached = header("cache-control");
    let is_public = path.starts_with("/assets/") || path.starts_with("/schema/");
    assert!(
        is_public || cached.contains("no-store") || cached.contains("private"),
        "{path}: {cached}"
    );
}

#[tokio::test]
async fn every_answer_of_every_edge_is_guarded() {
    let server = PagesServer::with_flows(&[LOOK]).await;
    let signed_in = server.supervisor("Sam Supervisor").await;
    for page in [&signed_in, &Page::new(&server.base)] {
        for path in paths() {
            let asked = page.client.get(format!("{}{path}", server.base));
            // As a proxy with TLS in front says it.
            let answer = asked.header("X-Forwarded-Proto", "https").send().await;
            is_guarded(&path, answer.unwrap().headers());
        }
    }
}

#[tokio::test]
async fn signing_out_clears_what_the_browser_kept() {
    let server = PagesServer::with_flows(&[LOOK]).await;
    let mut page = server.supervisor("Sam Supervisor").await;
    page.open("/").await;
    let (request, _) = page.request(&[], "Sign out").unwrap();
    let answer = request.send().await.unwrap();
    // W3C, Clear Site Data.
    assert_eq!(
        answer.headers()["clear-site-data"],
        "\"cache\", \"storage\""
    );
}

#[tokio::test]
async fn no_fault_is_told_in_detail() {
    let server = PagesServer::with_flows(&[LOOK]).await;
    let mut page = server.supervisor("Sam Supervisor").await;
    let memory: Arc<dyn Store> = Arc::new(Memory::new());
    let broken: Arc<dyn Store> = Arc::new(Faulty::new(memory, 1, Fault::Dies));
    let desk: Desk = PagesServer::desk_over(broken);
    let broken = PagesServer::at(desk, Arc::new(Timestamp::now)).await;
    page.moves_to(&broken.base);
    for path in ["/", "/people", "/readyz", "/api/v1/jobs"] {
        let asked = page.client.get(format!("{}{path}", broken.base));
        let token = format!("Bearer fanwright_{}", "ab".repeat(32));
        let answer = asked.header("Authorization", token).send().await.unwrap();
        let status = answer.status();
        let text = answer.text().await.unwrap();
        let is_refused = status.is_server_error() || status == StatusCode::UNAUTHORIZED;
        assert!(is_refused, "{path}: {status}: {text}");
        for word in [
            "Faulty",
            "panicked",
            "src/",
            "StoreError",
            "backtrace",
            "rranged",
        ] {
            assert!(!text.contains(word), "{path} tells {word}: {text}");
        }
    }
}
