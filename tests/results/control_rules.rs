//! Rules over control runs, from the bench to the hold and back.

use super::computed_again;
use crate::{
    harness::{
        callers::{Caller, serve},
        fixtures::{Bench, bench_of},
    },
    reviews::{release, shown},
    runs::run,
};
use serde_json::{Value, json};

/// Registers a sample of the control material.
async fn control_sample(bench: &Bench) -> String {
    let material = json!({"code": "CM-1", "name": "maize, naturally contaminated",
        "commodity": "maize-grain", "lot": "2026-A", "expires_on": "2099-01-31",
        "analytes": [{"analyte": "aflatoxin-total", "assigned_value": "20", "lower": "15",
            "upper": "25", "standard_deviation": "1.3"}]});
    let made = bench.quality.post("/control-materials", material).await;
    let sample = json!({"code": "C-1", "purpose": "control", "commodity": "maize-grain",
        "control_material": made.expect(201).id(), "received_at": "2026-03-01T07:00:00Z"});
    let made = bench.analyst.post("/samples", sample).await;
    made.expect(201).id()
}

async fn series(bench: &Bench, code: &str) -> String {
    let series = json!({"code": code, "site": bench.site, "procedure": bench.procedure,
        "kit_lot": bench.kit_lot, "opened_at": "2026-03-01T07:00:00Z"});
    let made = bench.analyst.post("/series", series).await;
    made.expect(201).id()
}

/// Holds of a kind that stand, of one sample.
async fn standing(caller: &Caller, sample: &str) -> Vec<Value> {
    let path = format!("/holds?sample={sample}&state=raised");
    let list = caller.get(&path).await.expect(200);
    list.body["items"].as_array().unwrap().clone()
}

#[actix_web::test]
async fn a_rule_that_a_control_run_completes_holds_what_it_brackets_until_it_is_withdrawn() {
    let app = serve().await;
    let bench = bench_of(&app).await;
    let control = control_sample(&bench).await;
    let post = async |series: &str, sample: &str, minute: u32, value: &str| {
        let mut body = run(&bench, minute, "number", Some(value));
        body["series"] = json!(series);
        body["sample"] = json!(sample);
        bench.analyst.post("/runs", body).await.expect(201).id()
    };
    let (first, second) = (
        series(&bench, "2026-03-01/1").await,
        series(&bench, "2026-03-01/2").await,
    );
    // z = 2.15: a warning, and inside the window.
    let warning = post(&first, &control, 0, "22.8").await;
    post(&first, &bench.samples[0], 10, "4.1").await;
    post(&second, &bench.samples[1], 20, "5.2").await;
    let before = shown(&bench.analyst, &bench.samples[1]).await;
    assert_eq!(before[0]["state"], "ready");

    // z = 2.31: the second running beyond 2 s, in another series of the same group (Westgard,
    // Barry, Hunt and Groth, Clinical Chemistry 27 (1981) 493).
    let completing = post(&second, &control, 30, "23.0").await;
    computed_again(&app).await;
    let reviewer = app.reviewer().await;
    assert!(standing(&reviewer, &bench.samples[0]).await.is_empty());
    let holds = standing(&reviewer, &bench.samples[1]).await;
    assert_eq!(holds.len(), 1, "{holds:#?}");
    let hold = &holds[0];
    assert_eq!(
        (&hold["kind"], &hold["rules"]),
        (&json!("control-rule"), &json!(3))
    );
    let detail = hold["detail"].as_str().unwrap();
    for words in [
        "rule 2-2s",
        "23.0",
        "z = 2.31",
        warning.as_str(),
        completing.as_str(),
    ] {
        assert!(detail.contains(words), "{words}: {detail}");
    }
    let from = hold["from"].as_array().unwrap();
    for run in [&warning, &completing, &control] {
        let named = from.iter().any(|source| source["subject"] == json!(run));
        assert!(named, "{run}: {from:?}");
    }
    let refused = release(&reviewer, &bench.samples[1]).await.expect(409);
    assert_eq!(refused.problem(), "held");

    // Without the control run that completed it nothing is left of the rule.
    let withdrawal = format!("/runs/{completing}/withdrawal");
    let reason = json!({"reason": {"code": "instrument-fault", "text": "The port was dirty."}});
    bench
        .analyst
        .post_seen(&withdrawal, 1, reason)
        .await
        .expect(200);
    computed_again(&app).await;
    assert!(standing(&reviewer, &bench.samples[1]).await.is_empty());
    let after = shown(&bench.analyst, &bench.samples[1]).await;
    assert_eq!(after[0]["state"], "ready");

    // Completed once more; and then the run that began it, in the other series, is corrected.
    post(&second, &control, 40, "22.9").await;
    computed_again(&app).await;
    let holds = standing(&reviewer, &bench.samples[1]).await;
    assert_eq!(holds[0]["kind"], "control-rule", "{holds:#?}");
    let mut corrected = run(&bench, 0, "number", Some("20.1"));
    corrected["series"] = json!(first);
    corrected["sample"] = json!(control);
    let body = json!({"run": corrected,
        "reason": {"code": "transcription-error", "text": "The display showed 20.1."}});
    let correction = format!("/runs/{warning}/correction");
    bench
        .analyst
        .post_seen(&correction, 1, body)
        .await
        .expect(200);
    computed_again(&app).await;
    assert!(standing(&reviewer, &bench.samples[1]).await.is_empty());
    crate::rebuild::is_told_by_records(&app).await;
    crate::verify_ledger::is_computed_again(&app, "control-rules").await;
}
