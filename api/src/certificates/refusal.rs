//! What a certificate is refused with.

use crate::error::ApiError;
use domain::certificates::{CertificateError, IssuedError};

/// What is not recorded, and must be before a certificate can be issued.
pub(super) fn incomplete(what: impl std::fmt::Display) -> ApiError {
    ApiError::refused(
        "certificate-incomplete",
        format!("No certificate can be issued: {what}. Complete the record, then issue."),
    )
}

/// What the check of the whole certificate found.
pub(super) fn of_check(refused: &CertificateError) -> ApiError {
    incomplete(refused)
}

/// A certificate whose state does not change.
pub(super) fn of_state(refused: &IssuedError) -> ApiError {
    ApiError::refused(
        "not-in-this-state",
        format!("Nothing was changed: {refused}. Look at its newest version."),
    )
}
