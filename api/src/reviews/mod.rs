//! Reviews: the second person's signature over exactly what they were shown, or a return.
//!
//! Promises that results are released together or not at all, in one act with the signature.
//! Refuses a password that is not the reviewer's, what changed since it was shown, the reviewer's
//! own work, what is held and what is still to be computed again.

mod list_reviews;
pub(crate) mod pages;
mod refusal;
mod review_results;
mod show_review;
pub(crate) mod store;
mod wire;

pub(crate) use refusal::computation_due;
pub(crate) use store::{lock_samples_of, results as newest_results};

/// Routes of the slice.
pub fn routes(config: &mut utoipa_actix_web::service_config::ServiceConfig) {
    config
        .service(review_results::review_results)
        .service(list_reviews::list_reviews)
        .service(show_review::show_review);
}
