//! The one error of the service, and the problem document (RFC 9457) it becomes.
//!
//! Text for the caller and cause for the log are kept apart: a 5xx shows no cause. Every variant
//! says what happened and what to do.

use actix_web::{
    HttpResponse, ResponseError,
    http::{StatusCode, header},
};
use domain::{
    faults::{Fault, Faults},
    statistics::StatisticsError,
};
use serde::{Deserialize, Serialize};

/// What an action answers with, or the reason why not.
pub type Answer<T> = Result<T, ApiError>;

mod computed;
mod database;

type Cause = Box<dyn std::error::Error + Send + Sync + 'static>;

/// Why a request was not done.
#[derive(Debug, thiserror::Error)]
pub enum ApiError {
    /// No token, or one that is not good (any more).
    #[error("not signed in: {0}")]
    Unauthenticated(String),
    /// Signed in, but not allowed.
    #[error("not permitted: {0}")]
    Forbidden(String),
    /// There is no such thing in this laboratory.
    #[error("not found: {0}")]
    NotFound(String),
    /// The request cannot be read at all.
    #[error("malformed: {0}")]
    Malformed(String),
    /// The body can be read, but fields of it cannot be taken.
    #[error("invalid: {0}")]
    Invalid(#[from] Faults),
    /// What was asked for cannot be computed from these numbers.
    #[error("not computed")]
    NotComputed {
        /// Why, with the quantity.
        #[source]
        fault: StatisticsError,
        /// JSON pointer to the quantity in the body, where it is known.
        pointer: Option<String>,
    },
    /// The state of things does not allow it.
    #[error("refused ({slug}): {detail}")]
    Refused {
        /// Which rule refused: the last part of the problem's type.
        slug: &'static str,
        /// What is wrong, with the value, and what to do.
        detail: String,
    },
    /// Something else has the same code, number or barcode.
    #[error("duplicate: {0}")]
    Duplicate(String),
    /// The caller named a version that is not the newest.
    #[error("stale: {0}")]
    Stale(String),
    /// The caller must name the version that they saw.
    #[error("precondition required")]
    PreconditionRequired,
    /// A POST that creates came without an idempotency key.
    #[error("idempotency key missing")]
    KeyMissing,
    /// The idempotency key came before, with another body.
    #[error("idempotency key reused")]
    KeyReused,
    /// The first request with this idempotency key is still being done.
    #[error("in flight")]
    InFlight,
    /// The body is larger than is taken.
    #[error("too large: more than {0} bytes")]
    TooLarge(usize),
    /// The body is of a kind that is not taken here.
    #[error("unsupported media type: {0}")]
    UnsupportedMedia(String),
    /// Too many refused passwords.
    #[error("too many attempts")]
    TooManyAttempts {
        /// Seconds until the next is taken.
        retry_after_s: i64,
    },
    /// The laboratory's log is behind what was signed of it: nothing may be written.
    #[error("suspended: {0}")]
    Suspended(String),
    /// The database cannot be reached, or gave up.
    #[error("unavailable")]
    Unavailable(#[source] Cause),
    /// A fault of ours.
    #[error("internal")]
    Internal(#[source] Cause),
}

impl ApiError {
    /// A fault of ours, with its cause for the log.
    pub fn internal(cause: impl Into<Cause>) -> Self {
        Self::Internal(cause.into())
    }

    /// A refusal by the state of things.
    pub fn refused(slug: &'static str, detail: impl Into<String>) -> Self {
        Self::Refused {
            slug,
            detail: detail.into(),
        }
    }

    /// One field that cannot be taken.
    pub fn field(pointer: impl Into<String>, detail: impl Into<String>) -> Self {
        let mut faults = Faults::default();
        faults.add(pointer, detail);
        Self::Invalid(faults)
    }

    /// No `what` with this id in the laboratory.
    pub fn missing(what: &str, id: impl std::fmt::Display) -> Self {
        Self::NotFound(format!(
            "There is no {what} {id} in this laboratory. Look it up in the list."
        ))
    }

    /// The same refusal of what stands below `prefix` in the body.
    #[must_use]
    pub fn within(self, prefix: &str) -> Self {
        let Self::Invalid(below) = self else {
            return self;
        };
        let mut faults = Faults::default();
        faults.nest(prefix, Err(below));
        Self::Invalid(faults)
    }

    /// The refusal of a body that names, at `pointer`, what is not there: 422 instead of 404.
    #[must_use]
    pub fn named_at(self, pointer: &str) -> Self {
        let Self::NotFound(detail) = self else {
            return self;
        };
        Self::field(pointer, detail)
    }

    /// Status and type of the problem document.
    #[must_use]
    pub fn kind(&self) -> (StatusCode, &'static str) {
        match self {
            Self::Unauthenticated(_) => (StatusCode::UNAUTHORIZED, "not-signed-in"),
            Self::Forbidden(_) => (StatusCode::FORBIDDEN, "not-permitted"),
            Self::NotFound(_) => (StatusCode::NOT_FOUND, "not-found"),
            Self::Malformed(_) => (StatusCode::BAD_REQUEST, "malformed"),
            Self::Invalid(_) => (StatusCode::UNPROCESSABLE_ENTITY, "invalid-fields"),
            Self::NotComputed { fault, .. } => {
                (StatusCode::UNPROCESSABLE_ENTITY, computed::slug(fault))
            }
            Self::Refused { slug, .. } => (StatusCode::CONFLICT, slug),
            Self::Duplicate(_) => (StatusCode::CONFLICT, "duplicate"),
            Self::Stale(_) => (StatusCode::PRECONDITION_FAILED, "stale-version"),
            Self::PreconditionRequired => (StatusCode::PRECONDITION_REQUIRED, "version-required"),
            Self::KeyMissing => (StatusCode::BAD_REQUEST, "idempotency-key-missing"),
            Self::KeyReused => (StatusCode::UNPROCESSABLE_ENTITY, "idempotency-key-reused"),
            Self::InFlight => (StatusCode::CONFLICT, "request-in-flight"),
            Self::TooLarge(_) => (StatusCode::PAYLOAD_TOO_LARGE, "too-large"),
            Self::UnsupportedMedia(_) => {
                (StatusCode::UNSUPPORTED_MEDIA_TYPE, "unsupported-media-type")
            }
            Self::TooManyAttempts { .. } => (StatusCode::TOO_MANY_REQUESTS, "too-many-attempts"),
            Self::Suspended(_) => (StatusCode::SERVICE_UNAVAILABLE, "log-suspended"),
            Self::Unavailable(_) => (StatusCode::SERVICE_UNAVAILABLE, "unavailable"),
            Self::Internal(_) => (StatusCode::INTERNAL_SERVER_ERROR, "internal"),
        }
    }

    fn detail(&self) -> String {
        match self {
            Self::Unauthenticated(detail)
            | Self::Forbidden(detail)
            | Self::NotFound(detail)
            | Self::Malformed(detail)
            | Self::Duplicate(detail)
            | Self::Stale(detail)
            | Self::UnsupportedMedia(detail)
            | Self::Refused { detail, .. } => detail.clone(),
            Self::NotComputed { fault, .. } => format!("{fault}."),
            Self::Invalid(faults) => match faults.0.as_slice() {
                [only] => only.detail.clone(),
                several => format!(
                    "{} fields cannot be taken as they are; `errors` names each.",
                    several.len()
                ),
            },
            Self::PreconditionRequired => "Say which version you saw: send its ETag in If-Match, \
                so that nobody's change is lost."
                .into(),
            Self::KeyMissing => "Send an Idempotency-Key header: a random value of your own in \
                quotes, the same again when you repeat the request."
                .into(),
            Self::KeyReused => "This Idempotency-Key came before with another body. Send the \
                same body to repeat that request, or a new key for a new one."
                .into(),
            Self::InFlight => "The first request with this Idempotency-Key is still being done. \
                Repeat it in a second."
                .into(),
            Self::TooLarge(limit) => {
                format!("The body is larger than {limit} bytes. Split it, or post it as an import.")
            }
            Self::TooManyAttempts { retry_after_s } => format!(
                "A password was refused too often. Try again in {retry_after_s} seconds, or ask \
                 the administrator."
            ),
            Self::Suspended(found) => format!(
                "{found} Nothing of this request was kept, and reads go on. A quality manager \
                 states what happened at POST …/logs; then the next log begins, and this request \
                 may be repeated."
            ),
            Self::Unavailable(_) => "The database cannot be reached just now. Nothing of this \
                request was kept: repeat it, with the same Idempotency-Key."
                .into(),
            Self::Internal(_) => "The fault is ours and was logged. Nothing of this request was \
                kept. Repeat it, and tell the operator when it happens again."
                .into(),
        }
    }

    fn quantity(&self) -> Option<String> {
        if let Self::NotComputed { fault, .. } = self {
            return Some(fault.quantity().to_owned());
        }
        None
    }

    /// The problem document.
    #[must_use]
    pub fn problem(&self) -> Problem {
        let (status, slug) = self.kind();
        Problem {
            kind: format!("/problems/{slug}"),
            title: title(slug).to_owned(),
            status: status.as_u16(),
            detail: self.detail(),
            quantity: self.quantity(),
            errors: match self {
                Self::Invalid(Faults(faults)) => faults
                    .iter()
                    .map(|fault| Fault {
                        pointer: format!("#{}", fault.pointer),
                        detail: fault.detail.clone(),
                    })
                    .collect(),
                Self::NotComputed {
                    fault,
                    pointer: Some(pointer),
                } => vec![Fault {
                    pointer: format!("#{pointer}"),
                    detail: format!("{fault}."),
                }],
                Self::NotComputed { pointer: None, .. }
                | Self::Unauthenticated(_)
                | Self::Forbidden(_)
                | Self::NotFound(_)
                | Self::Malformed(_)
                | Self::Refused { .. }
                | Self::Duplicate(_)
                | Self::Stale(_)
                | Self::PreconditionRequired
                | Self::KeyMissing
                | Self::KeyReused
                | Self::InFlight
                | Self::TooLarge(_)
                | Self::UnsupportedMedia(_)
                | Self::TooManyAttempts { .. }
                | Self::Suspended(_)
                | Self::Unavailable(_)
                | Self::Internal(_) => Vec::new(),
            },
        }
    }
}

/// A problem document (RFC 9457). Tell kinds apart by `type`.
#[derive(Debug, Clone, Serialize, Deserialize, utoipa::ToSchema)]
pub struct Problem {
    /// Which kind of problem: an address that explains it.
    #[serde(rename = "type")]
    #[schema(example = "/problems/invalid-fields")]
    pub kind: String,
    /// The kind, in words; the same each time.
    pub title: String,
    /// The HTTP status.
    #[schema(example = 422)]
    pub status: u16,
    /// What happened here, and what to do.
    pub detail: String,
    /// Of a computation without an answer: the quantity that stood in its way.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub quantity: Option<String>,
    /// The faults, field by field (`pointer` is a URI fragment holding a JSON pointer).
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub errors: Vec<Fault>,
}

/// The title of a kind of problem.
#[must_use]
pub fn title(slug: &str) -> &str {
    match slug {
        "not-signed-in" => "Not signed in",
        "not-permitted" => "Not permitted",
        "not-found" => "Not found",
        "malformed" => "The request cannot be read",
        "invalid-fields" => "Fields cannot be taken",
        "duplicate" => "The same stands here already",
        "stale-version" => "It was changed meanwhile",
        "version-required" => "The version must be named",
        "idempotency-key-missing" => "Idempotency-Key is missing",
        "idempotency-key-reused" => "Idempotency-Key was used for something else",
        "request-in-flight" => "The same request is being done",
        "too-large" => "The body is too large",
        "unsupported-media-type" => "This kind of body is not taken",
        "too-many-attempts" => "Too many refused passwords",
        "log-suspended" => "The log may not go on",
        "unavailable" => "The database cannot be reached",
        "internal" => "A fault of the service",
        slug if computed::title(slug).is_some() => computed::title(slug).unwrap_or_default(),
        _ => "Not possible in this state",
    }
}

impl ResponseError for ApiError {
    fn status_code(&self) -> StatusCode {
        self.kind().0
    }

    fn error_response(&self) -> HttpResponse {
        let (status, slug) = self.kind();
        if status.is_server_error() {
            tracing::error!(slug, cause = chain(self), "request failed");
        } else {
            tracing::info!(slug, status = status.as_u16(), "request refused");
        }
        let mut response = HttpResponse::build(status);
        if let Self::TooManyAttempts { retry_after_s } = self {
            response.insert_header((header::RETRY_AFTER, retry_after_s.to_string()));
        }
        if matches!(self, Self::Unavailable(_) | Self::InFlight) {
            response.insert_header((header::RETRY_AFTER, "1"));
        }
        if matches!(self, Self::Unauthenticated(_)) {
            response.insert_header((header::WWW_AUTHENTICATE, "Bearer"));
        }
        response
            .content_type("application/problem+json")
            .body(serde_json::to_string(&self.problem()).unwrap_or_default())
    }
}

/// An error and all its causes, one after the other.
#[must_use]
pub fn chain(error: &dyn std::error::Error) -> String {
    let mut text = error.to_string();
    let mut source = error.source();
    while let Some(cause) = source {
        text.push_str(": ");
        text.push_str(&cause.to_string());
        source = cause.source();
    }
    text
}
