//! Runs over HTTP: from a reading to a result, its holds and its dilution.

mod join_named;
mod record_run;
mod record_together;

use crate::harness::fixtures::Bench;
use serde_json::{Value, json};

/// A run of the bench's first sample that gave this reading.
pub(crate) fn run(bench: &Bench, minute: u32, kind: &str, value: Option<&str>) -> Value {
    let mut reading = json!({"analyte": "aflatoxin-total", "kind": kind, "unit": "ug/kg"});
    if let Some(value) = value {
        reading["value"] = json!(value);
    }
    json!({"sample": bench.samples[0], "kit_lot": bench.kit_lot, "reader": bench.reader,
        "port": 1, "begun_at": format!("2026-03-01T08:{minute:02}:00Z"),
        "read_at": format!("2026-03-01T08:{:02}:00Z", minute + 6),
        "curve_lot": "C-118", "matrix": "maize", "readings": [reading]})
}
