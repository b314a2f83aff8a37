//! Registering, finding and revising readers.

use super::registered;
use crate::harness::callers::serve;
use serde_json::json;

#[actix_web::test]
async fn a_reader_is_registered_found_and_revised() {
    let app = serve().await;
    let quality = app.quality_manager().await;
    let analyst = app.analyst().await;
    let nowhere = "019ca869-5003-7d46-b59c-6cf85cca57e4";
    let refused = quality
        .post(
            "/readers",
            json!({"serial": "R-1", "name": "bench 1", "ports": 3, "site": nowhere}),
        )
        .await
        .expect(422);
    assert_eq!(refused.body["errors"][0]["pointer"], "#/site");
    analyst
        .post(
            "/readers",
            json!({"serial": "R-1", "name": "a", "ports": 3}),
        )
        .await
        .expect(403);
    let none = analyst.get("/readers").await.expect(200);
    assert_eq!(none.body["items"], json!([]));

    let id = registered(&quality, "R-1").await;
    let twice = quality
        .post(
            "/readers",
            json!({"serial": "R-1", "name": "b", "ports": 1}),
        )
        .await
        .expect(409);
    assert_eq!(twice.problem(), "duplicate");
    let site = quality
        .post(
            "/sites",
            json!({"code": "GATE", "name": "River gate", "time_zone": "Europe/Lisbon"}),
        )
        .await
        .expect(201)
        .id();
    let body = |site: &str| {
        json!({"reader": {"serial": "R-1", "name": "bench 1", "ports": 3, "site": site,
                "calibration_due_on": "2027-01-31", "check_due_on": "2026-12-31"},
               "reason": {"code": "late-information", "text": "It was put at the gate."}})
    };
    let path = format!("/readers/{id}");
    let refused = quality.put(&path, 1, body(nowhere)).await.expect(422);
    assert_eq!(refused.body["errors"][0]["pointer"], "#/reader/site");
    quality.put(&path, 1, body(&site)).await.expect(200);
    quality.put(&path, 1, body(&site)).await.expect(412);
    for (query, count) in [
        (format!("?site={site}"), 1),
        (format!("?site={nowhere}"), 0),
        ("?serial=R-1".into(), 1),
        ("?due_before=2026-12-31".into(), 0),
        ("?due_before=2027-01-01".into(), 1),
    ] {
        let listed = analyst.get(&format!("/readers{query}")).await.expect(200);
        let found = listed.body["items"].as_array().unwrap().len();
        assert_eq!(found, count, "{query}");
    }
}
