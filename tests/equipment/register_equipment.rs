//! Registering, finding and revising equipment.

use super::registered;
use crate::{harness::callers::serve, sites};
use serde_json::json;

#[actix_web::test]
async fn equipment_is_registered_found_by_what_it_is_and_revised() {
    let app = serve().await;
    let quality = app.quality_manager().await;
    let analyst = app.analyst().await;
    let nowhere = "019ca869-5003-7d46-b59c-6cf85cca57e4";
    let piece = |site: &str| {
        json!({"code": "B-1", "kind": "balance", "name": "0.01 g",
        "site": site, "calibration_due_on": "2027-01-31", "check_due_on": "2026-12-31"})
    };
    let refused = quality.post("/equipment", piece(nowhere)).await.expect(422);
    assert_eq!(refused.body["errors"][0]["pointer"], "#/site");
    analyst
        .post(
            "/equipment",
            json!({"code": "B-1", "kind": "balance", "name": "x"}),
        )
        .await
        .expect(403);
    let none = analyst.get("/equipment").await.expect(200);
    assert_eq!(none.body["items"], json!([]));

    let id = registered(&quality, "B-1", "balance").await;
    registered(&quality, "M-1", "moisture-meter").await;
    let site = sites::registered(&quality, "GATE").await;
    let path = format!("/equipment/{id}");
    let body = |site: &str| {
        json!({"equipment": piece(site),
        "reason": {"code": "late-information", "text": "It was put at the gate."}})
    };
    let refused = quality.put(&path, 1, body(nowhere)).await.expect(422);
    assert_eq!(refused.body["errors"][0]["pointer"], "#/equipment/site");
    quality.put(&path, 1, body(&site)).await.expect(200);
    quality.put(&path, 1, body(&site)).await.expect(412);
    for (query, codes) in [
        ("", vec!["M-1", "B-1"]),
        ("?kind=moisture-meter", vec!["M-1"]),
        ("?code=B-1", vec!["B-1"]),
        ("?due_before=2026-12-31", vec![]),
        ("?due_before=2027-01-01", vec!["B-1"]),
        (&format!("?site={site}"), vec!["B-1"]),
    ] {
        let listed = analyst.get(&format!("/equipment{query}")).await.expect(200);
        let found: Vec<&str> = listed.body["items"]
            .as_array()
            .unwrap()
            .iter()
            .map(|piece| piece["code"].as_str().unwrap())
            .collect();
        assert_eq!(found, codes, "{query}");
    }
}
