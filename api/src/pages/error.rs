//! The one error of the service as a page, and the way to sign-in for whoever is not signed in.

use super::frame::{self, Frame};
use crate::error::{ApiError, Problem};
use actix_web::{
    HttpResponse, ResponseError,
    http::{StatusCode, header},
};
use askama::Template;

/// Why a page is not shown.
#[derive(Debug, thiserror::Error)]
pub(crate) enum PageError {
    /// The same refusal that the API would answer with.
    #[error(transparent)]
    Refused(#[from] ApiError),
    /// Nobody is signed in (any more): leads to sign-in, with the way back.
    #[error("leads to sign-in")]
    SignIn {
        /// Where sign-in is.
        location: String,
    },
}

#[derive(Template)]
#[template(path = "error.html")]
struct ErrorPage<'a> {
    frame: Frame,
    problem: &'a Problem,
}

/// A refusal as a page in the bare frame.
pub(super) fn refusal(error: &ApiError) -> HttpResponse {
    // The API's answer is built first: it logs, and says when to come back.
    let answer = error.error_response();
    let problem = error.problem();
    let page = ErrorPage {
        frame: Frame::bare(),
        problem: &problem,
    };
    let mut response = frame::html(error.status_code(), &page);
    if let Some(after) = answer.headers().get(header::RETRY_AFTER) {
        response
            .headers_mut()
            .insert(header::RETRY_AFTER, after.clone());
    }
    response
}

impl ResponseError for PageError {
    fn status_code(&self) -> StatusCode {
        match self {
            Self::Refused(error) => error.status_code(),
            Self::SignIn { .. } => StatusCode::SEE_OTHER,
        }
    }

    fn error_response(&self) -> HttpResponse {
        match self {
            Self::Refused(error) => refusal(error),
            Self::SignIn { location } => HttpResponse::SeeOther()
                .insert_header((header::LOCATION, location.as_str()))
                .insert_header((header::CACHE_CONTROL, "no-store"))
                .finish(),
        }
    }
}
