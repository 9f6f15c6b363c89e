//! Errors as pages: one sentence, and a way on.

use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use serde::Serialize;

use super::page::{Frame, render};
use crate::desk::DeskError;

/// Why there is no page; shows itself as one.
#[derive(Debug)]
pub(super) enum Trouble {
    /// Nobody is signed in: the way to the door.
    SignIn,
    /// A sentence for the person.
    Told {
        /// The status for whoever reads only that.
        status: StatusCode,
        /// The sentence.
        sentence: String,
    },
}

#[derive(Serialize)]
struct Told {
    sentence: String,
}

impl Trouble {
    pub(super) fn told(status: StatusCode, sentence: impl Into<String>) -> Trouble {
        Trouble::Told {
            status,
            sentence: sentence.into(),
        }
    }

    /// A form that this server did not make for this person, or made too long ago.
    pub(super) fn stale_form() -> Trouble {
        Trouble::told(
            StatusCode::FORBIDDEN,
            "This form is too old or was not made for you, so nothing was done. Open the page \
             again and repeat it there.",
        )
    }

    pub(super) fn from_elsewhere() -> Trouble {
        Trouble::told(
            StatusCode::FORBIDDEN,
            "This form was sent from another site, so nothing was done. Open the page here and \
             repeat it.",
        )
    }

    pub(super) fn fault() -> Trouble {
        Trouble::told(
            StatusCode::INTERNAL_SERVER_ERROR,
            "The server has a fault and could not show this. What you sent last may not be \
             kept. Tell its operator.",
        )
    }

    /// The answer for what is not there and for what belongs to another crew.
    pub(super) fn not_found(what: &'static str) -> Trouble {
        DeskError::NotFound(what).into()
    }
}

impl From<DeskError> for Trouble {
    fn from(error: DeskError) -> Trouble {
        let status = match &error {
            DeskError::NotSignedIn => return Trouble::SignIn,
            DeskError::NotFound(_) => StatusCode::NOT_FOUND,
            DeskError::NotAllowed(_) => StatusCode::FORBIDDEN,
            DeskError::NotUnderstood(_)
            | DeskError::BadCode
            | DeskError::BadPassword
            | DeskError::Refused(_) => StatusCode::UNPROCESSABLE_ENTITY,
            DeskError::Busy => StatusCode::CONFLICT,
            DeskError::Fault(_) => StatusCode::INTERNAL_SERVER_ERROR,
            DeskError::Crowded
            | DeskError::Store(_)
            | DeskError::NoRoom(_)
            | DeskError::Stopped(_)
            | DeskError::Unsure(_) => StatusCode::SERVICE_UNAVAILABLE,
        };
        if error.is_fault() {
            tracing::error!(error = error.for_the_log(), "a page could not be made");
        }
        Trouble::told(status, error.to_string())
    }
}

impl IntoResponse for Trouble {
    fn into_response(self) -> Response {
        match self {
            Trouble::SignIn => Redirect::to("/join").into_response(),
            Trouble::Told { status, sentence } => {
                let frame = Frame::of_nobody("That did not work");
                (status, render("trouble.html", &frame, &Told { sentence })).into_response()
            }
        }
    }
}

/// The answer to an address that is none.
pub(super) async fn no_such_page() -> Trouble {
    no_page()
}

/// Says that there is no such page.
pub(super) fn no_page() -> Trouble {
    Trouble::told(
        StatusCode::NOT_FOUND,
        "There is no such page. Go on from your list of jobs.",
    )
}
