//! What the square code on a report says: enough to tell whether a record is the one on paper.
//!
//! It is read without a network. Where the server's public address is known it is one address, so
//! that a phone opens the page that checks records, and everything else stands in that address;
//! where it is not, the same four things stand on four lines. It holds no secret and no name.

use serde::Serialize;

use super::checklist::Checklist;
use super::square_code::drawn;

/// A square code, what it says, and the address to type where no camera is at hand.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct VerifyCode {
    /// What the code holds.
    pub text: String,
    /// The page that checks records, if its address is known.
    pub page: Option<String>,
    /// What to know the key of the last seal by; none before the first seal.
    pub key: Option<String>,
    /// The drawing, as SVG; empty if the text did not fit, which a test rules out.
    pub svg: String,
}

impl VerifyCode {
    /// The code of a report; `public_url` is the address under which people reach this server.
    pub fn of(list: &Checklist, public_url: Option<&str>) -> VerifyCode {
        let key = list.seals.last().map(|seal| seal.key.to_string());
        let page = public_url.map(|url| format!("{}/verify", url.trim_end_matches('/')));
        let (job, entry, hash) = (&list.job, list.head.seq, list.head.hash);
        let text = match (&page, &key) {
            (Some(page), Some(key)) => {
                format!("{page}?job={job}&entry={entry}&hash={hash}&key={key}")
            }
            (Some(page), None) => format!("{page}?job={job}&entry={entry}&hash={hash}"),
            (None, key) => {
                let key = key.as_deref().unwrap_or("not sealed");
                format!("job {job}\nlast entry {entry}\nhash {hash}\nkey {key}")
            }
        };
        VerifyCode {
            svg: drawn(&text),
            text,
            page,
            key,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn list() -> Checklist {
        serde_json::from_str(include_str!("../../tests/record/report.json")).unwrap()
    }

    #[test]
    fn with_an_address_it_is_one_address_that_holds_all() {
        let code = VerifyCode::of(&list(), Some("https://fans.example.org/"));
        let expected = format!(
            "https://fans.example.org/verify?job=0190a6f2-7d3c-7c44-8000-000000000007&entry=174\
             &hash={}&key=KLBX-RDNP-CFGH-JKLM-NPRS-TXBC",
            "09".repeat(32)
        );
        assert_eq!(code.text, expected);
        assert!(code.svg.starts_with("<svg"), "{}", code.svg);
    }

    #[test]
    fn without_an_address_it_stands_on_its_own() {
        let mut list = list();
        let code = VerifyCode::of(&list, None);
        assert_eq!(code.text.lines().count(), 4);
        assert!(code.text.starts_with("job 0190a6f2-"), "{}", code.text);
        list.seals.clear();
        let code = VerifyCode::of(&list, None);
        assert!(code.text.ends_with("key not sealed"), "{}", code.text);
    }

    /// What a reader of square codes sees in the drawing; it shares nothing with what drew it.
    fn read(svg: &str) -> String {
        let drawn = crate::report::picture::sheet(svg).unwrap();
        let drawn = image::load_from_memory(&drawn.bytes).unwrap().into_luma8();
        let (width, height) = (drawn.width() as usize, drawn.height() as usize);
        let mut seen = rqrr::PreparedImage::prepare_from_greyscale(width, height, |x, y| {
            drawn.get_pixel(x as u32, y as u32).0[0]
        });
        let codes = seen.detect_grids();
        assert_eq!(codes.len(), 1);
        codes[0].decode().unwrap().1
    }

    #[test]
    fn a_reader_reads_the_very_text_off_the_drawing() {
        let mut list = list();
        let longest = format!("https://{}.example.org", "a".repeat(180));
        for url in [
            None,
            Some("https://fans.example.org/"),
            Some(longest.as_str()),
        ] {
            let code = VerifyCode::of(&list, url);
            assert_eq!(read(&code.svg), code.text);
        }
        list.seals.clear();
        let code = VerifyCode::of(&list, None);
        assert_eq!(read(&code.svg), code.text);
    }
}
