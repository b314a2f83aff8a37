//! Control charts over HTTP and as pages.

mod page;
mod show_control_chart;

use crate::{harness::fixtures::Bench, runs::run};
use serde_json::{Value, json};

/// A control material of 20 µg/kg, single runs with a standard deviation of 1.3; invented. Its id,
/// and that of a sample of it.
pub(crate) async fn control_sample(bench: &Bench) -> (String, String) {
    let material = json!({"code": "CM-1", "name": "maize, naturally contaminated",
        "commodity": "maize-grain", "lot": "2026-A", "expires_on": "2099-01-31",
        "analytes": [{"analyte": "aflatoxin-total", "assigned_value": "20", "lower": "15",
            "upper": "25", "standard_deviation": "1.3", "expanded_uncertainty": "1.2"}]});
    let made = bench.quality.post("/control-materials", material).await;
    let material = made.expect(201).id();
    let sample = json!({"code": "C-1", "purpose": "control", "commodity": "maize-grain",
        "control_material": material, "received_at": "2026-03-01T07:00:00Z"});
    let made = bench.analyst.post("/samples", sample).await;
    (material, made.expect(201).id())
}

/// Records a run of a sample at a minute; its id.
pub(crate) async fn recorded(bench: &Bench, sample: &str, minute: u32, value: &str) -> String {
    let body = of_sample(bench, sample, minute, value);
    bench.analyst.post("/runs", body).await.expect(201).id()
}

/// A run of a sample.
pub(crate) fn of_sample(bench: &Bench, sample: &str, minute: u32, value: &str) -> Value {
    let mut body = run(bench, minute, "number", Some(value));
    body["sample"] = json!(sample);
    body
}

/// Where a chart is.
pub(crate) fn chart_of(bench: &Bench, material: &str) -> String {
    format!(
        "/control-charts/{material}?procedure={}&analyte=aflatoxin-total",
        bench.procedure
    )
}
