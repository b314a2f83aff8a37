//! Samplings: how increments were taken from a lot.
//!
//! Refuses to move a sampling to another lot while samples came from it.

mod list_samplings;
mod record_sampling;
mod revise_sampling;
mod show_sampling;
pub(crate) mod store;
mod wire;

use crate::{
    db::Tx,
    error::Answer,
    named::{Named, Thing},
};
use domain::samplings::Sampling;

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
