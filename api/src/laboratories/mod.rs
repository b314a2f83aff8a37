//! The laboratory itself: its particulars, and how one is set up.
//!
//! A laboratory is set up by the operator at the command line, with its keys and its first
//! administrator; everything else is done through the API.

mod set_up;
mod show_laboratory;
pub(crate) mod store;

pub use set_up::{SetUp, set_up};

/// Routes of the slice.
pub fn routes(config: &mut utoipa_actix_web::service_config::ServiceConfig) {
    config.service(show_laboratory::show_laboratory);
}
