//! Revising column maps.

use super::plain;
use crate::harness::callers::serve;
use serde_json::{Value, json};

fn change(map: Value) -> Value {
    json!({"column_map": map,
           "reason": {"code": "late-information", "text": "The reader has new firmware."}})
}

#[actix_web::test]
async fn a_revision_is_a_version_and_warns_where_runs_would_not_be_known_again() {
    let app = serve().await;
    let manager = app.quality_manager().await;
    let made = manager
        .post("/column-maps", plain("Bay 2"))
        .await
        .expect(201);
    let path = format!("/column-maps/{}", made.id());

    let mut harmless = plain("Bay 2");
    harmless["time_formats"] = json!(["%d.%m.%Y %H:%M:%S", "rfc3339"]);
    manager
        .put(&path, 5, change(harmless.clone()))
        .await
        .expect(412);
    let second = manager.put(&path, 1, change(harmless)).await.expect(200);
    assert_eq!(second.body["warnings"], json!([]));
    assert_eq!(second.etag.as_deref(), Some("\"2\""));

    let mut other = plain("Bay 2");
    other["identity"] = json!(["reader_serial", "port", "read_at", "sample_code"]);
    let third = manager
        .put(&path, 2, change(other.clone()))
        .await
        .expect(200);
    let warning = third.body["warnings"][0].as_str().unwrap();
    assert!(warning.contains("recorded twice"), "{warning}");
    let same = manager.put(&path, 3, change(other)).await.expect(409);
    assert_eq!(same.problem(), "nothing-changes");

    let mut broken = plain("Bay 2");
    broken["operators"] = json!({"KM": "019ca869-5003-7d46-b59c-6cf85cca57e4"});
    let refused = manager.put(&path, 3, change(broken)).await.expect(422);
    assert_eq!(
        refused.body["errors"][0]["pointer"],
        "#/column_map/operators/KM"
    );
    let shown = manager.get(&path).await.expect(200);
    assert_eq!(shown.body["version"], 3);
    let trail = manager
        .get(&format!("/records?subject={}", made.id()))
        .await
        .expect(200);
    assert_eq!(trail.body["items"].as_array().unwrap().len(), 3);
    assert_eq!(trail.body["items"][0]["reason"]["code"], "late-information");
    crate::rebuild::is_told_by_records(&app).await;
}

#[actix_web::test]
async fn an_analyst_reads_maps_and_does_not_change_them() {
    let app = serve().await;
    let manager = app.quality_manager().await;
    let analyst = app.analyst().await;
    let made = manager
        .post("/column-maps", plain("Bay 2"))
        .await
        .expect(201);
    let path = format!("/column-maps/{}", made.id());
    analyst.get(&path).await.expect(200);
    let refused = analyst
        .put(&path, 1, change(plain("Mine")))
        .await
        .expect(403);
    assert_eq!(refused.problem(), "not-permitted");
}
