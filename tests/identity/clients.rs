//! Service clients: registered, shown, closed.

use crate::harness::callers::{fresh_key, serve};
use serde_json::{Value, json};

#[actix_web::test]
async fn a_secret_is_shown_once_and_stands_nowhere_in_clear() {
    let app = serve().await;
    let administrator = app.administrator();
    let (key, body) = (fresh_key(), json!({"name": "Export of bench 2"}));
    let first = administrator
        .post_once("/clients", &key, body.clone())
        .await
        .expect(201);
    let secret = first.body["secret"].as_str().unwrap().to_owned();
    let again = administrator
        .post_once("/clients", &key, body)
        .await
        .expect(201);
    assert_eq!(again.body["id"], first.body["id"]);
    assert_eq!(again.body["secret"], Value::Null);
    assert_eq!(again.location, first.location);
    let kept = format!(
        "SELECT count(*) FROM idempotency_answer WHERE convert_from(body, 'UTF8') LIKE '%{secret}%'"
    );
    assert_eq!(app.count(&kept).await, 0);
    let shown = administrator
        .get(&first.location.unwrap())
        .await
        .expect(200);
    assert_eq!(shown.body["name"], "Export of bench 2");
    assert_eq!(shown.body["secret"], Value::Null);
    crate::rebuild::is_told_by_records(&app).await;
}

#[actix_web::test]
async fn a_closed_client_gets_no_more_tokens() {
    let app = serve().await;
    let administrator = app.administrator();
    let made = administrator
        .post("/clients", json!({"name": "Export of bench 2"}))
        .await
        .expect(201);
    let credentials = json!({"client": made.body["id"], "secret": made.body["secret"]});
    app.anonymous()
        .post("/tokens", credentials.clone())
        .await
        .expect(200);
    let path = format!("/clients/{}", made.id());
    let close = json!({"client": {"name": "Export of bench 2", "state": "closed"},
        "reason": {"code": "other", "text": "The bench was given up."}});
    app.analyst()
        .await
        .put(&path, 1, close.clone())
        .await
        .expect(403);
    administrator.put(&path, 2, close.clone()).await.expect(412);
    let closed = administrator.put(&path, 1, close).await.expect(200);
    assert_eq!(closed.body["state"], "closed");
    app.anonymous()
        .post("/tokens", credentials)
        .await
        .expect(401);
    let list = administrator.get("/clients").await.expect(200);
    assert_eq!(list.body["items"][0]["state"], "closed");
}
