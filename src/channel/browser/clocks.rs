//! By which clocks the times of a page are shown: those of the crew of whoever is signed in.
//!
//! Times become text at many places of a page, and all of them must be by the same clocks. So the
//! clocks go with the request: they are set once, where the person is recognised, and read where a
//! time becomes text. Who is not signed in sees UTC, as records and exports have it.

use std::cell::RefCell;

use axum::extract::Request;
use axum::middleware::Next;
use axum::response::Response;
use jiff::Timestamp;
use jiff::tz::TimeZone;

tokio::task_local! {
    static CLOCKS: RefCell<TimeZone>;
}

/// Serves a request with clocks of its own.
pub(super) async fn around(request: Request, next: Next) -> Response {
    let clocks = RefCell::new(TimeZone::UTC);
    CLOCKS.scope(clocks, next.run(request)).await
}

/// Goes by these clocks for the rest of the request.
pub(super) fn go_by(zone: TimeZone) {
    // Outside of a request there is nothing to show.
    drop(CLOCKS.try_with(|clocks| clocks.replace(zone)));
}

/// The clocks of the request.
pub(super) fn zone() -> TimeZone {
    let clocks = CLOCKS.try_with(|clocks| clocks.borrow().clone());
    clocks.unwrap_or(TimeZone::UTC)
}

/// `2031-05-04 03:05 CDT`.
pub(super) fn to_the_minute(at: Timestamp) -> String {
    shown(at, "%Y-%m-%d %H:%M %Z")
}

/// `2031-05-04 03:05:09 CDT`.
pub(super) fn to_the_second(at: Timestamp) -> String {
    shown(at, "%Y-%m-%d %H:%M:%S %Z")
}

/// A time by the clocks of the request, in this form.
pub(super) fn shown(at: Timestamp, form: &str) -> String {
    let at = at.to_zoned_datetime(zone());
    at.strftime(form).to_string()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[tokio::test]
    async fn times_are_by_the_clocks_of_the_request_and_name_them() {
        let at: Timestamp = "2031-05-04T08:05:09Z".parse().unwrap();
        assert_eq!(to_the_minute(at), "2031-05-04 08:05 UTC");
        let winter: Timestamp = "2031-01-04T02:05:09Z".parse().unwrap();
        let request = async {
            assert_eq!(to_the_minute(at), "2031-05-04 08:05 UTC");
            // What the zones are called and how far they are is in the IANA time zone database.
            go_by(TimeZone::get("America/Chicago").unwrap());
            assert_eq!(to_the_second(at), "2031-05-04 03:05:09 CDT");
            assert_eq!(to_the_minute(winter), "2031-01-03 20:05 CST");
        };
        CLOCKS.scope(RefCell::new(TimeZone::UTC), request).await;
        assert_eq!(to_the_minute(at), "2031-05-04 08:05 UTC");
    }
}
