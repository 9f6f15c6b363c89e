//! Where a request comes from.

use std::net::{IpAddr, SocketAddr};

use axum::extract::ConnectInfo;
use axum::http::{Extensions, HeaderMap};

/// Where a request comes from. A proxy on this machine says it for those behind it; its word is
/// the last one of the header, since whatever stands before was sent to it.
pub fn place(headers: &HeaderMap, extensions: &Extensions) -> IpAddr {
    let connected = extensions.get::<ConnectInfo<SocketAddr>>();
    let direct = connected.map_or(IpAddr::from([0; 4]), |connected| connected.0.ip());
    let said = headers
        .get_all("x-forwarded-for")
        .into_iter()
        .next_back()
        .filter(|_| direct.is_loopback());
    let said = said.and_then(|said| said.to_str().ok());
    let last = said.and_then(|said| said.rsplit(',').next()?.trim().parse().ok());
    household(last.unwrap_or(direct))
}

/// One household has a whole /64 of IPv6 addresses, so it counts as one place.
pub fn household(from: IpAddr) -> IpAddr {
    match from.to_canonical() {
        IpAddr::V6(address) => {
            let [a, b, c, d, ..] = address.segments();
            IpAddr::from([a, b, c, d, 0, 0, 0, 0])
        }
        from @ IpAddr::V4(_) => from,
    }
}

/// For a year no browser that was here speaks to this server without encryption.
pub const A_YEAR: &str = "max-age=31536000";

/// What a proxy in front says of the line; a browser that lies about it harms only itself.
pub fn is_encrypted(headers: &HeaderMap) -> bool {
    headers
        .get("x-forwarded-proto")
        .is_some_and(|proto| proto.as_bytes().eq_ignore_ascii_case(b"https"))
}

#[cfg(test)]
mod tests {
    use axum::http::HeaderValue;

    use super::*;

    fn from(direct: &str, said: &[&'static str]) -> String {
        let mut extensions = Extensions::new();
        let direct: SocketAddr = direct.parse().unwrap();
        extensions.insert(ConnectInfo(direct));
        let mut headers = HeaderMap::new();
        for said in said {
            headers.append("x-forwarded-for", HeaderValue::from_static(said));
        }
        place(&headers, &extensions).to_string()
    }

    #[test]
    fn only_a_proxy_on_this_machine_says_where_others_are() {
        assert_eq!(
            from("127.0.0.1:9", &["198.51.100.1, 203.0.113.7"]),
            "203.0.113.7"
        );
        assert_eq!(from("192.0.2.4:9", &["203.0.113.7"]), "192.0.2.4");
        assert_eq!(from("127.0.0.1:9", &["nonsense"]), "127.0.0.1");
        assert_eq!(from("127.0.0.1:9", &[]), "127.0.0.1");
        assert_eq!(from("[2001:db8::1]:9", &[]), "2001:db8::");
    }

    #[test]
    fn a_header_that_was_sent_before_the_proxys_own_counts_for_nothing() {
        let said = ["198.51.100.1", "203.0.113.7"];
        assert_eq!(from("127.0.0.1:9", &said), "203.0.113.7");
    }

    #[test]
    fn an_address_of_the_old_kind_is_known_in_the_new_one() {
        assert_eq!(from("[::ffff:192.0.2.4]:9", &[]), "192.0.2.4");
    }
}
