//! A person walks on the page.

use fanwright::desk::id::JobId;
use reqwest::{RequestBuilder, StatusCode};

use super::{Bench, STEPS, first, next_says};
use crate::support::page::Page;
use crate::support::program::Program;

/// Somebody at a step of a job, and the server that they use.
struct Walk {
    bench: Bench,
    program: Program,
    page: Page,
    job: JobId,
}

impl Walk {
    async fn begin() -> Walk {
        let bench = Bench::new().await;
        let program = bench.serve();
        let code = program.code.clone().unwrap();
        let mut page = Page::joined(&program.base, &code, "Sam").await;
        page.open("/new-job").await;
        let fields = [
            ("site", "Corner Market"),
            ("tag", "EV-3"),
            ("hangs", "left"),
        ];
        page.fill_and_press(&fields, "Add this evaporator").await;
        page.press("Begin the job").await;
        let job = page.path.strip_prefix("/job/").unwrap().parse().unwrap();
        Walk {
            bench,
            program,
            page,
            job,
        }
    }

    /// The request that answers a step.
    fn answer(&self, step: &str) -> RequestBuilder {
        let (fields, button): (&[_], _) = match step {
            "arrive" => (&[], "Go on"),
            "look" => (&[], "It turns"),
            "gear" => (&[("tick", "gloves"), ("tick", "shoes")], "That is all"),
            "read" => (&[("text", "208 V")], "Send"),
            "remark" => (&[("text", "Blade free")], "Send"),
            other => panic!("{other} is answered otherwise"),
        };
        let request = self.page.request(fields, button);
        request
            .unwrap_or_else(|| panic!("no “{button}”: {}", self.page.text))
            .0
    }

    /// Kills the server, looks at the record and starts it again: the page shows this.
    async fn kill(self) -> (Walk, Vec<String>) {
        let Walk {
            mut bench,
            program,
            mut page,
            job,
        } = self;
        program.kill();
        let answered = bench.answered(job).await;
        let program = bench.serve();
        page.moves_to(&program.base);
        let walk = Walk {
            bench,
            program,
            page,
            job,
        };
        (walk, answered)
    }

    async fn shows(&mut self, says: &str) {
        self.page.open(&format!("/job/{}", self.job)).await;
        assert!(self.page.shows(says), "{says}: {}", self.page.text);
    }
}

#[tokio::test]
async fn an_answer_acknowledged_on_the_page_outlasts_a_kill_at_once() {
    let mut walk = Walk::begin().await;
    for (at, (step, says)) in STEPS.into_iter().enumerate() {
        walk.shows(says).await;
        if step == "plate" {
            walk.page.photo().await;
        } else {
            // Nothing is asked of the server after the acknowledgement.
            let response = walk.answer(step).send().await.unwrap();
            assert_eq!(response.status(), StatusCode::SEE_OTHER, "{step}");
        }
        let (again, answered) = walk.kill().await;
        walk = again;
        assert_eq!(answered, first(at + 1));
        walk.shows(next_says(step)).await;
    }
}

#[tokio::test]
async fn a_request_in_flight_at_a_kill_counts_once_or_not_at_all() {
    let mut walk = Walk::begin().await;
    // Later and later moments: from before the request leaves to after its answer.
    for (at, (step, says)) in STEPS.into_iter().enumerate() {
        walk.shows(says).await;
        if step == "plate" {
            walk.page.photo().await;
            continue;
        }
        let sent = walk.answer(step);
        let again = sent.try_clone().unwrap().build().unwrap();
        let in_flight = tokio::spawn(sent.send());
        for _ in 0..at * at {
            tokio::task::yield_now().await;
        }
        let (restarted, answered) = walk.kill().await;
        walk = restarted;
        let acknowledged = in_flight.await.unwrap().is_ok();
        let there = answered.len() == at + 1;
        assert_eq!(answered, first(answered.len()));
        assert!(there || answered.len() == at, "{answered:?}");
        assert!(
            there || !acknowledged,
            "{step} was acknowledged and is gone"
        );
        walk.shows(if there { next_says(step) } else { says }).await;
        // The browser sends the very same form again.
        send_again(&walk, &again).await;
        walk.shows(next_says(step)).await;
    }
    let (_, answered) = walk.kill().await;
    assert_eq!(answered, first(STEPS.len()), "each once");
}

/// Sends a request again to the server's new address.
async fn send_again(walk: &Walk, request: &reqwest::Request) {
    let address = format!("{}{}", walk.program.base, request.url().path());
    let body = request.body().unwrap().as_bytes().unwrap().to_vec();
    let again = walk
        .page
        .client
        .post(address)
        .headers(request.headers().clone());
    let response = again.body(body).send().await.unwrap();
    assert_eq!(response.status(), StatusCode::SEE_OTHER);
}
