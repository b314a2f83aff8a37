//! Correcting the steps from the sample to the extract.

use super::{sample, step};
use crate::{
    harness::callers::serve,
    lots::{pointers, with},
};
use serde_json::{Value, json};

fn change(preparation: Value) -> Value {
    json!({"preparation": preparation,
           "reason": {"code": "transcription-error", "text": "Read off wrongly."}})
}

#[actix_web::test]
async fn a_step_is_corrected_as_far_as_the_chain_still_fits() {
    let app = serve().await;
    let analyst = app.analyst().await;
    let (one, two) = (sample(&analyst, "S-1").await, sample(&analyst, "S-2").await);
    let ground = step("ground-sample", &one, "2026-03-01T08:20:00Z", None);
    let made = analyst
        .post("/preparations", ground.clone())
        .await
        .expect(201);
    let portion = with(
        step(
            "test-portion",
            &one,
            "2026-03-01T08:30:00Z",
            Some(&made.id()),
        ),
        json!({"mass_g": "10.0"}),
    );
    let weighed = analyst
        .post("/preparations", portion.clone())
        .await
        .expect(201);

    let path = format!("/preparations/{}", weighed.id());
    let heavier = with(portion.clone(), json!({"mass_g": "10.1"}));
    analyst
        .put(&path, 2, change(heavier.clone()))
        .await
        .expect(412);
    let revised = analyst.put(&path, 1, change(heavier)).await.expect(200);
    assert_eq!(revised.body["mass_g"], "10.1");
    let early = with(portion.clone(), json!({"at": "2026-03-01T08:00:00Z"}));
    let refused = analyst.put(&path, 2, change(early)).await.expect(422);
    assert_eq!(pointers(&refused.body), ["#/preparation/at"]);
    let kind = with(portion.clone(), json!({"kind": "extract"}));
    let refused = analyst.put(&path, 2, change(kind)).await.expect(422);
    assert_eq!(pointers(&refused.body), ["#/preparation/kind"]);
    let refused = app
        .quality_manager()
        .await
        .put(&path, 2, change(portion))
        .await
        .expect(403);
    assert_eq!(refused.problem(), "not-permitted");

    let path = format!("/preparations/{}", made.id());
    for misfit in [
        with(ground.clone(), json!({"at": "2026-03-01T09:00:00Z"})),
        with(ground.clone(), json!({"sample": two})),
    ] {
        let refused = analyst.put(&path, 1, change(misfit)).await.expect(409);
        assert_eq!(refused.problem(), "later-step-misfits");
    }
    let shown = analyst.get(&path).await.expect(200);
    assert_eq!(shown.body["version"], 1);

    let other = step("ground-sample", &one, "2026-03-01T10:00:00Z", None);
    let alone = analyst
        .post("/preparations", other.clone())
        .await
        .expect(201);
    let moved = with(other, json!({"sample": two}));
    analyst
        .put(&format!("/preparations/{}", alone.id()), 1, change(moved))
        .await
        .expect(200);
    let found = analyst
        .get(&format!("/preparations?sample={two}"))
        .await
        .expect(200);
    assert_eq!(found.body["items"][0]["id"], alone.id());
    crate::rebuild::is_told_by_records(&app).await;
}
