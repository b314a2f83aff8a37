//! Series: the runs that share their control runs.
//!
//! Promises that the kit lot of a series is one of its procedure; refuses to close it twice.

mod close_series;
mod list_series;
mod open_series;
mod show_series;
pub(crate) mod store;
mod wire;

use crate::error::ApiError;
use domain::series::SeriesError;

/// Routes of the slice.
pub fn routes(config: &mut utoipa_actix_web::service_config::ServiceConfig) {
    config
        .service(open_series::open_series)
        .service(list_series::list_series)
        .service(show_series::show_series)
        .service(close_series::close_series);
}

impl From<SeriesError> for ApiError {
    fn from(error: SeriesError) -> Self {
        Self::refused("series-state", format!("Refused: {error}."))
    }
}
