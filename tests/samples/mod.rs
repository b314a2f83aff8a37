//! Samples over HTTP.

mod list_samples;
mod record_custody;
mod register_sample;
mod revise_sample;

use crate::{harness::callers::Caller, lots::maize};
use serde_json::{Value, json};

/// Id of a lot of maize, registered for the test.
pub(crate) async fn lot(by: &Caller, code: &str) -> String {
    by.post("/lots", maize(code)).await.expect(201).id()
}

/// A customer's sample of a lot.
pub(crate) fn of_lot(code: &str, lot: &str) -> Value {
    json!({"code": code, "purpose": "customer", "lot": lot, "commodity": "maize-grain",
           "mass_g": "1000", "received_at": "2026-03-01T08:15:00Z"})
}
