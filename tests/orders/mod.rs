//! Orders over HTTP.

mod register_order;
mod revise_order;

use serde_json::{Value, json};

/// An order of one analyte for a customer.
pub(crate) fn of_customer(code: &str, customer: &str) -> Value {
    json!({"code": code, "customer": customer, "received_on": "2026-03-01",
           "analytes": [{"analyte": "deoxynivalenol"}]})
}
