//! Customers: who orders, sells, buys or acts for somebody who does.
//!
//! A customer is never deleted, only set inactive.

mod list_customers;
mod register_customer;
mod revise_customer;
mod show_customer;
pub(crate) mod store;
mod wire;

/// Routes of the slice.
pub fn routes(config: &mut utoipa_actix_web::service_config::ServiceConfig) {
    config
        .service(register_customer::register_customer)
        .service(list_customers::list_customers)
        .service(show_customer::show_customer)
        .service(revise_customer::revise_customer);
}
