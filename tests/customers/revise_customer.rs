//! Changing customers.

use crate::harness::callers::serve;
use serde_json::json;

#[actix_web::test]
async fn a_change_needs_the_version_that_was_seen_and_a_reason_and_hides_nothing() {
    let app = serve().await;
    let analyst = app.analyst().await;
    let made = analyst
        .post(
            "/customers",
            json!({"code": "MILL", "name": "Hollow Mill Ltd"}),
        )
        .await
        .expect(201);
    let path = format!("/customers/{}", made.id());
    let change = |text: &str| {
        json!({"customer": {"code": "MILL-2", "name": "Hollow Mill and Sons"},
               "reason": {"code": "late-information", "text": text}})
    };
    analyst.put(&path, 7, change("New name.")).await.expect(412);
    let blank = analyst.put(&path, 1, change(" ")).await.expect(422);
    assert_eq!(blank.body["errors"][0]["pointer"], "#/reason/text");
    analyst.put(&path, 1, change("New name.")).await.expect(200);
    analyst.put(&path, 1, change("New name.")).await.expect(412);
    let same = analyst
        .put(&path, 2, change("Once more."))
        .await
        .expect(409);
    assert_eq!(same.problem(), "nothing-changes");

    let trail = analyst
        .get(&format!("/records?subject={}", made.id()))
        .await
        .expect(200);
    let versions: Vec<i64> = trail.body["items"]
        .as_array()
        .unwrap()
        .iter()
        .map(|record| record["version"].as_i64().unwrap())
        .collect();
    assert_eq!(versions, [2, 1]);
    assert_eq!(trail.body["items"][1]["content"]["name"], "Hollow Mill Ltd");
    assert_eq!(trail.body["items"][0]["reason"]["text"], "New name.");
    let corrections = app
        .quality_manager()
        .await
        .get(&format!("/corrections?subject={}", made.id()))
        .await
        .expect(200);
    let correction = &corrections.body["items"][0];
    assert_eq!(correction["changes"][0]["pointer"], "/code");
    assert_eq!(correction["personal"][0]["pointer"], "/name");
    crate::rebuild::is_told_by_records(&app).await;
}

#[actix_web::test]
async fn an_integrator_may_not_change_a_customer() {
    let app = serve().await;
    let analyst = app.analyst().await;
    let made = analyst
        .post(
            "/customers",
            json!({"code": "MILL", "name": "Hollow Mill Ltd"}),
        )
        .await
        .expect(201);
    let refused = app
        .integrator()
        .await
        .put(
            &format!("/customers/{}", made.id()),
            1,
            json!({"customer": {"code": "M", "name": "N"}, "reason": {"code": "other", "text": "x"}}),
        )
        .await
        .expect(403);
    assert_eq!(refused.problem(), "not-permitted");
}
