//! Changing accounts.

use crate::harness::callers::serve;
use serde_json::json;

#[actix_web::test]
async fn a_changed_name_and_role_leave_old_entries_as_they_were() {
    let app = serve().await;
    let analyst = app.analyst().await;
    let id = analyst.id.clone().unwrap();
    let customer = analyst
        .post("/customers", json!({"code": "MILL", "name": "Hollow Mill"}))
        .await
        .expect(201);
    let trail = format!("/records?subject={}", customer.id());
    let before = analyst.get(&trail).await.expect(200);
    assert_eq!(before.body["items"][0]["actor"]["role"], "analyst");

    let change = json!({"account": {"login": "analyst", "printed_name": "Another Name",
            "roles": ["quality-manager"]},
        "reason": {"code": "late-information", "text": "Married, and promoted."}});
    analyst
        .put(&format!("/accounts/{id}"), 1, change.clone())
        .await
        .expect(403);
    let changed = app
        .administrator()
        .put(&format!("/accounts/{id}"), 1, change)
        .await
        .expect(200);
    assert_eq!(changed.body["printed_name"], "Another Name");

    let manager = app.sign_in("analyst").await;
    let after = manager.get(&trail).await.expect(200);
    assert_eq!(after.body["items"][0], before.body["items"][0]);
    let account = manager
        .get(&format!("/records?subject={id}"))
        .await
        .expect(200);
    let names: Vec<&str> = account.body["items"]
        .as_array()
        .unwrap()
        .iter()
        .map(|record| record["content"]["printed_name"].as_str().unwrap())
        .collect();
    assert_eq!(names, ["Another Name", "Person analyst"]);
}

#[actix_web::test]
async fn a_closed_account_cannot_sign_in() {
    let app = serve().await;
    let reviewer = app.reviewer().await;
    let close = json!({"account": {"login": "reviewer", "printed_name": "Person reviewer",
            "roles": ["reviewer"], "state": "closed"},
        "reason": {"code": "other", "text": "Left the laboratory."}});
    let path = format!("/accounts/{}", reviewer.id.clone().unwrap());
    app.administrator().put(&path, 1, close).await.expect(200);
    let password = crate::harness::callers::PASSWORD;
    app.anonymous()
        .post(
            "/tokens",
            json!({"login": "reviewer", "password": password}),
        )
        .await
        .expect(401);
}
