//! How a review is shown.

use crate::kept::Kept;
use domain::reviews::Review;
use serde::Serialize;
use uuid::Uuid;

/// A review, as it is shown.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub(crate) struct ReviewView {
    /// The review.
    pub id: Uuid,
    /// Its version.
    pub version: i32,
    /// What was signed.
    #[serde(flatten)]
    pub review: Review,
}

impl From<Kept<Review>> for ReviewView {
    fn from(kept: Kept<Review>) -> Self {
        Self {
            id: kept.id,
            version: kept.version,
            review: kept.content,
        }
    }
}
