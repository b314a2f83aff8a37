//! Corrections: a new version with its reason; the old one stays readable.
//!
//! Promises that every change of what was recorded leaves a correction in the same act. Refuses a
//! change that changes nothing, and one without a reason.

mod list_corrections;
mod show_correction;
mod store;
mod wire;

pub use domain::corrections::Reason;
pub(crate) use store::erase;
pub(crate) use store::replay;

use crate::{
    db::Tx,
    error::{Answer, ApiError},
    ids,
    kept::{Kept, Subject},
};
use domain::{correctable, corrections::Correction, versions::SubjectVersion};

/// Routes of the slice.
pub fn routes(config: &mut utoipa_actix_web::service_config::ServiceConfig) {
    config
        .service(list_corrections::list_corrections)
        .service(show_correction::show_correction);
}

/// Records what changed from one version to the next, and why.
///
/// # Errors
/// [`ApiError::Refused`]: `nothing-changes`, or `not-correctable` where a member never changes.
pub async fn record<T: Subject>(
    tx: &mut Tx,
    before: &Kept<T>,
    after: &Kept<T>,
    reason: &Reason,
) -> Answer<Kept<Correction>> {
    let old = serde_json::to_value(&before.content).map_err(ApiError::internal)?;
    let new = serde_json::to_value(&after.content).map_err(ApiError::internal)?;
    correctable::check(T::KIND, &old, &new)
        .map_err(|fixed| ApiError::refused("not-correctable", format!("Refused: {fixed}.")))?;
    let of = SubjectVersion {
        subject: before.id,
        version: u32::try_from(before.version).map_err(ApiError::internal)?,
    };
    let correction = Correction::between(of, &old, &new, T::DISCLOSED)
        .map_err(|nothing| ApiError::refused("nothing-changes", format!("Refused: {nothing}.")))?;
    let kept = Kept::first(tx, ids::fresh(), correction);
    store::insert(tx, &kept).await?;
    tx.draft.because(reason.code.name(), &reason.text);
    Ok(kept)
}
