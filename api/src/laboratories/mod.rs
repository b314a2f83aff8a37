//! The laboratory itself: its particulars, and how one is set up.
//!
//! A laboratory is set up by the operator at the command line, with its keys and its first
//! administrator; everything else is done through the API.

mod revise_laboratory;
mod set_up;
mod show_laboratory;
pub(crate) mod store;

pub use set_up::{SetUp, set_up};

use crate::{
    db::Tx,
    error::{Answer, ApiError},
};
use chrono::NaiveDate;

/// The day that it is where the laboratory is, as its transaction sees it.
///
/// # Errors
/// [`ApiError::Internal`] where its time zone is none.
pub(crate) async fn today(tx: &mut Tx) -> Answer<NaiveDate> {
    let laboratory = store::find(tx).await?.content;
    let zone: chrono_tz::Tz = laboratory.time_zone.parse().map_err(ApiError::internal)?;
    Ok(tx.now().utc().with_timezone(&zone).date_naive())
}

/// Routes of the slice.
pub fn routes(config: &mut utoipa_actix_web::service_config::ServiceConfig) {
    config
        .service(show_laboratory::show_laboratory)
        .service(revise_laboratory::revise_laboratory);
}
