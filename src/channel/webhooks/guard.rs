//! Keeps calls away from this machine and the networks around it: an address that a supervisor
//! typed must not reach what only the server can reach.

use std::net::{IpAddr, Ipv4Addr, Ipv6Addr, SocketAddr};

use reqwest::Url;
use reqwest::dns::{Addrs, Name, Resolve, Resolving};

/// Why a call was not made.
pub(super) const PRIVATE: &str =
    "The address leads to this machine or a private network, where calls are not allowed.";

/// Lets calls pass to public addresses only, unless the operator allowed the others.
#[derive(Clone, Copy, Debug)]
pub(super) struct Guard {
    pub(super) to_private: bool,
}

#[derive(Debug, thiserror::Error)]
#[error("{PRIVATE}")]
struct Refused;

impl Guard {
    /// Whether an address that names its host by number may be called; names are looked at when
    /// they are resolved, so that they cannot mean something else a moment later.
    pub(super) fn lets_pass(self, url: &Url) -> bool {
        if self.to_private {
            return true;
        }
        let host = url.host_str().unwrap_or_default();
        let bare = host.trim_start_matches('[').trim_end_matches(']');
        url.scheme() == "https" && bare.parse::<IpAddr>().map_or(true, is_public)
    }
}

impl Resolve for Guard {
    fn resolve(&self, name: Name) -> Resolving {
        let to_private = self.to_private;
        Box::pin(async move {
            let found = tokio::net::lookup_host((name.as_str(), 0)).await?;
            let allowed = found.filter(|one| to_private || is_public(one.ip()));
            let allowed: Vec<SocketAddr> = allowed.collect();
            if allowed.is_empty() {
                return Err(Refused.into());
            }
            Ok(Box::new(allowed.into_iter()) as Addrs)
        })
    }
}

/// Whether an address can be reached from everywhere: none of the special-purpose ones that IANA
/// lists (RFC 6890 and its registries), nor one that carries such a one inside.
pub fn is_public(address: IpAddr) -> bool {
    match address {
        IpAddr::V4(address) => is_public_v4(address),
        IpAddr::V6(address) => is_public_v6(address),
    }
}

fn is_public_v4(address: Ipv4Addr) -> bool {
    let [a, b, c, _] = address.octets();
    let special = a == 0
        || a == 10
        || a == 127
        || a >= 224
        || (a == 100 && (64..128).contains(&b))
        || (a == 169 && b == 254)
        || (a == 172 && (16..32).contains(&b))
        || (a == 192 && b == 168)
        || (a == 192 && b == 0 && (c == 0 || c == 2))
        || (a == 192 && b == 88 && c == 99)
        || (a == 198 && (b == 18 || b == 19))
        || (a == 198 && b == 51 && c == 100)
        || (a == 203 && b == 0 && c == 113);
    !special
}

fn is_public_v6(address: Ipv6Addr) -> bool {
    let segments = address.segments();
    let inside = |high: u16, low: u16| {
        let [a, b] = high.to_be_bytes();
        let [c, d] = low.to_be_bytes();
        is_public_v4(Ipv4Addr::new(a, b, c, d))
    };
    match segments {
        // An IPv4 address in another dress: mapped, translated (RFC 6052), 6to4 (RFC 3056).
        [0, 0, 0, 0, 0, 0xffff, high, low] | [0x64, 0xff9b, 0, 0, 0, 0, high, low] => {
            inside(high, low)
        }
        [0x2002, high, low, ..] => inside(high, low),
        // Teredo, benchmarking, ORCHID; documentation.
        [0x2001, second, ..] => second >= 0x0200 && second != 0x0db8,
        [0x3fff, second, ..] => second >= 0x1000,
        // Everything else that is given out for use everywhere lies in 2000::/3.
        [first, ..] => (0x2000..0x4000).contains(&first),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn special_addresses_are_not_public() {
        for special in [
            "0.0.0.0",
            "10.1.2.3",
            "100.64.0.1",
            "127.0.0.1",
            "169.254.169.254",
            "172.16.0.1",
            "172.31.255.255",
            "192.0.0.8",
            "192.0.2.1",
            "192.168.1.1",
            "198.18.0.1",
            "198.51.100.7",
            "203.0.113.9",
            "224.0.0.1",
            "240.0.0.1",
            "255.255.255.255",
            "::",
            "::1",
            "::ffff:127.0.0.1",
            "::ffff:10.0.0.1",
            "64:ff9b::a00:1",
            "64:ff9b:1::1",
            "2002:7f00:1::",
            "2001::1",
            "2001:db8::1",
            "3fff::1",
            "fc00::1",
            "fd12::1",
            "fe80::1",
            "ff02::1",
            "100::1",
        ] {
            assert!(!is_public(special.parse().unwrap()), "{special}");
        }
        for public in [
            "1.1.1.1",
            "100.63.255.255",
            "100.128.0.1",
            "172.15.0.1",
            "172.32.0.1",
            "192.0.1.1",
            "198.17.0.1",
            "223.255.255.255",
            "2606:4700::1",
            "2001:4860::1",
            "64:ff9b::101:101",
            "::ffff:1.1.1.1",
            "2002:101:101::1",
        ] {
            assert!(is_public(public.parse().unwrap()), "{public}");
        }
    }

    #[test]
    fn a_host_by_number_is_looked_at_before_the_call() {
        let lets_pass = |to_private, url: &str| {
            let url = Url::parse(url).unwrap();
            Guard { to_private }.lets_pass(&url)
        };
        for url in [
            "https://127.0.0.1/",
            "https://2130706433/",
            "https://0x7f.1/",
            "https://[::1]/",
            "https://[::ffff:10.0.0.1]/",
            "http://office.example/",
        ] {
            assert!(!lets_pass(false, url), "{url}");
            assert!(lets_pass(true, url), "{url}");
        }
        assert!(lets_pass(false, "https://office.example/"));
        assert!(lets_pass(false, "https://1.1.1.1/"));
    }
}
