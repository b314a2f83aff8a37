//! Samples: what is measured, for which purpose, where it was, and what is kept of it.
//!
//! Promises that a barcode is on one sample only, and that custody events are only ever added.
//! Whoever changes what concerns a sample locks its row first ([`store::lock`]), so that two
//! changes queue.

mod list_samples;
mod record_custody;
mod register_sample;
mod revise_sample;
mod show_sample;
pub(crate) mod store;
mod wire;

use crate::{
    db::Tx,
    error::{Answer, ApiError},
    kept::Kept,
    lots::words,
    named::{Names, Thing},
    samplings,
};
use domain::{faults::Faults, id::AccountId, samples::Sample};
use uuid::Uuid;

/// Routes of the slice.
pub fn routes(config: &mut utoipa_actix_web::service_config::ServiceConfig) {
    config
        .service(register_sample::register_sample)
        .service(list_samples::list_samples)
        .service(show_sample::show_sample)
        .service(revise_sample::revise_sample)
        .service(record_custody::record_custody);
}

/// Registers a sample under this id; `by` took it in where it does not say who did.
///
/// # Errors
/// [`ApiError::Invalid`] with the members that cannot be taken; [`ApiError::Duplicate`] for a
/// code or a barcode that is in use.
pub(crate) async fn register(
    tx: &mut Tx,
    id: Uuid,
    mut sample: Sample,
    by: Option<AccountId>,
) -> Answer<Kept<Sample>> {
    sample.received_by = sample.received_by.or(by);
    let kept = Kept::first(tx, id, sample);
    check(tx, &kept.content).await?;
    store::insert(tx, &kept).await?;
    check_sampling(tx, &kept.content).await?;
    Ok(kept)
}

/// Checks a sample against the vocabulary and against everything that it names.
async fn check(tx: &mut Tx, sample: &Sample) -> Answer<()> {
    let mut faults = Faults::default();
    words::commodity(&mut faults, "/commodity", &sample.commodity)?;
    faults.into_result()?;
    let mut names = Names::default();
    names.add(Thing::Site, sample.site, "/site");
    names.add(Thing::Lot, sample.lot, "/lot");
    names.add(Thing::Sampling, sample.sampling, "/sampling");
    names.add(Thing::Order, sample.order, "/order");
    let material = sample.control_material;
    names.add(Thing::ControlMaterial, material, "/control_material");
    names.add(Thing::Account, sample.received_by, "/received_by");
    let measured_by = sample.moisture.as_ref().and_then(|moisture| moisture.by);
    names.add(Thing::Account, measured_by, "/moisture/by");
    for (position, event) in sample.custody.iter().enumerate() {
        names.add(Thing::Account, event.by, format!("/custody/{position}/by"));
    }
    names.check(tx).await
}

/// Refuses a sampling of another lot. Asked once the sample is stored: its foreign key then holds
/// the sampling as it is, so that no change of its lot slips in between.
async fn check_sampling(tx: &mut Tx, sample: &Sample) -> Answer<()> {
    let Some(sampling) = sample.sampling else {
        return Ok(());
    };
    let lot = samplings::store::find(tx, sampling.0).await?.content.lot;
    if sample.lot == Some(lot) {
        return Ok(());
    }
    Err(ApiError::field(
        "/sampling",
        format!("Sampling {sampling} is of lot {lot}, not of the sample's. Name one of its lot."),
    ))
}
