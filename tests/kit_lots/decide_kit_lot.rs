//! Accepting, rejecting, receiving, using up and recalling kit lots.

use super::{plant, quarantined};
use crate::{harness::callers::serve, procedures};
use serde_json::json;

const RUNS: [&str; 3] = [
    "019ca869-5003-7d46-b59c-6cf85cca5701",
    "019ca869-5003-7d46-b59c-6cf85cca5702",
    "019ca869-5003-7d46-b59c-6cf85cca5703",
];

#[actix_web::test]
async fn a_lot_is_accepted_on_its_own_runs_used_up_received_again_and_recalled() {
    let app = serve().await;
    let quality = app.quality_manager().await;
    let analyst = app.analyst().await;
    let procedure = procedures::adopted(&quality, "P-07").await;
    let id = quarantined(&analyst, "AF-1", &procedure).await;
    let other = quarantined(&analyst, "AF-2", &procedure).await;
    let path = |verb: &str| format!("/kit-lots/{id}/{verb}");
    let of_lot = |run: &str, lot: &str| format!("'{run}', 1, '{lot}'");
    let columns = "run_id, port, kit_lot_id";
    for run in RUNS {
        plant(&app, "runs_run", columns, &of_lot(run, &id)).await;
    }
    let foreign = "019ca869-5003-7d46-b59c-6cf85cca5709";
    plant(&app, "runs_run", columns, &of_lot(foreign, &other)).await;

    analyst
        .post_seen(&path("acceptance"), 1, json!({}))
        .await
        .expect(403);
    let not_its = quality
        .post_seen(&path("acceptance"), 1, json!({"runs": [RUNS[0], foreign]}))
        .await
        .expect(422);
    assert_eq!(not_its.body["errors"][0]["pointer"], "#/runs/1");
    let accepted = quality
        .post_seen(&path("acceptance"), 1, json!({"runs": [RUNS[0]]}))
        .await
        .expect(200);
    assert_eq!(accepted.body["state"], "accepted");
    assert_eq!(accepted.body["acceptance_runs"], json!([RUNS[0]]));
    assert_eq!(accepted.body["tests_used"], 3);
    assert_eq!(accepted.body["tests_left"], 0);

    let exhausted = analyst
        .post_seen(&path("exhaustion"), 2, json!({}))
        .await
        .expect(200);
    assert_eq!(exhausted.body["state"], "exhausted");
    let more = analyst
        .post(
            &path("receipts"),
            json!({"received_on": "2026-04-07", "tests": 96, "storage_kept": true}),
        )
        .await
        .expect(200);
    assert_eq!(more.body["state"], "accepted");
    assert_eq!(more.body["tests_left"], 96);
    let left = analyst
        .post_seen(&path("exhaustion"), 4, json!({}))
        .await
        .expect(409);
    assert_eq!(left.problem(), "kit-lot-state");

    let reason = json!({"code": "late-information", "text": "Recalled by letter."});
    let recalled = quality
        .post_seen(&path("recall"), 4, json!({"reason": reason}))
        .await
        .expect(200);
    assert_eq!(recalled.body["state"], "recalled");
    let refused = quality
        .post_seen(&path("recall"), 5, json!({"reason": reason}))
        .await
        .expect(409);
    assert_eq!(refused.problem(), "kit-lot-state");
    let trail = quality
        .get(&format!("/records?subject={id}"))
        .await
        .expect(200);
    assert_eq!(trail.body["items"].as_array().unwrap().len(), 5);
    assert_eq!(
        trail.body["items"][0]["reason"]["text"],
        "Recalled by letter."
    );
}

#[actix_web::test]
async fn a_rejected_lot_takes_no_receipt_and_a_rejection_needs_a_reason() {
    let app = serve().await;
    let quality = app.quality_manager().await;
    let procedure = procedures::adopted(&quality, "P-07").await;
    let id = quarantined(&quality, "AF-1", &procedure).await;
    let path = |verb: &str| format!("/kit-lots/{id}/{verb}");
    let receipt = json!({"received_on": "2026-04-07", "tests": 96, "storage_kept": true});
    let mute = quality
        .post_seen(&path("rejection"), 1, json!({}))
        .await
        .expect(422);
    assert!(mute.body["detail"].as_str().unwrap().contains("reason"));
    quality
        .post_seen(
            &path("rejection"),
            1,
            json!({"reason": {"code": "other", "text": "The controls were out."}}),
        )
        .await
        .expect(200);
    let refused = quality.post(&path("receipts"), receipt).await.expect(409);
    assert_eq!(refused.problem(), "kit-lot-state");
    let empty = quality
        .post(
            &path("receipts"),
            json!({"received_on": "2026-04-07", "tests": 0, "storage_kept": true}),
        )
        .await
        .expect(422);
    assert_eq!(empty.body["errors"][0]["pointer"], "#/tests");
    let shown = quality.get(&format!("/kit-lots/{id}")).await.expect(200);
    assert_eq!(shown.body["version"], 2);
    assert_eq!(shown.body["tests_received"], 3);
}
