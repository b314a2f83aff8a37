//! Adopting, revising and retiring procedures.

use super::content;
use crate::harness::callers::serve;
use serde_json::json;

#[actix_web::test]
async fn an_adopted_procedure_that_is_revised_is_a_draft_until_it_is_adopted_again() {
    let app = serve().await;
    let quality = app.quality_manager().await;
    let id = quality
        .post("/procedures", content("P-07"))
        .await
        .expect(201)
        .id();
    let (path, adoption, retirement) = (
        format!("/procedures/{id}"),
        format!("/procedures/{id}/adoption"),
        format!("/procedures/{id}/retirement"),
    );
    let reason = json!({"code": "late-information", "text": "Revision 5 of the instructions."});

    let unnamed = quality.post(&adoption, json!({})).await.expect(428);
    assert_eq!(unnamed.problem(), "version-required");
    quality.post_seen(&adoption, 9, json!({})).await.expect(412);
    let never = quality
        .post_seen(&retirement, 1, json!({"reason": reason}))
        .await
        .expect(409);
    assert_eq!(never.problem(), "procedure-state");

    let adopted = quality.post_seen(&adoption, 1, json!({})).await.expect(200);
    assert_eq!(adopted.body["state"], "adopted");
    assert_eq!(adopted.etag.as_deref(), Some("\"2\""));
    let twice = quality.post_seen(&adoption, 2, json!({})).await.expect(409);
    assert_eq!(twice.problem(), "procedure-state");

    let mut next = content("P-07");
    next["kit_instructions_revision"] = json!("5");
    let revised = quality
        .put(&path, 2, json!({"procedure": next, "reason": reason}))
        .await
        .expect(200);
    assert_eq!(revised.body["state"], "draft");
    quality.post_seen(&adoption, 3, json!({})).await.expect(200);
    let retired = quality
        .post_seen(&retirement, 4, json!({"reason": reason}))
        .await
        .expect(200);
    assert_eq!(retired.body["state"], "retired");
    let closed = quality
        .put(
            &path,
            5,
            json!({"procedure": content("P-07"), "reason": reason}),
        )
        .await
        .expect(409);
    assert_eq!(closed.problem(), "procedure-state");

    let trail = quality
        .get(&format!("/records?subject={id}"))
        .await
        .expect(200);
    let actions: Vec<&str> = trail.body["items"]
        .as_array()
        .unwrap()
        .iter()
        .map(|record| record["action"].as_str().unwrap())
        .collect();
    assert_eq!(
        actions,
        [
            "adopt-procedure",
            "adopt-procedure",
            "draft-procedure",
            "adopt-procedure",
            "draft-procedure"
        ]
    );
    assert_eq!(trail.body["items"][0]["reason"]["text"], reason["text"]);
    crate::rebuild::is_told_by_records(&app).await;
}

#[actix_web::test]
async fn an_analyst_adopts_nothing() {
    let app = serve().await;
    let quality = app.quality_manager().await;
    let id = quality
        .post("/procedures", content("P-07"))
        .await
        .expect(201)
        .id();
    app.analyst()
        .await
        .post_seen(&format!("/procedures/{id}/adoption"), 1, json!({}))
        .await
        .expect(403);
    let shown = quality.get(&format!("/procedures/{id}")).await.expect(200);
    assert_eq!(shown.body["version"], 1);
}
