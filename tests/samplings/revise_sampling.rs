//! Correcting samplings.

use crate::{
    harness::callers::serve,
    lots::{pointers, with},
    samples::{lot, of_lot},
};
use serde_json::{Value, json};

fn change(sampling: Value) -> Value {
    json!({"sampling": sampling, "reason": {"code": "transcription-error", "text": "Miscounted."}})
}

#[actix_web::test]
async fn a_sampling_is_corrected_but_keeps_its_lot_while_samples_came_from_it() {
    let app = serve().await;
    let analyst = app.analyst().await;
    let (one, two) = (lot(&analyst, "L-1").await, lot(&analyst, "L-2").await);
    let body = json!({"lot": one, "taken_at": "2026-03-01T08:00:00Z", "increments": 9});
    let made = analyst.post("/samplings", body.clone()).await.expect(201);
    let path = format!("/samplings/{}", made.id());
    let eleven = with(body.clone(), json!({"increments": 11}));
    analyst
        .put(&path, 3, change(eleven.clone()))
        .await
        .expect(412);
    let revised = analyst.put(&path, 1, change(eleven)).await.expect(200);
    assert_eq!(revised.body["increments"], 11);
    let none = with(body.clone(), json!({"increments": 0}));
    let refused = analyst.put(&path, 2, change(none)).await.expect(422);
    assert_eq!(pointers(&refused.body), ["#/sampling/increments"]);
    let refused = app
        .integrator()
        .await
        .put(&path, 2, change(body.clone()))
        .await
        .expect(403);
    assert_eq!(refused.problem(), "not-permitted");

    let moved = with(body.clone(), json!({"lot": two}));
    analyst
        .put(&path, 2, change(moved.clone()))
        .await
        .expect(200);
    let taken = with(of_lot("S-1", &two), json!({"sampling": made.id()}));
    analyst.post("/samples", taken).await.expect(201);
    let refused = analyst.put(&path, 3, change(body)).await.expect(409);
    assert_eq!(refused.problem(), "sampling-has-samples");
    let shown = analyst.get(&path).await.expect(200);
    assert_eq!(shown.body["version"], 3);
    assert_eq!(shown.body["lot"], two.as_str());
    crate::rebuild::is_told_by_records(&app).await;
}
