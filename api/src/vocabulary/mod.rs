//! The controlled vocabulary: what a good is, and what it is meant for.
//!
//! It comes with the program and is the same for every laboratory: whoever has a token may read it.

mod list_commodities;
mod list_uses;
mod wire;

use crate::error::{Answer, ApiError};
use domain::commodities::{Vocabulary, VocabularyError};
use std::sync::LazyLock;

static SHIPPED: LazyLock<Result<Vocabulary, VocabularyError>> = LazyLock::new(Vocabulary::shipped);

/// The vocabulary, read once.
///
/// # Errors
/// [`ApiError::Internal`] where the shipped tables are no vocabulary, which a test excludes.
pub fn shipped() -> Answer<&'static Vocabulary> {
    SHIPPED
        .as_ref()
        .map_err(|fault| ApiError::internal(fault.to_string()))
}

/// Routes of the slice.
pub fn routes(config: &mut utoipa_actix_web::service_config::ServiceConfig) {
    config
        .service(list_commodities::list_commodities)
        .service(list_uses::list_uses);
}
