//! Changing accounts.

use crate::harness::callers::{PASSWORD, serve};
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
    crate::rebuild::is_told_by_records(&app).await;
}

#[actix_web::test]
async fn a_closed_account_neither_signs_in_nor_writes() {
    let app = serve().await;
    let analyst = app.analyst().await;
    let close = json!({"account": {"login": "analyst", "printed_name": "Person analyst",
            "roles": ["analyst"], "state": "closed"},
        "reason": {"code": "other", "text": "Left the laboratory."}});
    let path = format!("/accounts/{}", analyst.id.clone().unwrap());
    let early = json!({"code": "EARLY", "name": "In Time Ltd"});
    let customer = analyst.post("/customers", early.clone()).await.expect(201);
    app.administrator().put(&path, 1, close).await.expect(200);
    // The token is good for minutes yet, but nothing is written with it.
    let late = json!({"code": "LATE", "name": "Too Late Ltd"});
    let late = analyst.post("/customers", late).await.expect(401);
    assert_eq!(late.problem(), "not-signed-in");
    let revision = json!({"customer": {"code": "EARLY", "name": "Another Name"},
        "reason": {"code": "other", "text": "On the way out."}});
    let at = format!("/customers/{}", customer.id());
    analyst.put(&at, 1, revision).await.expect(401);
    let there = app.administrator().get("/customers").await.expect(200);
    assert_eq!(there.body["items"].as_array().unwrap().len(), 1);
    app.anonymous()
        .post("/tokens", json!({"login": "analyst", "password": PASSWORD}))
        .await
        .expect(401);
}

#[actix_web::test]
async fn a_login_belongs_to_one_person() {
    let app = serve().await;
    app.analyst().await;
    for login in ["analyst", "Analyst"] {
        let account = json!({"login": login, "printed_name": "Somebody Else",
            "roles": ["analyst"]});
        let same = json!({"account": account, "password": PASSWORD});
        let refused = app.administrator().post("/accounts", same).await;
        assert!(
            [409, 422].contains(&refused.status.as_u16()),
            "{login}: {:#}",
            refused.body
        );
    }
    let accounts = app.administrator().get("/accounts").await.expect(200);
    let accounts = accounts.body["items"].as_array().unwrap();
    let of_login = |one: &&serde_json::Value| one["login"] == "analyst";
    assert_eq!(accounts.iter().filter(of_login).count(), 1);
}
