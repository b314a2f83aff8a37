//! Changing one's own password.

use crate::harness::callers::{PASSWORD, serve};
use reqwest::StatusCode;
use serde_json::{Value, json};

#[actix_web::test]
async fn the_old_password_is_given_again_and_ends_with_the_change() {
    let app = serve().await;
    let analyst = app.analyst().await;
    let new = "another sentence that nobody guesses";
    let change = |old: &str, new: &str| json!({"password": old, "new_password": new});
    let wrong = analyst
        .put("/password", 1, change("not my sentence", new))
        .await;
    assert_eq!(wrong.expect(403).problem(), "not-permitted");
    let short = analyst.put("/password", 1, change(PASSWORD, "short")).await;
    let short = short.expect(422);
    assert_eq!(short.body["errors"][0]["pointer"], "#/new_password");
    app.sign_in("analyst").await;

    let changed = analyst.put("/password", 1, change(PASSWORD, new)).await;
    assert_eq!(changed.status, StatusCode::NO_CONTENT);
    let sign_in = async |password: &str| -> StatusCode {
        let body: Value = json!({"login": "analyst", "password": password});
        app.anonymous().post("/tokens", body).await.status
    };
    assert_eq!(sign_in(PASSWORD).await, StatusCode::UNAUTHORIZED);
    assert_eq!(sign_in(new).await, StatusCode::OK);
    let written = "SELECT count(*) FROM ledger_act WHERE action = 'change-password'";
    assert_eq!(
        app.count(written).await,
        1,
        "and the refused ones left nothing"
    );
    let leaked = "SELECT count(*) FROM ledger_act \
                  WHERE convert_from(records, 'UTF8') LIKE '%argon2%' \
                     OR convert_from(records, 'UTF8') LIKE '%sentence%'";
    assert_eq!(app.count(leaked).await, 0, "no credential enters a record");
}
