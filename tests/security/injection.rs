//! Names, headers and addresses that mean something to whoever reads them next.

use axum::http::Method;
use fanwright::channel::browser::Browser;
use reqwest::StatusCode;
use reqwest::header::LOCATION;

use crate::support::page::Page;
use crate::support::pages_server::PagesServer;

const LOOK: (&str, &str) = ("look-at-the-fan.yaml", include_str!("../browser/look.yaml"));

async fn server() -> PagesServer {
    PagesServer::with_flows(&[LOOK]).await
}

/// Adds an evaporator at this site and begins a job on it.
async fn begin_job(page: &mut Page, site: &str) {
    page.open("/new-job").await;
    let fields = [("site", site), ("tag", "EV-3"), ("hangs", "left")];
    page.fill_and_press(&fields, "Add this evaporator").await;
    page.press("Begin the job").await;
    assert!(page.path.starts_with("/job/"), "{}", page.text);
}

/// Every page to look at, its braces filled with this job and, everywhere else, with this word.
fn addresses(job: &str, word: &str) -> Vec<String> {
    let looks = Browser::addresses().into_iter();
    let looks = looks.filter(|address| address.method == Method::GET);
    let filled = looks.map(|address| {
        let path = address.path.replace("/job/{job}", job);
        let mut pieces = path.split('/').map(|piece| match piece.split_once('{') {
            Some((before, rest)) => {
                let after = rest.split_once('}').map_or("", |(_, after)| after);
                format!("{before}{word}{after}")
            }
            None => piece.to_owned(),
        });
        let first = pieces.next().unwrap_or_default();
        pieces.fold(first, |path, piece| path + "/" + &piece)
    });
    filled.filter(|path| !path.ends_with("/news")).collect()
}

/// Ways to write "up from here" and "the name ends here": the list of the page "Path Traversal" of
/// OWASP.
const OUT: [&str; 9] = [
    "..%2f..%2f..%2f..%2fetc%2fpasswd",
    "%2e%2e%2f%2e%2e%2f%2e%2e%2fetc%2fpasswd",
    "..%5c..%5c..%5cetc%5cpasswd",
    "..%252f..%252fetc%252fpasswd",
    "..%c0%af..%c0%afetc%c0%afpasswd",
    "%2fetc%2fpasswd",
    "....%2f%2f....%2f%2fetc%2fpasswd",
    "sign%00.svg",
    "%ff%fe",
];

#[tokio::test]
async fn no_name_in_an_address_leads_out_of_what_the_server_has() {
    let server = server().await;
    let mut page = server.supervisor("Sam Supervisor").await;
    begin_job(&mut page, "Corner Market").await;
    let job = page.path.clone();
    let plain = addresses(&job, "");
    let mut wrong = Vec::new();
    for word in OUT {
        let paths = addresses(&job, word).into_iter().zip(&plain);
        for (path, _) in paths.filter(|(path, plain)| path != *plain) {
            page.open(&path).await;
            let is_found = page.status == StatusCode::OK && !path.starts_with("/join/");
            if is_found || page.status.is_server_error() || page.source.contains("root:") {
                wrong.push(format!("{path}: {}", page.status));
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[tokio::test]
async fn a_flow_file_keeps_to_its_folder_whatever_it_is_called() {
    let server = server().await;
    let mut page = server.supervisor("Sam Supervisor").await;
    for name in [
        "../evil.yaml",
        "/etc/evil.yaml",
        "a/b.yaml",
        "..yaml",
        "a\\b.yaml",
        ".yaml",
    ] {
        page.open("/flows").await;
        let token = page.token();
        let file = reqwest::multipart::Part::bytes(LOOK.1.as_bytes().to_vec());
        let form = reqwest::multipart::Form::new()
            .text("token", token)
            .part("file", file.file_name(name));
        let request = page.client.post(format!("{}/flows/upload", server.base));
        page.go(request.multipart(form), "/flows/upload").await;
        assert_eq!(
            page.status,
            StatusCode::UNPROCESSABLE_ENTITY,
            "{name}: {}",
            page.text
        );
        page.open("/flows").await;
        assert!(!page.shows("evil"), "{name}");
    }
}

/// A name with a meaning in pages, in templates, in chats and in shells.
const NAME: &str = "<i onclick=x>{{7*7}}{% if %}$(id)&amp;\"'`${7*7}";

#[tokio::test]
async fn a_name_with_markup_is_shown_as_it_was_typed() {
    let server = server().await;
    let mut page = server.supervisor(NAME).await;
    begin_job(&mut page, NAME).await;
    let job = page.path.clone();
    let mut shown = 0;
    for path in addresses(&job, "none") {
        if [".json", ".csv", ".pdf", ".svg"]
            .iter()
            .any(|end| path.ends_with(end))
        {
            // Not read as pages: each says its type, and `nosniff`.
            continue;
        }
        page.open(&path).await;
        assert!(!page.status.is_server_error(), "{path}: {}", page.status);
        assert!(
            !page.source.contains("<i onclick"),
            "{path} has markup of a person"
        );
        shown += usize::from(page.text.contains("{{7*7}}"));
    }
    assert!(shown > 3, "only {shown} pages show the name");
    page.open("/people").await;
    assert!(page.shows(NAME), "{}", page.text);
}

#[tokio::test]
async fn no_page_takes_the_name_of_the_server_from_a_header() {
    let server = server().await;
    let mut page = server.supervisor("Sam Supervisor").await;
    begin_job(&mut page, "Corner Market").await;
    let job = page.path.clone();
    for path in addresses(&job, "none") {
        let asked = page.client.get(format!("{}{path}", server.base));
        let answer = asked
            .header("Host", "elsewhere.example")
            .header("X-Forwarded-Host", "elsewhere.example")
            .header("X-Original-URL", "/people")
            .header("X-Rewrite-URL", "/people")
            .header("Forwarded", "host=elsewhere.example;for=198.51.100.1");
        let answer = answer.send().await.unwrap();
        let told = format!("{:?}", answer.headers());
        let body = String::from_utf8_lossy(&answer.bytes().await.unwrap()).into_owned();
        assert!(!told.contains("elsewhere.example"), "{path}: {told}");
        assert!(!body.contains("elsewhere.example"), "{path}");
        assert_eq!(
            body.contains("Make a one-time code"),
            path == "/people",
            "{path} is another page than was asked for"
        );
    }
}

#[tokio::test]
async fn no_answer_leads_to_another_server_or_brings_a_header_of_the_senders() {
    let server = server().await;
    let mut page = Page::new(&server.base);
    let codes = [
        "//elsewhere.example",
        "/\\elsewhere.example",
        "https://elsewhere.example",
        "x\r\nSet-Cookie: a=b",
        "..//elsewhere.example",
    ];
    for code in codes {
        page.open("/join").await;
        let (request, _) = page.request(&[("code", code)], "Go on").unwrap_or_else(|| {
            panic!("no button: {:?}", page.buttons());
        });
        let answer = request.send().await.unwrap();
        let to = answer.headers()[LOCATION].to_str().unwrap();
        let (before, rest) = to.split_at("/join".len());
        assert_eq!(before, "/join", "{code}");
        let plain = |letter: char| letter == '/' || letter.is_ascii_alphanumeric();
        assert!(
            rest.chars().all(plain) && !rest.contains("//"),
            "{code}: {to}"
        );
    }
    let asked = page
        .client
        .get(format!("{}/join/a%0d%0aX-Sent:%20b", server.base));
    let answer = asked.send().await.unwrap();
    assert!(!answer.headers().contains_key("x-sent"));
}

#[test]
fn no_answer_of_the_table_leads_to_another_server() {
    let table = include_str!("../browser/matrix/answers.txt");
    let mut leads = 0;
    let rows = table.lines().filter(|line| !line.starts_with('#'));
    let words = rows.flat_map(str::split_whitespace);
    for cell in words.filter_map(|word| word.strip_prefix('>')) {
        leads += 1;
        assert!(cell.starts_with('/') && !cell.starts_with("//"), "{cell}");
    }
    assert!(leads > 100, "only {leads} cells were read");
}

#[tokio::test]
async fn a_method_that_no_page_has_is_refused_in_words() {
    let server = server().await;
    let page = server.supervisor("Sam Supervisor").await;
    for method in ["TRACE", "PUT", "DELETE", "PATCH", "OPTIONS", "BREW"] {
        let method = reqwest::Method::from_bytes(method.as_bytes()).unwrap();
        let asked = page
            .client
            .request(method.clone(), format!("{}/people", server.base));
        let answer = asked.send().await.unwrap();
        assert_eq!(answer.status(), StatusCode::METHOD_NOT_ALLOWED, "{method}");
        let body = answer.text().await.unwrap();
        assert!(
            body.contains("cannot be done at this address"),
            "{method}: {body}"
        );
    }
}

#[tokio::test]
async fn what_does_not_fit_a_form_is_refused_in_words() {
    let server = server().await;
    let page = server.supervisor("Sam Supervisor").await;
    let address = format!("{}/people/invite", server.base);
    let large = page
        .client
        .post(&address)
        .form(&[("role", "a".repeat(80_000))]);
    let answer = large.send().await.unwrap();
    assert_eq!(answer.status(), StatusCode::PAYLOAD_TOO_LARGE);
    assert!(
        answer
            .text()
            .await
            .unwrap()
            .contains("more than this form takes")
    );
    let json = page.client.post(&address).json(&["role"]);
    let answer = json.send().await.unwrap();
    assert_eq!(answer.status(), StatusCode::UNSUPPORTED_MEDIA_TYPE);
    assert!(
        answer
            .text()
            .await
            .unwrap()
            .contains("did not arrive as the page sends it")
    );
}

#[tokio::test]
async fn a_link_to_sign_in_works_once() {
    let server = server().await;
    let invitation = server.desk.invite_new_crew().await.unwrap();
    let path = format!("/join/{}", invitation.code.reveal());
    let mut first = Page::new(&server.base);
    first.open(&path).await;
    let mut thief = Page::new(&server.base);
    thief.open(&path).await;
    first.fill_and_press(&[("name", "Ann")], "Come in").await;
    assert_eq!(first.path, "/");
    thief
        .fill_and_press(&[("name", "Mallory")], "Come in")
        .await;
    assert_eq!(thief.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(thief.shows("used already or is too old"), "{}", thief.text);
    first.open("/people").await;
    first.press("Make a code for myself").await;
    let code = first
        .text
        .lines()
        .find(|line| line.len() == 16 && line.bytes().all(|letter| letter.is_ascii_alphanumeric()));
    let path = format!("/join/{}", code.unwrap());
    let mut phone = Page::new(&server.base);
    phone.open(&path).await;
    phone.press("Come in").await;
    assert_eq!(phone.path, "/", "{}", phone.text);
    thief.open(&path).await;
    thief.press("Come in").await;
    assert_eq!(thief.status, StatusCode::UNPROCESSABLE_ENTITY, "replayed");
    thief.open("/").await;
    assert_eq!(thief.path, "/join");
}
