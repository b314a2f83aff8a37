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
    named::{Names, Thing},
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

/// Checks an order against the vocabulary and against everything that it names.
async fn check(tx: &mut Tx, order: &Order, before: Option<&Order>) -> Answer<()> {
    let mut faults = Faults::default();
    words::uses(&mut faults, "/uses", &order.uses)?;
    words::jurisdictions(tx, &mut faults, "/jurisdictions", &order.jurisdictions).await?;
    faults.into_result()?;
    let mut names = Names::default();
    names.add(Thing::Customer, Some(order.customer), "/customer");
    for (position, limit) in order.contract_limits.iter().enumerate() {
        let pointer = format!("/contract_limits/{position}");
        names.add(Thing::Limit, Some(*limit), pointer);
    }
    let known: Vec<_> = before.map(|order| order.customer.0).into_iter().collect();
    names.known_before(&known);
    names.check(tx).await
}
