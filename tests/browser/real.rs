//! The pages in a real browser, as large as a phone: they are live, fit, and can be used.
//!
//! Needs `chromedriver` and `chromium` on the path, or in `CHROMEDRIVER` and `CHROMIUM`. Pictures
//! of every page are left in `target/screenshots`.

use std::path::{Path, PathBuf};
use std::time::Duration;

use fantoccini::{Client, Locator};
use serde_json::json;

use super::LOOK;
use super::driver::Driver;
use crate::support::pages_server::PagesServer;

/// How long the browser may take over anything.
const PATIENCE: Duration = Duration::from_secs(60);

/// So many pages may go away while they are looked at, on the way to the one that is waited for.
const PAGES_THAT_GO: usize = 10;

/// Which of these is sent from one form: Stop, Stop again, the emergency, and Stop when the first
/// has no answer for long. Nothing leaves the page by it.
const TWICE: &str = "
    const form = document.querySelector('.bottom');
    const later = [];
    const own = window.setTimeout;
    window.setTimeout = (what) => later.push(what);
    const sends = (value) => {
      const submitter = form.querySelector(`[value=${value}]`);
      const event = new SubmitEvent('submit', { submitter, bubbles: true, cancelable: true });
      return form.dispatchEvent(event);
    };
    const sent = ['stop', 'stop', 'hurt'].map(sends);
    later.forEach((what) => what());
    sent.push(sends('stop'));
    later.forEach((what) => what());
    window.setTimeout = own;
    return sent;";

/// A list hears of a change, then goes out of sight. Gives how long it waits with what changed,
/// and whether its line for news is closed.
const OUT_OF_SIGHT: &str = "
    const done = arguments[arguments.length - 1];
    const [opened, waits] = [[], []];
    window.EventSource = function () {
      this.closed = false;
      this.close = () => { this.closed = true; };
      this.addEventListener = (_, hears) => { this.hears = hears; };
      opened.push(this);
    };
    const turns = (hidden) => {
      Object.defineProperty(document, 'hidden', { value: hidden, configurable: true });
      document.dispatchEvent(new Event('visibilitychange'));
    };
    const script = document.createElement('script');
    script.src = '/assets/page.js?once-more';
    script.onload = () => {
      const own = window.setTimeout;
      window.setTimeout = (_, ms) => waits.push(ms);
      opened[0].hears({ data: '1' });
      window.setTimeout = own;
      turns(true);
      const closed = opened.map((it) => it.closed);
      done({ closed, waits });
    };
    document.head.append(script);";

/// Somebody with a phone.
struct Phone {
    client: Client,
    base: String,
    pictures: PathBuf,
}

impl Phone {
    async fn open(&self, path: &str) {
        self.client
            .goto(&format!("{}{path}", self.base))
            .await
            .unwrap();
    }

    /// Presses the button or link with this label, once it is there.
    async fn press(&self, label: &str) {
        let path = format!(
            "//*[self::button or self::a or self::summary][normalize-space(.)=\"{label}\"]"
        );
        let found = self.client.wait().at_most(PATIENCE);
        let button = found.for_element(Locator::XPath(&path)).await;
        let button = button.unwrap_or_else(|error| panic!("no button “{label}”: {error}"));
        // Out from under the bar of the emergency, as a thumb would scroll it.
        let center = "arguments[0].scrollIntoView({ block: 'center' });";
        let it = serde_json::to_value(&button).unwrap();
        self.client.execute(center, vec![it]).await.unwrap();
        button.click().await.unwrap();
    }

    /// Waits until the page shows this text.
    async fn sees(&self, text: &str) {
        let path = format!("//main[contains(normalize-space(.), '{text}')]");
        for _ in 0..PAGES_THAT_GO {
            let found = self.client.wait().at_most(PATIENCE);
            match found.for_element(Locator::XPath(&path)).await {
                Ok(_) => return,
                Err(error) if error.to_string().contains("aborted by navigation") => {}
                Err(error) => panic!("the page never shows “{text}”: {error}"),
            }
        }
        panic!("pages come and go, and none shows “{text}”");
    }

    async fn fill(&self, selector: &str, text: &str) {
        let found = self.client.wait().at_most(PATIENCE);
        let field = found.for_element(Locator::Css(selector)).await.unwrap();
        field.send_keys(text).await.unwrap();
    }

    /// Changes the first place of these words in the flow's text, as typing does.
    async fn types_over(&self, old: &str, new: &str) {
        let change = "const text = document.getElementById('text'); \
             text.value = text.value.replace(arguments[0], arguments[1]); \
             text.dispatchEvent(new Event('input', { bubbles: true }));";
        let words = vec![json!(old), json!(new)];
        self.client.execute(change, words).await.unwrap();
    }

    /// Leaves a picture, and sees to it that the page fits and its buttons fit a glove.
    async fn picture(&self, name: &str) {
        let bytes = self.client.screenshot().await.unwrap();
        std::fs::write(self.pictures.join(format!("{name}.png")), bytes).unwrap();
        let measured = self
            .client
            .execute(
                "const small = [...document.querySelectorAll('button, a.button, .pick')] \
                   .filter((it) => it.offsetParent !== null || it.closest('.bottom')) \
                   .filter((it) => !it.matches('.link')) \
                   .filter((it) => it.getBoundingClientRect().height < 48) \
                   .map((it) => it.textContent); \
                 return { wide: document.documentElement.scrollWidth > innerWidth, small };",
                Vec::new(),
            )
            .await
            .unwrap();
        assert_eq!(
            measured["wide"],
            json!(false),
            "{name} must not scroll sideways"
        );
        assert_eq!(
            measured["small"],
            json!([]),
            "{name} has buttons lower than 48 px"
        );
    }
}

fn target() -> PathBuf {
    let target = std::env::var_os("CARGO_TARGET_DIR").map(PathBuf::from);
    target.unwrap_or_else(|| Path::new(env!("CARGO_MANIFEST_DIR")).join("target"))
}

/// A photo on disk, to be chosen.
fn photo(folder: &Path) -> PathBuf {
    let path = folder.join("nameplate.png");
    let picture = image::RgbImage::from_fn(320, 240, |x, y| {
        image::Rgb([(x / 2) as u8, (y / 2) as u8, 90])
    });
    picture.save(&path).unwrap();
    path
}

/// A phone at the door of a new crew.
async fn at_the_door(server: &PagesServer, driver: &Driver, folder: &Path) -> Phone {
    let invitation = server.desk.invite_new_crew().await.unwrap();
    let pictures = target().join("screenshots");
    std::fs::create_dir_all(&pictures).unwrap();
    let phone = Phone {
        client: driver.browser(&folder.join("profile"), 2.0).await,
        base: server.base.clone(),
        pictures,
    };
    phone
        .open(&format!("/join/{}", invitation.code.reveal()))
        .await;
    phone
}

#[tokio::test]
async fn findings_stand_beside_the_lines_while_a_flow_is_typed() {
    let server = PagesServer::with_flows(&[LOOK]).await;
    let folder = tempfile::tempdir().unwrap();
    let driver = Driver::start().await;
    let phone = at_the_door(&server, &driver, folder.path()).await;
    phone.fill("#name", "Sue Supervisor").await;
    phone.press("Come in").await;
    phone.sees("Your jobs").await;
    phone.press("Flows").await;
    phone.sees("Flows of your crew").await;
    phone.picture("flows").await;
    phone.open("/flows/edit/look-at-the-fan.yaml").await;
    phone.sees("Nothing in this file.").await;
    phone.types_over("then: ", "then: no").await;
    phone.sees("There is no step").await;
    let marked = phone.client.find(Locator::Css("#numbers .error")).await;
    marked.expect("the line with the fault is marked");
    phone.picture("flow").await;
    phone.types_over("then: no", "then: ").await;
    phone.types_over("Stand where", "Wait where").await;
    phone.sees("words was: Stand where").await;
    phone.press("Keep it and try it").await;
    phone.sees("Wait where you can see the fan.").await;
    phone.picture("trial").await;
    phone.press("Go on").await;
    phone.sees("Keep your hands off.").await;
    phone.client.close().await.unwrap();
}

#[tokio::test]
async fn a_phone_joins_walks_and_sends_a_photo() {
    let server = PagesServer::with_flows(&[LOOK]).await;
    let folder = tempfile::tempdir().unwrap();
    let driver = Driver::start().await;
    let phone = at_the_door(&server, &driver, folder.path()).await;
    phone.picture("join").await;
    phone.fill("#name", "Ann Apprentice").await;
    phone.press("Come in").await;
    phone.sees("Your jobs").await;
    phone.picture("home").await;
    let seen = phone.client.execute_async(OUT_OF_SIGHT, Vec::new()).await;
    assert_eq!(
        seen.unwrap(),
        json!({ "closed": [true], "waits": [15_000] })
    );
    phone.open("/").await;
    phone.press("New job").await;
    phone.fill("#site", "Corner Market").await;
    phone.fill("#tag", "EV-3").await;
    phone.press("Add this evaporator").await;
    phone.sees("Which evaporator?").await;
    phone.picture("new-job").await;
    phone.press("Begin the job").await;
    phone.sees("Stand where you can see the fan.").await;
    phone.press("Go on").await;
    phone.sees("Keep your hands off.").await;
    phone.press("Why?").await;
    phone.picture("question").await;
    phone.press("It stands still").await;
    phone.fill("input[value=ice]", " ").await;
    phone.picture("ticks").await;
    phone.press("That is all").await;
    phone.sees("to go.").await;
    phone.picture("wait").await;
    // When the time is over the button comes by itself.
    phone.press("The time is over, go on").await;
    phone.sees("What does the meter read at the leads?").await;
    phone.picture("reading").await;
    phone.fill("#text", "208").await;
    phone.press("Send").await;
    phone.sees("Send a photo of the nameplate.").await;
    phone.picture("photo").await;
    let photo = photo(folder.path());
    phone.fill("#photo", &photo.display().to_string()).await;
    phone.press("Send the photo").await;
    phone.sees("What else did you see?").await;
    phone.picture("words").await;
    phone.press("Hand the job over").await;
    phone.sees("To whom").await;
    phone.picture("hand-over").await;
    phone.press("Don\'t hand it over").await;
    phone.sees("What else did you see?").await;
    let sent = phone.client.execute(TWICE, Vec::new()).await.unwrap();
    assert_eq!(sent, json!([true, false, true, true]));
    phone.press("Someone is hurt / gas alarm").await;
    phone.sees("Get out of the box.").await;
    phone.picture("hurt").await;
    phone.open("/people").await;
    phone.picture("people").await;
    phone.client.close().await.unwrap();
}
