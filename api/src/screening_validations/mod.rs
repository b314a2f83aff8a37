//! Validations of screening methods: recorded day by day, adopted with their figures, reviewed
//! every year.
//!
//! Promises that what stands beside a named run is what the run read, and that the figures a
//! procedure decides by are those that somebody adopted. Refuses to adopt a study that is not
//! complete, and to withdraw one that a procedure decides by.

mod adopt_screening_validation;
mod checking;
mod gathering;
mod list_screening_reviews;
mod list_screening_validations;
pub(crate) mod pages;
mod picture;
mod record_screening_validation;
mod review_screening_validation;
mod revise_screening_validation;
mod show_screening_report;
mod show_screening_review;
mod show_screening_validation;
mod standing;
pub(crate) mod store;
mod tie;
mod wire;
mod withdraw_screening_validation;

pub(crate) use tie::tie_to_validations;

use crate::{error::ApiError, request::Entered};
use domain::{
    faults::Faults,
    screening_validations::{
        ScreeningReviewError, ScreeningValidationEntry, ScreeningValidationError,
    },
};

/// Kind of the refusals by the state of a validation.
const STATE: &str = "screening-validation-state";

/// Routes of the slice.
pub fn routes(config: &mut utoipa_actix_web::service_config::ServiceConfig) {
    config
        .service(record_screening_validation::record_screening_validation)
        .service(list_screening_validations::list_screening_validations)
        .service(show_screening_validation::show_screening_validation)
        .service(revise_screening_validation::revise_screening_validation)
        .service(adopt_screening_validation::adopt_screening_validation)
        .service(withdraw_screening_validation::withdraw_screening_validation)
        .service(show_screening_report::show_screening_report)
        .service(review_screening_validation::review_screening_validation)
        .service(list_screening_reviews::list_screening_reviews)
        .service(show_screening_review::show_screening_review);
}

impl Entered for ScreeningValidationEntry {
    fn check(&self) -> Result<(), Faults> {
        ScreeningValidationEntry::check(self)
    }
}

impl From<ScreeningValidationError> for ApiError {
    fn from(error: ScreeningValidationError) -> Self {
        match error {
            ScreeningValidationError::Faults(faults) => Self::Invalid(faults),
            ScreeningValidationError::Incomplete(fault) => Self::NotComputed {
                fault,
                pointer: None,
            },
            ScreeningValidationError::Not { .. } | ScreeningValidationError::LawEnded { .. } => {
                Self::refused(STATE, format!("Refused: {error}."))
            }
        }
    }
}

impl From<ScreeningReviewError> for ApiError {
    fn from(error: ScreeningReviewError) -> Self {
        match error {
            ScreeningReviewError::Incomplete(fault) => Self::NotComputed {
                fault,
                pointer: None,
            },
            ScreeningReviewError::NotAdopted { .. } | ScreeningReviewError::NotInFull { .. } => {
                Self::refused(STATE, format!("Refused: {error}."))
            }
        }
    }
}
