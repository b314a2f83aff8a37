//! Lots: the goods, their sublots, their parties and which customers may see what of them.
//!
//! Promises that a customer finds its own lots and those that its part in them lets it see, and
//! nothing of anybody else's. Refuses a commodity, use or jurisdiction that nobody knows, and a
//! chain of sublots that comes back to where it began.

mod list_lots;
pub(crate) mod pages;
mod register_lot;
mod revise_lot;
mod show_lot;
mod show_sampling_plan;
pub(crate) mod store;
mod wire;
pub(crate) mod words;

use crate::{
    db::Tx,
    error::{Answer, ApiError},
    kept::Kept,
    named::{Named, Thing},
};
use domain::{
    faults::Faults,
    id::{CustomerId, LotId},
    lots::{Lot, LotError},
};
use uuid::Uuid;

/// Routes of the slice.
pub fn routes(config: &mut utoipa_actix_web::service_config::ServiceConfig) {
    config
        .service(register_lot::register_lot)
        .service(list_lots::list_lots)
        .service(show_lot::show_lot)
        .service(show_sampling_plan::show_sampling_plan)
        .service(revise_lot::revise_lot);
}

/// Registers a lot under this id.
///
/// # Errors
/// [`ApiError::Invalid`] with the members that cannot be taken; [`ApiError::Duplicate`].
pub(crate) async fn register(tx: &mut Tx, id: Uuid, lot: Lot) -> Answer<Kept<Lot>> {
    let kept = Kept::first(tx, id, lot);
    check(tx, &kept, None).await?;
    store::insert(tx, &kept).await?;
    Ok(kept)
}

/// Checks a lot against the vocabulary and against everything that it named.
async fn check(tx: &mut Tx, kept: &Kept<Lot>, before: Option<&Lot>) -> Answer<()> {
    let lot = &kept.content;
    let mut faults = Faults::default();
    words::commodity(&mut faults, "/commodity", &lot.commodity)?;
    words::uses(&mut faults, "/intended_uses", &lot.intended_uses)?;
    words::jurisdictions(tx, &mut faults, "/jurisdictions", &lot.jurisdictions).await?;
    words::conditions(tx, &mut faults, "/condition_facts", &lot.condition_facts).await?;
    faults.into_result()?;
    let mut named = Named::default();
    let known = before.map(customers_of).unwrap_or_default();
    if let Some(customer) = lot.customer {
        named.add(as_known(&known, customer), "/customer", Some(customer));
    }
    named.add(Thing::Order, "/order", lot.order);
    named.add(Thing::Lot, "/parent", lot.parent);
    for (position, party) in lot.parties.iter().enumerate() {
        let pointer = format!("/parties/{position}/customer");
        let thing = as_known(&known, party.customer);
        named.add(thing, pointer, Some(party.customer));
    }
    named.must_be_there(tx).await?;
    let parents = store::parents(tx, lot).await?;
    let chain: Vec<(LotId, &Lot)> = parents
        .iter()
        .map(|parent| (LotId(parent.id), &parent.content))
        .collect();
    lot.check_parents(LotId(kept.id), &chain).map_err(misfit)
}

fn customers_of(lot: &Lot) -> Vec<CustomerId> {
    let parties = lot.parties.iter().map(|party| party.customer);
    lot.customer.into_iter().chain(parties).collect()
}

/// A customer that the version before named already stays, whatever became of it.
fn as_known(before: &[CustomerId], customer: CustomerId) -> Thing {
    if before.contains(&customer) {
        Thing::Customer
    } else {
        Thing::ActiveCustomer
    }
}

fn misfit(error: LotError) -> ApiError {
    let pointer = match error {
        LotError::Circle { .. } => "/parent",
        LotError::OtherCommodity { .. } => "/commodity",
    };
    ApiError::field(pointer, format!("Refused: {error}. Name another lot."))
}
