//! Certificates over HTTP: issued, handed out, amended, withdrawn, checked by anybody.

mod amend_certificate;
mod change_state;
mod issue_certificate;
mod see_certificates;

use crate::{
    harness::callers::{Answered, Caller, TestApp},
    reviews::{release, shown, versions},
};
use serde_json::{Value, json};

/// A lot with all that a certificate of it needs, over range at first and then run diluted.
pub(crate) struct Bench {
    pub(crate) analyst: Caller,
    pub(crate) reviewer: Caller,
    pub(crate) customer: String,
    /// May see certificates of the lot.
    pub(crate) buyer: String,
    /// May see nothing of the lot.
    pub(crate) agent: String,
    pub(crate) lot: String,
    pub(crate) sample: String,
    /// The diluted run, as it was posted, and its id.
    pub(crate) diluted: (Value, String),
    kit_lot: String,
    reader: String,
}

async fn made(caller: &Caller, path: &str, body: Value) -> String {
    caller.post(path, body).await.expect(201).id()
}

/// What the quality manager has set up: procedure, site, kit lot, reader, series' material.
struct Ready {
    procedure: String,
    site: String,
    kit_lot: String,
    reader: String,
    material: String,
    balance: String,
}

async fn set_up(app: &TestApp, analyst: &Caller) -> Ready {
    let quality = app.quality_manager().await;
    let material = json!({"code": "CM-1", "name": "maize, naturally contaminated",
        "commodity": "maize-grain", "lot": "2026-A", "expires_on": "2099-01-31",
        "analytes": [{"analyte": "aflatoxin-total", "assigned_value": "18.5", "lower": "14.8",
            "upper": "22.2", "expanded_uncertainty": "1.2", "coverage_factor": "2"}]});
    let material = made(&quality, "/control-materials", material).await;
    let procedure = made(
        &quality,
        "/procedures",
        json!({"code": "P-AF", "title": "Total aflatoxins in maize by strip test",
            "kit_instructions_revision": "rev. C", "effective_from": "2020-01-01",
            "commodities": ["maize-grain"],
            "analytes": [{"analyte": "aflatoxin-total", "lod": "1", "loq": "2", "upper": "50"}],
            "dilutions": [{"steps": [{"sample_volume_ul": "100", "diluent_volume_ul": "500",
                "diluent": "water"}]}],
            "rounding": {"to": "places", "of": 1, "tie": "half-even"},
            "precision": {"constant": "0.6", "proportional": "0.05"},
            "bias": [{"analyte": "aflatoxin-total", "control_material": material,
                "mean_found": "18.2", "standard_deviation": "1.1", "determinations": 12}]}),
    )
    .await;
    let adoption = format!("/procedures/{procedure}/adoption");
    quality.post_seen(&adoption, 1, json!({})).await.expect(200);
    let kit_lot = made(
        &quality,
        "/kit-lots",
        json!({"code": "AF-118", "name": "Aflatoxin strips",
            "analytes": [{"analyte": "aflatoxin-total", "upper": "50"}], "curve_lot": "C-118",
            "matrices": ["maize"], "expires_on": "2099-12-31", "procedure": procedure,
            "receipts": [{"received_on": "2026-01-02", "tests": 96, "storage_kept": true}]}),
    )
    .await;
    let acceptance = format!("/kit-lots/{kit_lot}/acceptance");
    quality
        .post_seen(&acceptance, 1, json!({}))
        .await
        .expect(200);
    for limit in ["us-food-general-afla", "us-feed-corn-finishing-beef-afla"] {
        let reading = json!({"date": "2026-01-05", "reading": "Read in the policy guide."});
        let path = format!("/limits/{limit}/adoption");
        quality.post(&path, reading).await.expect(200);
    }
    let account = analyst.id.clone().unwrap();
    app.administrator()
        .put(
            &format!("/accounts/{account}"),
            1,
            json!({"account": {"login": "analyst", "printed_name": "Person analyst",
                    "roles": ["analyst"],
                    "authorisations": [{"procedure": procedure, "from": "2020-01-01"}]},
                "reason": {"code": "late-information", "text": "Competence was shown."}}),
        )
        .await
        .expect(200);
    let reader = json!({"serial": "R-1", "name": "Reader of bay 1", "ports": 3,
        "curves": [{"curve_lot": "C-118", "loaded_at": "2026-01-03T08:00:00Z"}]});
    let site = json!({"code": "GATE", "name": "River gate", "time_zone": "Europe/Lisbon"});
    let balance = json!({"code": "BL-1", "kind": "balance", "name": "0.01 g",
        "accuracy_class": "II", "verification_interval_g": "0.01",
        "check_due_on": "2099-04-15"});
    Ready {
        site: made(&quality, "/sites", site).await,
        reader: made(&quality, "/readers", reader).await,
        material,
        balance: made(&quality, "/equipment", balance).await,
        procedure,
        kit_lot,
    }
}

struct Goods {
    customer: String,
    buyer: String,
    agent: String,
    lot: String,
    sample: String,
}

/// The goods: customers, order, lot, sampling and sample.
async fn goods(analyst: &Caller, site: &str) -> Goods {
    let customer = made(
        analyst,
        "/customers",
        json!({"code": "MILL", "name": "Hollow Mill Ltd", "address": "Mill Lane 2"}),
    )
    .await;
    let party = |code: &str| json!({"code": code, "name": code});
    let buyer = made(analyst, "/customers", party("BUYER")).await;
    let agent = made(analyst, "/customers", party("AGENT")).await;
    let order = made(
        analyst,
        "/orders",
        json!({"code": "O-1", "customer": customer, "received_on": "2026-02-20",
            "agreed_on": "2026-02-20", "decision_rule": "simple",
            "analytes": [{"analyte": "aflatoxin-total", "number_wanted_above_limit": true}],
            "uses": ["food", "feed-finishing-beef"], "jurisdictions": ["US"]}),
    )
    .await;
    let lot = made(
        analyst,
        "/lots",
        json!({"code": "L-1", "commodity": "maize-grain", "mass_kg": "24000", "order": order,
            "customer": customer, "arrived_on": "2026-03-01",
            "parties": [{"customer": buyer, "role": "buyer", "sees": "certificates"},
                {"customer": agent, "role": "agent", "sees": "nothing"}],
            "carrier": {"kind": "truck", "registration": "AB-12-CD"}}),
    )
    .await;
    let sampling = made(
        analyst,
        "/samplings",
        json!({"lot": lot, "taken_at": "2026-03-01T06:30:00Z", "account": analyst.id,
            "plan": "SP-2, edition 4", "place": "Gate 1", "increments": 9,
            "increment_mass_g": "350", "aggregate_mass_kg": "3.15", "seal": "777"}),
    )
    .await;
    let sample = made(
        analyst,
        "/samples",
        json!({"code": "S-1", "purpose": "customer", "lot": lot, "sampling": sampling,
            "site": site, "commodity": "maize-grain", "mass_g": "1000",
            "received_at": "2026-03-01T07:00:00Z", "condition": "dry, seal intact"}),
    )
    .await;
    Goods {
        customer,
        buyer,
        agent,
        lot,
        sample,
    }
}

async fn extract(analyst: &Caller, sample: &str, balance: &str) -> String {
    let by = &analyst.id;
    let ground = json!({"kind": "ground-sample", "sample": sample, "by": by,
        "at": "2026-03-01T07:10:00Z", "mass_g": "1000"});
    let ground = made(analyst, "/preparations", ground).await;
    let portion = json!({"kind": "test-portion", "sample": sample, "by": by, "parent": ground,
        "at": "2026-03-01T07:20:00Z", "mass_g": "10.0", "equipment": [balance]});
    let portion = made(analyst, "/preparations", portion).await;
    let extract = json!({"kind": "extract", "sample": sample, "by": by, "parent": portion,
        "at": "2026-03-01T07:40:00Z", "shaking_s": 180, "clarification": "filter",
        "clarified_volume_ml": "3",
        "liquids": [{"name": "distilled water", "lot": "W-12", "volume_ml": "50"}]});
    made(analyst, "/preparations", extract).await
}

/// A run on the bench's kit lot and reader.
fn run(kit_lot: &str, reader: &str, sample: &str, minute: u32, reading: Value) -> Value {
    json!({"sample": sample, "kit_lot": kit_lot, "reader": reader, "port": 1,
        "begun_at": format!("2026-03-01T08:{minute:02}:00Z"),
        "read_at": format!("2026-03-01T08:{:02}:00Z", minute + 6),
        "curve_lot": "C-118", "matrix": "maize", "readings": [reading]})
}

fn reading(kind: &str, value: &str) -> Value {
    json!({"analyte": "aflatoxin-total", "kind": kind, "value": value, "unit": "ug/kg"})
}

/// A laboratory whose lot was sampled, run over range, then diluted, with a control beside.
pub(crate) async fn bench(app: &TestApp) -> Bench {
    let analyst = app.analyst().await;
    let ready = set_up(app, &analyst).await;
    let goods = goods(&analyst, &ready.site).await;
    let sample = goods.sample.clone();
    let extract = extract(&analyst, &sample, &ready.balance).await;
    let series = made(
        &analyst,
        "/series",
        json!({"code": "2026-03-01/1", "site": ready.site, "procedure": ready.procedure,
            "kit_lot": ready.kit_lot, "opened_at": "2026-03-01T07:00:00Z"}),
    )
    .await;
    let control = made(
        &analyst,
        "/samples",
        json!({"code": "C-1", "purpose": "control", "control_material": ready.material,
            "commodity": "maize-grain", "received_at": "2026-03-01T07:00:00Z"}),
    )
    .await;
    let in_series = |sample: &str, minute: u32, reading: Value| {
        let mut run = run(&ready.kit_lot, &ready.reader, sample, minute, reading);
        run["series"] = json!(series);
        run
    };
    let of_control = in_series(&control, 0, reading("number", "19"));
    made(&analyst, "/runs", of_control).await;
    let mut over = in_series(&sample, 10, reading("above", "50"));
    over["extract"] = json!(extract);
    made(&analyst, "/runs", over).await;
    let mut diluted = in_series(&sample, 30, reading("number", "46"));
    diluted["extract"] = json!(extract);
    diluted["dilution"] =
        json!([{"sample_volume_ul": "100", "diluent_volume_ul": "500", "diluent": "water"}]);
    let id = made(&analyst, "/runs", diluted.clone()).await;
    Bench {
        analyst,
        reviewer: app.reviewer().await,
        customer: goods.customer,
        buyer: goods.buyer,
        agent: goods.agent,
        lot: goods.lot,
        sample,
        diluted: (diluted, id),
        kit_lot: ready.kit_lot,
        reader: ready.reader,
    }
}

impl Bench {
    /// The body that issues a certificate of the newest results.
    pub(crate) async fn order(&self) -> Value {
        let results = versions(&shown(&self.reviewer, &self.sample).await);
        json!({"lot": self.lot, "results": results})
    }

    /// Releases the results and issues the certificate.
    pub(crate) async fn issued(&self) -> Answered {
        release(&self.reviewer, &self.sample).await.expect(201);
        let order = self.order().await;
        self.reviewer.post("/certificates", order).await.expect(201)
    }

    /// A run of another sample of the bench.
    pub(crate) fn another_run(&self, sample: &str, value: &str) -> Value {
        let reading = reading("number", value);
        run(&self.kit_lot, &self.reader, sample, 40, reading)
    }
}

/// The page at an address, as text.
pub(crate) async fn page(app: &TestApp, path: &str) -> (u16, String) {
    let answer = app.anonymous().get_raw(path.trim_start_matches('/')).await;
    (answer.status().as_u16(), answer.text().await.unwrap())
}

/// The bytes at an address.
pub(crate) async fn bytes(caller: &Caller, path: &str) -> Vec<u8> {
    let answer = caller.get_raw(path).await;
    assert_eq!(answer.status().as_u16(), 200, "{path}");
    answer.bytes().await.unwrap().to_vec()
}

pub(crate) fn link(certificate: &Answered, name: &str) -> String {
    let link = certificate.body["links"][name].as_str();
    link.unwrap_or_else(|| unreachable!("{name}: {:#}", certificate.body))
        .to_owned()
}
