//! Registering, finding and revising kit lots.

use super::{content, quarantined};
use crate::{harness::callers::serve, procedures};
use serde_json::json;

#[actix_web::test]
async fn a_kit_lot_arrives_in_quarantine_and_is_found_by_state_procedure_and_date() {
    let app = serve().await;
    let quality = app.quality_manager().await;
    let analyst = app.analyst().await;
    let procedure = procedures::adopted(&quality, "P-07").await;
    let other = procedures::adopted(&quality, "P-08").await;
    let made = analyst
        .post("/kit-lots", content("AF-1", &procedure))
        .await
        .expect(201);
    assert_eq!(made.body["state"], "quarantined");
    assert_eq!(made.body["tests_left"], 3);
    quarantined(&analyst, "AF-2", &other).await;
    for (query, codes) in [
        ("", vec!["AF-2", "AF-1"]),
        ("?state=accepted", vec![]),
        ("?code=AF-1", vec!["AF-1"]),
        ("?expires_before=2030-12-31", vec![]),
        ("?expires_before=2031-01-01", vec!["AF-2", "AF-1"]),
        (&format!("?procedure={procedure}"), vec!["AF-1"]),
    ] {
        let listed = analyst.get(&format!("/kit-lots{query}")).await.expect(200);
        let found: Vec<&str> = listed.body["items"]
            .as_array()
            .unwrap()
            .iter()
            .map(|lot| lot["code"].as_str().unwrap())
            .collect();
        assert_eq!(found, codes, "{query}");
    }
    crate::rebuild::is_told_by_records(&app).await;
}

#[actix_web::test]
async fn a_procedure_that_is_not_there_is_refused_and_nothing_is_left() {
    let app = serve().await;
    let quality = app.quality_manager().await;
    let nowhere = "019ca869-5003-7d46-b59c-6cf85cca57e4";
    let refused = quality
        .post("/kit-lots", content("AF-1", nowhere))
        .await
        .expect(422);
    assert_eq!(refused.body["errors"][0]["pointer"], "#/procedure");
    app.integrator()
        .await
        .post("/kit-lots", content("AF-1", nowhere))
        .await
        .expect(403);
    let listed = quality.get("/kit-lots").await.expect(200);
    assert_eq!(listed.body["items"], json!([]));

    let procedure = procedures::adopted(&quality, "P-07").await;
    let id = quarantined(&quality, "AF-1", &procedure).await;
    let path = format!("/kit-lots/{id}");
    let reason = json!({"code": "transcription-error", "text": "The curve lot was misread."});
    let refused = quality
        .put(
            &path,
            1,
            json!({"kit_lot": content("AF-1", nowhere), "reason": reason}),
        )
        .await
        .expect(422);
    assert_eq!(refused.body["errors"][0]["pointer"], "#/kit_lot/procedure");
    let mut mended = content("AF-1", &procedure);
    mended["curve_lot"] = json!("C-2602");
    let revised = quality
        .put(&path, 1, json!({"kit_lot": mended, "reason": reason}))
        .await
        .expect(200);
    assert_eq!(revised.body["curve_lot"], "C-2602");
    assert_eq!(revised.body["state"], "quarantined");
    let corrections = quality
        .get(&format!("/corrections?subject={id}"))
        .await
        .expect(200);
    assert_eq!(
        corrections.body["items"][0]["changes"][0]["pointer"],
        "/curve_lot"
    );
}
