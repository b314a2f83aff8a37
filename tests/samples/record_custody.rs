//! Custody of samples.

use super::{lot, of_lot};
use crate::{
    harness::callers::{fresh_key, serve},
    lots::{pointers, with},
};
use serde_json::json;

#[actix_web::test]
async fn events_are_added_in_the_order_of_time_until_the_sample_is_disposed_of() {
    let app = serve().await;
    let analyst = app.analyst().await;
    let lot = lot(&analyst, "L-1").await;
    let made = analyst
        .post("/samples", of_lot("S-1", &lot))
        .await
        .expect(201);
    let path = format!("/samples/{}/custody", made.id());
    let event = |at: &str, action: &str| json!({"at": at, "action": action, "place": "shelf 4"});
    let key = fresh_key();
    let moved = event("2026-03-01T09:00:00Z", "moved");
    let one = analyst
        .post_once(&path, &key, moved.clone())
        .await
        .expect(200);
    assert_eq!(one.etag.as_deref(), Some("\"2\""));
    assert_eq!(one.body["custody"][0]["by"].as_str(), analyst.id.as_deref());
    let again = analyst.post_once(&path, &key, moved).await.expect(200);
    assert_eq!(again.body, one.body, "the same request adds one event");

    let early = event("2026-03-01T08:59:59Z", "opened");
    let refused = analyst.post(&path, early).await.expect(409);
    assert_eq!(refused.problem(), "custody-out-of-order");
    let future = event("2999-03-01T08:59:59Z", "opened");
    let refused = analyst.post(&path, future).await.expect(422);
    assert_eq!(pointers(&refused.body), ["#/at"]);
    let nowhere = json!({"at": "2026-03-01T10:00:00Z", "action": "moved"});
    let refused = analyst.post(&path, nowhere).await.expect(422);
    assert_eq!(pointers(&refused.body), ["#/place"]);
    let refused = app
        .administrator()
        .post(&path, event("2026-03-01T10:00:00Z", "opened"))
        .await
        .expect(403);
    assert_eq!(refused.problem(), "not-permitted");

    analyst
        .post(&path, event("2026-03-01T11:00:00Z", "disposed"))
        .await
        .expect(200);
    let refused = analyst
        .post(&path, event("2026-03-01T12:00:00Z", "opened"))
        .await
        .expect(409);
    assert_eq!(refused.problem(), "sample-disposed-of");
    let shown = analyst
        .get(&format!("/samples/{}", made.id()))
        .await
        .expect(200);
    assert_eq!(shown.body["custody"].as_array().unwrap().len(), 2);
    assert_eq!(shown.body["version"], 3);
    crate::rebuild::is_told_by_records(&app).await;
}

#[actix_web::test]
async fn what_is_retained_is_not_disposed_of_early_and_two_events_at_once_both_stand() {
    let app = serve().await;
    let analyst = app.analyst().await;
    let lot = lot(&analyst, "L-1").await;
    let kept = with(
        of_lot("S-1", &lot),
        json!({"retained": {"mass_g": "500", "place": "shelf 4", "until": "2026-06-01"}}),
    );
    let made = analyst.post("/samples", kept).await.expect(201);
    let path = format!("/samples/{}/custody", made.id());
    let refused = analyst
        .post(
            &path,
            json!({"at": "2026-03-02T09:00:00Z", "action": "disposed"}),
        )
        .await
        .expect(409);
    assert_eq!(refused.problem(), "still-retained");
    let opened = json!({"at": "2026-03-02T09:00:00Z", "action": "opened"});
    let (one, two) = futures_util::join!(
        analyst.post(&path, opened.clone()),
        analyst.post(&path, opened.clone())
    );
    let mut versions = [
        one.expect(200).body["version"].as_i64().unwrap(),
        two.expect(200).body["version"].as_i64().unwrap(),
    ];
    versions.sort_unstable();
    assert_eq!(versions, [2, 3]);
}
