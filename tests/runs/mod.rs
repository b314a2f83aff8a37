//! Runs over HTTP: from a reading to a result, its holds and its dilution.

mod record_run;

use crate::harness::callers::{Caller, TestApp};
use serde_json::{Value, json};

/// A bench with one reader, one accepted kit lot, one adopted limit and one sample of maize.
pub(crate) struct Bench {
    pub(crate) analyst: Caller,
    pub(crate) quality: Caller,
    pub(crate) procedure: String,
    pub(crate) kit_lot: String,
    pub(crate) reader: String,
    pub(crate) sample: String,
}

pub(crate) async fn bench(app: &TestApp) -> Bench {
    let (analyst, quality) = (app.analyst().await, app.quality_manager().await);
    let procedure = quality
        .post(
            "/procedures",
            json!({"code": "P-AF", "title": "Aflatoxins by strip", "kit_instructions_revision": "C",
                "effective_from": "2020-01-01", "commodities": ["maize-grain"],
                "analytes": [{"analyte": "aflatoxin-total", "lod": "1", "loq": "2", "upper": "50"}],
                "dilutions": [{"steps": [{"sample_volume_ul": "100", "diluent_volume_ul": "500",
                    "diluent": "water"}]}],
                "rounding": {"to": "places", "of": 1, "tie": "half-even"}}),
        )
        .await
        .expect(201);
    let adopted = format!("/procedures/{}/adoption", procedure.id());
    quality.post_seen(&adopted, 1, json!({})).await.expect(200);
    let kit_lot = quality
        .post(
            "/kit-lots",
            json!({"code": "AF-118", "name": "Aflatoxin strips",
                "analytes": [{"analyte": "aflatoxin-total", "upper": "50"}], "curve_lot": "C-118",
                "matrices": ["maize"], "expires_on": "2099-12-31", "procedure": procedure.id(),
                "receipts": [{"received_on": "2026-01-02", "tests": 96, "storage_kept": true}]}),
        )
        .await
        .expect(201);
    let accepted = format!("/kit-lots/{}/acceptance", kit_lot.id());
    quality.post_seen(&accepted, 1, json!({})).await.expect(200);
    let reader = quality
        .post(
            "/readers",
            json!({"serial": "R-1", "name": "Reader of bay 1", "ports": 3,
                "curves": [{"curve_lot": "C-118", "loaded_at": "2026-01-03T08:00:00Z"}]}),
        )
        .await
        .expect(201);
    for limit in ["us-food-general-afla", "us-feed-corn-finishing-beef-afla"] {
        quality
            .post(
                &format!("/limits/{limit}/adoption"),
                json!({"date": "2026-01-05", "reading": "Read in the policy guide."}),
            )
            .await
            .expect(200);
    }
    authorise(app, &analyst, &procedure.id()).await;
    let lot = analyst
        .post(
            "/lots",
            json!({"code": "L-1", "commodity": "maize-grain", "mass_kg": "24000",
                "arrived_on": "2026-03-01", "intended_uses": ["food"], "jurisdictions": ["US"]}),
        )
        .await
        .expect(201);
    let sample = analyst
        .post(
            "/samples",
            json!({"code": "S-1", "purpose": "customer", "lot": lot.id(),
                "commodity": "maize-grain", "mass_g": "1000",
                "received_at": "2026-03-01T07:00:00Z"}),
        )
        .await
        .expect(201);
    Bench {
        analyst,
        quality,
        procedure: procedure.id(),
        kit_lot: kit_lot.id(),
        reader: reader.id(),
        sample: sample.id(),
    }
}

async fn authorise(app: &TestApp, analyst: &Caller, procedure: &str) {
    let id = analyst.id.clone().unwrap();
    app.administrator()
        .put(
            &format!("/accounts/{id}"),
            1,
            json!({"account": {"login": "analyst", "printed_name": "Person analyst",
                    "roles": ["analyst"],
                    "authorisations": [{"procedure": procedure, "from": "2020-01-01"}]},
                "reason": {"code": "late-information", "text": "Competence was shown."}}),
        )
        .await
        .expect(200);
}

/// A run of the bench's sample that gave this reading.
pub(crate) fn run(bench: &Bench, minute: u32, kind: &str, value: Option<&str>) -> Value {
    let mut reading = json!({"analyte": "aflatoxin-total", "kind": kind, "unit": "ug/kg"});
    if let Some(value) = value {
        reading["value"] = json!(value);
    }
    json!({"sample": bench.sample, "kit_lot": bench.kit_lot, "reader": bench.reader, "port": 1,
        "begun_at": format!("2026-03-01T08:{minute:02}:00Z"),
        "read_at": format!("2026-03-01T08:{:02}:00Z", minute + 6),
        "curve_lot": "C-118", "matrix": "maize", "readings": [reading]})
}
