//! Procedures over HTTP.

mod adopt_procedure;
mod draft_procedure;

use crate::harness::callers::Caller;
use serde_json::{Value, json};

/// A procedure for aflatoxins in maize, invented.
pub(crate) fn content(code: &str) -> Value {
    json!({
        "code": code,
        "title": "Aflatoxins in maize by lateral-flow strip",
        "kit_instructions_revision": "4",
        "effective_from": "2026-01-05",
        "commodities": ["maize-grain"],
        "analytes": [{"analyte": "aflatoxin-total", "lod": "1", "loq": "2", "upper": "50"}],
        "dilutions": [{"steps": [
            {"sample_volume_ul": "100", "diluent_volume_ul": "500", "diluent": "water"}
        ]}],
        "rounding": {"to": "places", "of": 1, "tie": "half-even"}
    })
}

/// An adopted procedure; its id.
pub(crate) async fn adopted(quality: &Caller, code: &str) -> String {
    let id = quality
        .post("/procedures", content(code))
        .await
        .expect(201)
        .id();
    quality
        .post_seen(&format!("/procedures/{id}/adoption"), 1, json!({}))
        .await
        .expect(200);
    id
}
