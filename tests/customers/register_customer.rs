//! Registering customers.

use crate::harness::callers::{fresh_key, serve};
use serde_json::json;

#[actix_web::test]
async fn an_analyst_registers_a_customer_and_finds_it_again() {
    let app = serve().await;
    let analyst = app.analyst().await;
    let made = analyst
        .post(
            "/customers",
            json!({"code": "MILL", "name": "Hollow Mill Ltd"}),
        )
        .await
        .expect(201);
    assert_eq!(made.etag.as_deref(), Some("\"1\""));
    let shown = analyst
        .get(&made.location.clone().unwrap())
        .await
        .expect(200);
    assert_eq!(shown.body["name"], "Hollow Mill Ltd");
    let trail = analyst
        .get(&format!("/records?subject={}", made.id()))
        .await
        .expect(200);
    let record = &trail.body["items"][0];
    assert_eq!(record["action"], "register-customer");
    assert_eq!(record["content"]["name"], "Hollow Mill Ltd");
    assert!(
        !record["record"].as_str().unwrap().contains("Hollow"),
        "a name stands in a record only as a digest"
    );
}

#[actix_web::test]
async fn the_same_request_twice_makes_one_customer() {
    let app = serve().await;
    let analyst = app.analyst().await;
    let key = fresh_key();
    let body = json!({"code": "MILL", "name": "Hollow Mill Ltd"});
    let first = analyst
        .post_once("/customers", &key, body.clone())
        .await
        .expect(201);
    let again = analyst
        .post_once("/customers", &key, body)
        .await
        .expect(201);
    assert_eq!(first.body, again.body);
    assert_eq!(first.location, again.location);
    let other = analyst
        .post_once(
            "/customers",
            &key,
            json!({"code": "OTHER", "name": "Another"}),
        )
        .await
        .expect(422);
    assert_eq!(other.problem(), "idempotency-key-reused");
    let list = analyst.get("/customers").await.expect(200);
    assert_eq!(list.body["items"].as_array().unwrap().len(), 1);
}

#[actix_web::test]
async fn a_code_in_use_is_refused_and_leaves_nothing_behind() {
    let app = serve().await;
    let analyst = app.analyst().await;
    let body = json!({"code": "MILL", "name": "Hollow Mill Ltd"});
    analyst.post("/customers", body.clone()).await.expect(201);
    let refused = analyst.post("/customers", body).await.expect(409);
    assert_eq!(refused.problem(), "duplicate");
    let list = analyst.get("/customers").await.expect(200);
    assert_eq!(list.body["items"].as_array().unwrap().len(), 1);
}

#[actix_web::test]
async fn faults_are_named_by_pointer() {
    let app = serve().await;
    let analyst = app.analyst().await;
    let refused = analyst
        .post("/customers", json!({"code": "", "name": ""}))
        .await
        .expect(422);
    let pointers: Vec<&str> = refused.body["errors"]
        .as_array()
        .unwrap()
        .iter()
        .map(|fault| fault["pointer"].as_str().unwrap())
        .collect();
    assert_eq!(pointers, ["#/code", "#/name"]);
}

#[actix_web::test]
async fn a_name_given_twice_in_the_body_is_refused() {
    let app = serve().await;
    let analyst = app.analyst().await;
    let refused = analyst
        .post_bytes(
            "/customers",
            "application/json",
            br#"{"code":"A","code":"B","name":"x"}"#.to_vec(),
        )
        .await
        .expect(400);
    assert_eq!(refused.problem(), "malformed");
}
