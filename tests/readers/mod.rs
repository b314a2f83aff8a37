//! Readers over HTTP.

mod load_curve;
mod register_reader;
mod report_port_fault;

use crate::harness::callers::Caller;
use serde_json::json;

/// A reader of three ports; its id.
pub(crate) async fn registered(quality: &Caller, serial: &str) -> String {
    quality
        .post(
            "/readers",
            json!({"serial": serial, "name": "bench 1", "ports": 3}),
        )
        .await
        .expect(201)
        .id()
}
