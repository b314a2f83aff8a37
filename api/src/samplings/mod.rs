//! Samplings: how increments were taken from a lot.
//!
//! Promises that a sampling is shown with what its plan asks for the lot, and what departs from it.
//! Refuses to move a sampling to another lot while samples came from it.

mod list_samplings;
mod record_sampling;
mod revise_sampling;
mod show_sampling;
pub(crate) mod store;
mod wire;

use self::wire::SamplingView;
use crate::{
    db::Tx,
    error::Answer,
    kept::Kept,
    lots,
    named::{Named, Thing},
};
use domain::{lots::Lot, samplings::Sampling};
use std::collections::HashMap;
use uuid::Uuid;

/// Routes of the slice.
pub fn routes(config: &mut utoipa_actix_web::service_config::ServiceConfig) {
    config
        .service(record_sampling::record_sampling)
        .service(list_samplings::list_samplings)
        .service(show_sampling::show_sampling)
        .service(revise_sampling::revise_sampling);
}

async fn check(tx: &mut Tx, sampling: &Sampling) -> Answer<()> {
    let mut named = Named::default();
    named.add(Thing::Lot, "/lot", Some(sampling.lot));
    named.add(Thing::Account, "/account", sampling.account);
    named.add(Thing::Equipment, "/instrument", sampling.instrument);
    named.must_be_there(tx).await
}

/// A sampling against its plan, for the lot as it is recorded now.
async fn checked(tx: &mut Tx, kept: Kept<Sampling>) -> Answer<SamplingView> {
    let lot = lots::store::find(tx, kept.content.lot.0).await?;
    Ok(SamplingView::of(kept, Some(&lot.content)))
}

/// Each sampling against its plan.
async fn all_checked(tx: &mut Tx, kept: Vec<Kept<Sampling>>) -> Answer<Vec<SamplingView>> {
    let wanted: Vec<Uuid> = kept.iter().map(|one| one.content.lot.0).collect();
    let lots: HashMap<Uuid, Lot> = lots::store::of_ids(tx, &wanted)
        .await?
        .into_iter()
        .map(|lot| (lot.id, lot.content))
        .collect();
    let view = |one: Kept<Sampling>| {
        let lot = lots.get(&one.content.lot.0);
        SamplingView::of(one, lot)
    };
    Ok(kept.into_iter().map(view).collect())
}
