//! Sites over HTTP.

mod register_site;

use crate::harness::callers::Caller;
use serde_json::json;

/// A site with nothing on its bench; its id.
pub(crate) async fn registered(quality: &Caller, code: &str) -> String {
    quality
        .post(
            "/sites",
            json!({"code": code, "name": "River gate", "time_zone": "Europe/Lisbon"}),
        )
        .await
        .expect(201)
        .id()
}
