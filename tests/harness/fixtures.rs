//! A bench that is ready for runs, made through public routes only.
//!
//! Promises that a run in range of one of its samples is held by nothing. All of it is invented.

use super::callers::{Caller, TestApp};
use serde_json::{Value, json};

/// A site with one reader, an adopted procedure, an accepted kit lot, and a lot with samples.
pub(crate) struct Bench {
    /// Runs strips, and is authorised for the procedure.
    pub(crate) analyst: Caller,
    /// Answers for limits, procedures and kit lots.
    pub(crate) quality: Caller,
    /// Where reader and samples are.
    pub(crate) site: String,
    /// `P-AF`: aflatoxins in maize, 1 to 50 µg/kg, one dilution of 100 µL with 500 µL.
    pub(crate) procedure: String,
    /// `AF-118`, with the curve `C-118` for the matrix `maize`.
    pub(crate) kit_lot: String,
    /// `R-1`, of three ports.
    pub(crate) reader: String,
    /// `MILL`.
    pub(crate) customer: String,
    /// `O-1`: aflatoxins, for food in the US; the limit of 20 µg/kg is adopted.
    pub(crate) order: String,
    /// `L-1`: 24 t of maize.
    pub(crate) lot: String,
    /// `S-1`, `S-2` and `S-3`; the first has the barcode `4006381333931`.
    pub(crate) samples: Vec<String>,
}

/// Makes the bench.
pub(crate) async fn bench_of(app: &TestApp) -> Bench {
    let (analyst, quality) = (app.analyst().await, app.quality_manager().await);
    let procedure = made(&quality, "/procedures", procedure()).await;
    let adopted = format!("/procedures/{procedure}/adoption");
    quality.post_seen(&adopted, 1, json!({})).await.expect(200);
    let kit_lot = made(&quality, "/kit-lots", kit_lot("AF-118", &procedure)).await;
    let accepted = format!("/kit-lots/{kit_lot}/acceptance");
    quality.post_seen(&accepted, 1, json!({})).await.expect(200);
    let site = json!({"code": "GATE", "name": "River gate", "time_zone": "Europe/Lisbon"});
    let site = made(&quality, "/sites", site).await;
    let reader = json!({"serial": "R-1", "name": "Reader of bay 1", "ports": 3, "site": site,
        "curves": [{"curve_lot": "C-118", "loaded_at": "2026-01-03T08:00:00Z"}]});
    let reader = made(&quality, "/readers", reader).await;
    let adoption = json!({"date": "2026-01-05", "reading": "Read in the policy guide."});
    quality
        .post("/limits/us-food-general-afla/adoption", adoption)
        .await
        .expect(200);
    authorise(app, &analyst, &procedure).await;
    let customer = json!({"code": "MILL", "name": "Hollow Mill Ltd"});
    let customer = made(&analyst, "/customers", customer).await;
    let order = json!({"code": "O-1", "customer": customer, "received_on": "2026-02-27",
        "analytes": [{"analyte": "aflatoxin-total"}], "uses": ["food"], "jurisdictions": ["US"]});
    let order = made(&analyst, "/orders", order).await;
    let lot = json!({"code": "L-1", "customer": customer, "order": order,
        "commodity": "maize-grain", "mass_kg": "24000", "arrived_on": "2026-03-01",
        "intended_uses": ["food"], "jurisdictions": ["US"]});
    let lot = made(&analyst, "/lots", lot).await;
    let mut samples = Vec::new();
    for code in ["S-1", "S-2", "S-3"] {
        let barcodes: &[&str] = if code == "S-1" {
            &["4006381333931"]
        } else {
            &[]
        };
        let sample = json!({"code": code, "barcodes": barcodes, "purpose": "customer", "lot": lot,
            "site": site, "commodity": "maize-grain", "mass_g": "1000",
            "received_at": "2026-03-01T07:00:00Z"});
        samples.push(made(&analyst, "/samples", sample).await);
    }
    Bench {
        analyst,
        quality,
        site,
        procedure,
        kit_lot,
        reader,
        customer,
        order,
        lot,
        samples,
    }
}

/// Posts what is made; its id.
async fn made(by: &Caller, path: &str, body: Value) -> String {
    by.post(path, body).await.expect(201).id()
}

fn procedure() -> Value {
    json!({"code": "P-AF", "title": "Aflatoxins by strip", "kit_instructions_revision": "C",
        "effective_from": "2020-01-01", "commodities": ["maize-grain"],
        "analytes": [{"analyte": "aflatoxin-total", "lod": "1", "loq": "2", "upper": "50"}],
        "dilutions": [{"steps": [{"sample_volume_ul": "100", "diluent_volume_ul": "500",
            "diluent": "water"}]}],
        "rounding": {"to": "places", "of": 1, "tie": "half-even"}})
}

/// A kit lot of the bench's procedure, in quarantine.
pub(crate) fn kit_lot(code: &str, procedure: &str) -> Value {
    json!({"code": code, "name": "Aflatoxin strips",
        "analytes": [{"analyte": "aflatoxin-total", "upper": "50"}], "curve_lot": "C-118",
        "matrices": ["maize"], "expires_on": "2099-12-31", "procedure": procedure,
        "receipts": [{"received_on": "2026-01-02", "tests": 96, "storage_kept": true}]})
}

async fn authorise(app: &TestApp, analyst: &Caller, procedure: &str) {
    let id = analyst.id.clone().unwrap_or_default();
    let account = json!({"login": "analyst", "printed_name": "Person analyst",
        "roles": ["analyst"],
        "authorisations": [{"procedure": procedure, "from": "2020-01-01"}]});
    let reason = json!({"code": "late-information", "text": "Competence was shown."});
    app.administrator()
        .put(
            &format!("/accounts/{id}"),
            1,
            json!({"account": account, "reason": reason}),
        )
        .await
        .expect(200);
}

#[actix_web::test]
async fn a_run_in_range_of_the_bench_is_held_by_nothing() {
    let app = super::callers::serve().await;
    let bench = bench_of(&app).await;
    let run = json!({"sample": bench.samples[0], "kit_lot": bench.kit_lot,
        "reader": bench.reader, "procedure": bench.procedure, "port": 1,
        "begun_at": "2026-03-01T08:00:00Z", "read_at": "2026-03-01T08:06:00Z",
        "curve_lot": "C-118", "matrix": "maize",
        "readings": [{"analyte": "aflatoxin-total", "kind": "number", "value": "4.1",
            "unit": "ug/kg"}]});
    let made = bench.analyst.post("/runs", run).await.expect(201);
    assert_eq!(made.body.get("holds"), None, "{:#}", made.body);
    for (path, id) in [
        ("sites", &bench.site),
        ("customers", &bench.customer),
        ("orders", &bench.order),
        ("lots", &bench.lot),
    ] {
        bench
            .quality
            .get(&format!("/{path}/{id}"))
            .await
            .expect(200);
    }
}
