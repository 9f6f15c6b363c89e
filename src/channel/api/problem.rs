//! What goes wrong, as RFC 9457 has it: a type with a page, a title, a status and one sentence.

use axum::extract::Path;
use axum::http::StatusCode;
use axum::http::header::{
    CONTENT_SECURITY_POLICY, CONTENT_TYPE, HeaderValue, RETRY_AFTER, WWW_AUTHENTICATE,
};
use axum::response::{Html, IntoResponse, Response};
use serde::Serialize;
use utoipa::ToSchema;

use super::words;
use crate::check::Finding;
use crate::desk::DeskError;

/// The kinds of problems. Each has a page at its type's address.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Kind {
    NoToken,
    OutOfScope,
    NotFound,
    MethodNotAllowed,
    NotUnderstood,
    NotJson,
    TooLarge,
    Findings,
    NeedsName,
    NameTaken,
    UnderWay,
    NeedsIfMatch,
    HasChanged,
    TooMany,
    TryAgain,
    Fault,
}

/// What every problem is sent as, per RFC 9457.
pub(super) const MEDIA_TYPE: &str = "application/problem+json";

impl Kind {
    pub(super) const ALL: [Kind; 16] = [
        Kind::NoToken,
        Kind::OutOfScope,
        Kind::NotFound,
        Kind::MethodNotAllowed,
        Kind::NotUnderstood,
        Kind::NotJson,
        Kind::TooLarge,
        Kind::Findings,
        Kind::NeedsName,
        Kind::NameTaken,
        Kind::UnderWay,
        Kind::NeedsIfMatch,
        Kind::HasChanged,
        Kind::TooMany,
        Kind::TryAgain,
        Kind::Fault,
    ];

    /// The last part of its address, and its title.
    const fn named(self) -> (&'static str, &'static str) {
        match self {
            Kind::NoToken => ("no-token", "No token that works"),
            Kind::OutOfScope => ("out-of-scope", "Not allowed with this token"),
            Kind::NotFound => ("not-found", "Not there"),
            Kind::MethodNotAllowed => ("method-not-allowed", "Cannot be done here"),
            Kind::NotUnderstood => ("not-understood", "Not understood"),
            Kind::NotJson => ("not-json", "Not JSON"),
            Kind::TooLarge => ("too-large", "Too large"),
            Kind::Findings => ("findings", "The flows have errors"),
            Kind::NeedsName => ("needs-idempotency-key", "Needs an Idempotency-Key"),
            Kind::NameTaken => ("idempotency-key-taken", "The Idempotency-Key is taken"),
            Kind::UnderWay => ("under-way", "Under way"),
            Kind::NeedsIfMatch => ("needs-if-match", "Needs If-Match"),
            Kind::HasChanged => ("has-changed", "Has changed"),
            Kind::TooMany => ("too-many-requests", "Too many requests"),
            Kind::TryAgain => ("try-again", "Try again"),
            Kind::Fault => ("fault", "A fault of the server"),
        }
    }

    /// The status that it is answered with.
    pub(super) const fn status(self) -> StatusCode {
        match self {
            Kind::NoToken => StatusCode::UNAUTHORIZED,
            Kind::OutOfScope => StatusCode::FORBIDDEN,
            Kind::NotFound => StatusCode::NOT_FOUND,
            Kind::MethodNotAllowed => StatusCode::METHOD_NOT_ALLOWED,
            Kind::NotUnderstood => StatusCode::UNPROCESSABLE_ENTITY,
            Kind::NotJson => StatusCode::BAD_REQUEST,
            Kind::TooLarge => StatusCode::PAYLOAD_TOO_LARGE,
            Kind::Findings => StatusCode::UNPROCESSABLE_ENTITY,
            Kind::NeedsName => StatusCode::BAD_REQUEST,
            Kind::NameTaken => StatusCode::UNPROCESSABLE_ENTITY,
            Kind::UnderWay => StatusCode::CONFLICT,
            Kind::NeedsIfMatch => StatusCode::PRECONDITION_REQUIRED,
            Kind::HasChanged => StatusCode::PRECONDITION_FAILED,
            Kind::TooMany => StatusCode::TOO_MANY_REQUESTS,
            Kind::TryAgain => StatusCode::SERVICE_UNAVAILABLE,
            Kind::Fault => StatusCode::INTERNAL_SERVER_ERROR,
        }
    }

    /// What its page says.
    const fn about(self) -> &'static str {
        match self {
            Kind::NoToken => {
                "The request shows no token, or one that does not work: it was taken back, its \
                 time is over, or its supervisor left. Ask a supervisor of the crew for a new one \
                 and send it as “Authorization: Bearer TOKEN”."
            }
            Kind::OutOfScope => {
                "The token works but is not good for this. A supervisor can make another with the \
                 scope that is named in the problem."
            }
            Kind::NotFound => {
                "The crew has no such thing. What belongs to another crew is answered the same."
            }
            Kind::MethodNotAllowed => "The address is right, but not for this method.",
            Kind::NotUnderstood => {
                "The request reads well but asks for something that cannot be. The sentence in \
                 the problem says what is wrong and what is expected."
            }
            Kind::NotJson => "The body must be JSON, with “Content-Type: application/json”.",
            Kind::TooLarge => "A request may have 8 MiB.",
            Kind::Findings => {
                "Nothing was published. “findings” lists what the checker found, with places."
            }
            Kind::NeedsName => {
                "What changes something must carry the header Idempotency-Key: 1 to 255 visible \
                 characters of your own, another for every request, the same when you repeat one."
            }
            Kind::NameTaken => {
                "This key was sent before with a request that asked for something else. Choose \
                 another key."
            }
            Kind::UnderWay => {
                "The same request is being handled at this moment. Repeat it in a second."
            }
            Kind::NeedsIfMatch => {
                "What replaces something must say what it replaces: send If-Match with the ETag \
                 that you read."
            }
            Kind::HasChanged => {
                "It is not what you read any more. Read it again, make your change to that, then \
                 send it."
            }
            Kind::TooMany => "Wait as many seconds as Retry-After says, then go on more slowly.",
            Kind::TryAgain => {
                "The server could not keep or read this just now. Nothing was lost; repeat the \
                 request with the same Idempotency-Key."
            }
            Kind::Fault => "The server has a fault. Nothing was lost. Tell its operator.",
        }
    }
}

/// A problem, ready to be answered.
#[derive(Clone, Debug)]
pub(super) struct Problem {
    kind: Kind,
    status: StatusCode,
    detail: String,
    findings: Vec<FindingBody>,
    retry_after: Option<u64>,
}

/// A problem as it is sent.
#[derive(Serialize, ToSchema)]
#[schema(as = Problem, description = "What went wrong (RFC 9457).")]
pub(super) struct ProblemBody {
    /// The address of a page about this kind of problem, relative to this server.
    #[serde(rename = "type")]
    kind: String,
    /// The kind in a few words.
    title: String,
    /// The HTTP status.
    status: u16,
    /// One sentence: what is wrong and what to do.
    detail: String,
    /// What the checker found in flows that were to be published.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    #[schema(required = false)]
    findings: Vec<FindingBody>,
}

/// One finding of the checker.
#[derive(Clone, Debug, Serialize, ToSchema)]
#[schema(as = Finding, description = "What the checker found at one place of a flow file.")]
pub(super) struct FindingBody {
    /// The name of the rule.
    name: String,
    /// How bad it is: an error keeps flows from being published.
    #[schema(schema_with = words::grade)]
    grade: &'static str,
    /// The file.
    file: String,
    /// The line, from 1.
    line: u32,
    /// The column, from 1.
    column: u32,
    /// What is wrong.
    wrong: String,
    /// Why that matters.
    why: String,
    /// What to do about it.
    mend: String,
}

impl From<&Finding> for FindingBody {
    fn from(finding: &Finding) -> FindingBody {
        FindingBody {
            name: finding.name.to_owned(),
            grade: finding.grade.word(),
            file: finding.file.clone(),
            line: finding.line,
            column: finding.column,
            wrong: finding.wrong.clone(),
            why: finding.why.clone(),
            mend: finding.mend.clone(),
        }
    }
}

impl Problem {
    pub(super) fn new(kind: Kind, detail: impl Into<String>) -> Problem {
        Problem {
            kind,
            status: kind.status(),
            detail: detail.into(),
            findings: Vec::new(),
            retry_after: None,
        }
    }

    /// A problem that needs no sentence of its own: the one of its page says it all.
    pub(super) fn of(kind: Kind) -> Problem {
        Problem::new(kind, kind.about())
    }

    pub(super) fn not_found(what: &'static str) -> Problem {
        DeskError::NotFound(what).into()
    }

    pub(super) fn fault() -> Problem {
        Problem::of(Kind::Fault)
    }

    pub(super) fn found(findings: &[Finding]) -> Problem {
        Problem {
            findings: findings.iter().map(FindingBody::from).collect(),
            ..Problem::of(Kind::Findings)
        }
    }

    /// The same problem under a closer status of its family.
    pub(super) fn with_status(self, status: StatusCode) -> Problem {
        Problem { status, ..self }
    }

    pub(super) fn after(self, seconds: u64) -> Problem {
        Problem {
            retry_after: Some(seconds),
            ..self
        }
    }
}

impl From<DeskError> for Problem {
    fn from(error: DeskError) -> Problem {
        let kind = match &error {
            DeskError::NotSignedIn => Kind::NoToken,
            DeskError::NotFound(what) => {
                let sentence = format!("There is no such {what} in your crew.");
                return Problem::new(Kind::NotFound, sentence);
            }
            DeskError::NotAllowed(_) => Kind::OutOfScope,
            DeskError::NotUnderstood(_)
            | DeskError::BadCode
            | DeskError::BadPassword
            | DeskError::Refused(_) => Kind::NotUnderstood,
            DeskError::Busy
            | DeskError::Crowded
            | DeskError::Store(_)
            | DeskError::NoRoom(_)
            | DeskError::Stopped(_)
            | DeskError::Unsure(_) => Kind::TryAgain,
            DeskError::Fault(_) => Kind::Fault,
        };
        if error.is_fault() {
            tracing::error!(
                error = error.for_the_log(),
                "a request could not be answered"
            );
            return Problem::of(kind);
        }
        Problem::new(kind, error.to_string())
    }
}

impl IntoResponse for Problem {
    fn into_response(self) -> Response {
        let (word, title) = self.kind.named();
        let body = ProblemBody {
            kind: format!("/problems/{word}"),
            title: title.to_owned(),
            status: self.status.as_u16(),
            detail: self.detail,
            findings: self.findings,
        };
        let text = serde_json::to_string(&body).unwrap_or_default();
        let kind = [(CONTENT_TYPE, MEDIA_TYPE)];
        let mut response = (self.status, kind, text).into_response();
        let headers = response.headers_mut();
        if self.status == StatusCode::UNAUTHORIZED {
            headers.insert(WWW_AUTHENTICATE, HeaderValue::from_static("Bearer"));
        }
        if let Some(seconds) = self.retry_after {
            headers.insert(RETRY_AFTER, HeaderValue::from(seconds));
        }
        response
    }
}

/// The page about a kind of problem.
pub(super) async fn show(Path(word): Path<String>) -> Response {
    let found = Kind::ALL.into_iter().find(|kind| kind.named().0 == word);
    let Some(kind) = found else {
        return Problem::not_found("problem").into_response();
    };
    let ((_, title), status, about) = (kind.named(), kind.status(), kind.about());
    // Nothing of this comes from outside, so there is nothing to escape.
    let page = format!(
        "<!doctype html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n\
         <title>{title} · Fanwright</title>\n\
         <link rel=\"stylesheet\" href=\"/assets/page.css\">\n</head>\n<body>\n<main id=\"main\">\n\
         <h1>{title}</h1>\n<p>{about}</p>\n\
         <p class=\"quiet\">Status {}. A problem of the API for other programs.</p>\n\
         <p><a href=\"/openapi.json\">The description of the API</a></p>\n</main>\n</body>\n\
         </html>\n",
        status.as_u16()
    );
    let policy = "default-src 'none'; style-src 'self'; base-uri 'none'; form-action 'none'; \
                  frame-ancestors 'none'";
    ([(CONTENT_SECURITY_POLICY, policy)], Html(page)).into_response()
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use super::*;

    #[test]
    fn every_kind_has_an_address_of_its_own() {
        let words: BTreeSet<&str> = Kind::ALL.iter().map(|kind| kind.named().0).collect();
        assert_eq!(words.len(), Kind::ALL.len());
        for kind in Kind::ALL {
            let ((word, title), status, about) = (kind.named(), kind.status(), kind.about());
            assert!(
                word.bytes()
                    .all(|letter| letter == b'-' || letter.is_ascii_lowercase())
            );
            assert!(
                status.is_client_error() || status.is_server_error(),
                "{word}"
            );
            assert!(!title.ends_with('.') && about.ends_with('.'), "{word}");
        }
    }
}
