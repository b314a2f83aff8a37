//! Samples: what is measured, for which purpose, where it was, and what is kept of it.
//!
//! Promises that a barcode is on one sample only, and that custody events are only ever added.
//! Whoever changes what concerns a sample locks its row first (`store::lock`), so that two
//! changes queue.

mod list_samples;
pub(crate) mod pages;
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
    named::{Named, Thing},
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

/// Registers a sample under this id; `by` took it in where it does not say who did. Its results
/// are left to the caller, who may have runs of it to record first.
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

/// Checks a sample against the vocabulary and against everything that it named.
async fn check(tx: &mut Tx, sample: &Sample) -> Answer<()> {
    let mut faults = Faults::default();
    words::commodity(&mut faults, "/commodity", &sample.commodity)?;
    faults.into_result()?;
    let mut named = Named::default();
    named.add(Thing::Site, "/site", sample.site);
    named.add(Thing::Lot, "/lot", sample.lot);
    named.add(Thing::Sampling, "/sampling", sample.sampling);
    named.add(Thing::Order, "/order", sample.order);
    let material = sample.control_material;
    named.add(Thing::ControlMaterial, "/control_material", material);
    named.add(Thing::Account, "/received_by", sample.received_by);
    let measured_by = sample.moisture.as_ref().and_then(|moisture| moisture.by);
    named.add(Thing::Account, "/moisture/by", measured_by);
    for (position, event) in sample.custody.iter().enumerate() {
        named.add(Thing::Account, format!("/custody/{position}/by"), event.by);
    }
    named.must_be_there(tx).await
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
