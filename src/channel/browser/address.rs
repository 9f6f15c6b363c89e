//! Addresses with a query.

/// A path with these fields behind it; empty ones are left out.
pub(super) fn with_query(path: &str, fields: &[(&str, &str)]) -> String {
    let given = fields.iter().filter(|(_, value)| !value.is_empty());
    let pairs: Vec<String> = given
        .map(|(name, value)| format!("{name}={}", encoded(value)))
        .collect();
    if pairs.is_empty() {
        path.to_owned()
    } else {
        format!("{path}?{}", pairs.join("&"))
    }
}

/// A text so that it can stand in a query: RFC 3986, section 2.3.
fn encoded(text: &str) -> String {
    let mut encoded = String::new();
    for byte in text.bytes() {
        match byte {
            b'A'..=b'Z' | b'a'..=b'z' | b'0'..=b'9' | b'-' | b'.' | b'_' | b'~' => {
                encoded.push(char::from(byte));
            }
            other => encoded.push_str(&format!("%{other:02X}")),
        }
    }
    encoded
}

#[cfg(test)]
mod tests {
    use axum::extract::Query;

    use super::*;

    #[test]
    fn whatever_is_written_into_an_address_is_read_back() {
        let texts = [
            "Corner Market",
            "a&b=c",
            "100 %+1",
            "Café #3/?",
            "\u{202e}\0",
        ];
        for text in texts {
            let address = with_query("/jobs", &[("words", text), ("site", "")]);
            let address: axum::http::Uri = address.parse().unwrap();
            let Query(read) = Query::<Vec<(String, String)>>::try_from_uri(&address).unwrap();
            assert_eq!(read, [("words".to_owned(), text.to_owned())]);
        }
        assert_eq!(with_query("/jobs", &[("words", "")]), "/jobs");
    }
}
