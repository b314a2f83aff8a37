//! Signing in, and being refused.

use crate::harness::callers::{PASSWORD, serve};
use reqwest::StatusCode;
use serde_json::json;

#[actix_web::test]
async fn ten_refusals_in_a_row_lock_an_account_and_each_leaves_a_record() {
    let app = serve().await;
    let analyst = app.analyst().await;
    let nobody = app.anonymous();
    let wrong = json!({"login": "analyst", "password": "not the right sentence"});
    for _ in 0..10 {
        let refused = nobody.post("/tokens", wrong.clone()).await.expect(401);
        assert_eq!(refused.problem(), "not-signed-in");
    }
    let right = json!({"login": "analyst", "password": PASSWORD});
    let locked = nobody.post("/tokens", right).await.expect(429);
    assert_eq!(locked.problem(), "too-many-attempts");
    let unknown = json!({"login": "nobody-here", "password": PASSWORD});
    nobody.post("/tokens", unknown).await.expect(401);
    // Others are not locked out, and a token that was given stays good until it is past.
    app.sign_in("admin").await;
    analyst.get("/customers").await.expect(200);
    let neither = nobody.post("/tokens", json!({"login": "analyst"})).await;
    assert_eq!(neither.status, StatusCode::UNPROCESSABLE_ENTITY);

    let records = app
        .count("SELECT count(*) FROM ledger_act WHERE action = 'sign-in'")
        .await;
    // The administrator twice, the analyst once, and ten refusals: an attempt at an account that
    // is locked, or that does not exist, changes nothing.
    assert_eq!(records, 13);
}

#[actix_web::test]
async fn a_good_sign_in_forgets_the_refusals_before_it() {
    let app = serve().await;
    app.analyst().await;
    let nobody = app.anonymous();
    let wrong = json!({"login": "analyst", "password": "not the right sentence"});
    for _ in 0..9 {
        nobody.post("/tokens", wrong.clone()).await.expect(401);
    }
    app.sign_in("analyst").await;
    for _ in 0..9 {
        nobody.post("/tokens", wrong.clone()).await.expect(401);
    }
    app.sign_in("analyst").await;
}
