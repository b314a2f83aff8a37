//! Customers over HTTP.

mod register_customer;
mod revise_customer;
