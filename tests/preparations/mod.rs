//! Preparations over HTTP.

mod record_preparation;
mod revise_preparation;

use crate::{harness::callers::Caller, samples};
use serde_json::{Value, json};

/// A piece of equipment past its date; its id.
pub(crate) async fn overdue(quality: &Caller, kind: &str) -> String {
    quality
        .post(
            "/equipment",
            json!({"code": kind, "kind": kind, "name": kind, "calibration_due_on": "2020-01-31"}),
        )
        .await
        .expect(201)
        .id()
}

/// A sample without a site; its id.
pub(crate) async fn sample(by: &Caller, code: &str) -> String {
    let lot = samples::lot(by, &format!("L-{code}")).await;
    by.post("/samples", samples::of_lot(code, &lot))
        .await
        .expect(201)
        .id()
}

/// A step, made from another where one is given.
pub(crate) fn step(kind: &str, sample: &str, at: &str, parent: Option<&str>) -> Value {
    let mut body = json!({"kind": kind, "sample": sample, "at": at});
    if let Some(parent) = parent {
        body["parent"] = parent.into();
    }
    body
}
