//! Loading curves into readers.

use super::registered;
use crate::harness::callers::serve;
use serde_json::json;

#[actix_web::test]
async fn it_is_known_who_loaded_which_curve_and_when() {
    let app = serve().await;
    let quality = app.quality_manager().await;
    let analyst = app.analyst().await;
    let id = registered(&quality, "R-1").await;
    let path = format!("/readers/{id}/curves");
    let curve =
        json!({"curve_lot": "C-2601", "matrix": "maize", "loaded_at": "2026-03-01T07:00:00Z"});
    let loaded = analyst.post(&path, curve.clone()).await.expect(200);
    assert_eq!(loaded.body["version"], 2);
    assert_eq!(
        loaded.body["curves"][0]["loaded_by"].as_str(),
        analyst.id.as_deref()
    );
    let twice = analyst.post(&path, curve).await.expect(409);
    assert_eq!(twice.problem(), "curve-loaded");
    let stranger = analyst
        .post(
            &path,
            json!({"curve_lot": "C-2602", "loaded_at": "2026-03-01T07:00:00Z",
                   "loaded_by": "019ca869-5003-7d46-b59c-6cf85cca57e4"}),
        )
        .await
        .expect(422);
    assert_eq!(stranger.body["errors"][0]["pointer"], "#/loaded_by");
    app.reviewer()
        .await
        .post(
            &path,
            json!({"curve_lot": "C-2602", "loaded_at": "2026-03-01T07:00:00Z"}),
        )
        .await
        .expect(403);
    let shown = analyst.get(&format!("/readers/{id}")).await.expect(200);
    assert_eq!(shown.body["version"], 2);
    crate::rebuild::is_told_by_records(&app).await;
}
