//! Orders: what customers asked for, and what was agreed with them.
//!
//! Refuses a use or jurisdiction that nobody knows, a limit of the contract that is not there, and
//! a customer that is inactive.

mod list_orders;
mod register_order;
mod revise_order;
mod show_order;
pub(crate) mod store;
mod wire;

use crate::{
    db::Tx,
    error::Answer,
    lots::words,
    named::{Named, Thing},
};
use domain::{faults::Faults, orders::Order};

/// Routes of the slice.
pub fn routes(config: &mut utoipa_actix_web::service_config::ServiceConfig) {
    config
        .service(register_order::register_order)
        .service(list_orders::list_orders)
        .service(show_order::show_order)
        .service(revise_order::revise_order);
}

/// Checks an order against the vocabulary and against everything that it named.
async fn check(tx: &mut Tx, order: &Order, before: Option<&Order>) -> Answer<()> {
    let mut faults = Faults::default();
    words::uses(&mut faults, "/uses", &order.uses)?;
    words::jurisdictions(tx, &mut faults, "/jurisdictions", &order.jurisdictions).await?;
    faults.into_result()?;
    let mut named = Named::default();
    // A customer that the version before named already stays, whatever became of it.
    let customer = match before {
        Some(before) if before.customer == order.customer => Thing::Customer,
        Some(_) | None => Thing::ActiveCustomer,
    };
    named.add(customer, "/customer", Some(order.customer));
    for (position, limit) in order.contract_limits.iter().enumerate() {
        let pointer = format!("/contract_limits/{position}");
        named.add(Thing::Limit, pointer, Some(*limit));
    }
    named.must_be_there(tx).await
}
