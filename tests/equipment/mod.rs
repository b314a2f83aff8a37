//! Equipment and its checks over HTTP.

mod record_check;
mod register_equipment;

use crate::harness::callers::Caller;
use serde_json::{Value, json};

/// A piece of equipment; its id.
pub(crate) async fn registered(quality: &Caller, code: &str, kind: &str) -> String {
    quality
        .post(
            "/equipment",
            json!({"code": code, "kind": kind, "name": "on bench 1"}),
        )
        .await
        .expect(201)
        .id()
}

/// An intermediate check.
fn check(of: &Value, at: &str, found: &str, left: &str) -> Value {
    json!({"of": of, "kind": "intermediate", "at": at,
           "readings": [{"nominal": "10", "found": "10.02", "unit": "g"}],
           "criterion": "within 0.1 g", "as_found": found, "as_left": left,
           "adjusted": found != left})
}
