//! The addresses of the pages: one list, from which the router is made and by which tests ask.
//!
//! A page that is not in the list cannot be reached, so nothing escapes the tests that walk the
//! list: who may see what, and whether everybody can use it.

use axum::Router;
use axum::extract::DefaultBodyLimit;
use axum::handler::Handler;
use axum::http::Method;
use axum::routing::{MethodRouter, get, post};

use super::Browser;

/// One address that the server answers.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Address {
    /// What is done there.
    pub method: Method,
    /// Its path; what changes in it stands in braces: `/job/{job}`.
    pub path: &'static str,
}

/// Addresses with what answers at them.
#[derive(Default)]
pub(super) struct Routes {
    router: Router<Browser>,
    addresses: Vec<Address>,
}

impl Routes {
    /// A page to look at.
    pub(super) fn get<H, T>(self, path: &'static str, handler: H) -> Routes
    where
        H: Handler<T, Browser>,
        T: 'static,
    {
        self.with(Method::GET, path, get(handler))
    }

    /// A form that is sent.
    pub(super) fn post<H, T>(self, path: &'static str, handler: H) -> Routes
    where
        H: Handler<T, Browser>,
        T: 'static,
    {
        self.with(Method::POST, path, post(handler))
    }

    /// A form that may be as large as this.
    pub(super) fn post_up_to<H, T>(
        self,
        limit: DefaultBodyLimit,
        path: &'static str,
        handler: H,
    ) -> Routes
    where
        H: Handler<T, Browser>,
        T: 'static,
    {
        self.with(Method::POST, path, post(handler).layer(limit))
    }

    fn with(
        mut self,
        method: Method,
        path: &'static str,
        answers: MethodRouter<Browser>,
    ) -> Routes {
        self.addresses.push(Address { method, path });
        self.router = self.router.route(path, answers);
        self
    }

    /// These and the others.
    pub(super) fn and(mut self, others: Routes) -> Routes {
        self.addresses.extend(others.addresses);
        self.router = self.router.merge(others.router);
        self
    }

    /// The list alone.
    pub(super) fn addresses(self) -> Vec<Address> {
        self.addresses
    }

    /// What answers at them.
    pub(super) fn router(self) -> Router<Browser> {
        self.router
    }
}
