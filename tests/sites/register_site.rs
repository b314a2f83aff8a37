//! Registering sites and setting up their benches.

use super::registered;
use crate::{harness::callers::serve, procedures, readers};
use serde_json::json;

#[actix_web::test]
async fn a_bench_is_set_up_with_things_that_are_there() {
    let app = serve().await;
    let quality = app.quality_manager().await;
    let nowhere = "019ca869-5003-7d46-b59c-6cf85cca57e4";
    let refused = quality
        .post(
            "/sites",
            json!({"code": "GATE", "name": "River gate", "time_zone": "Europe/Lisbon",
                   "bench": {"reader": nowhere, "balance": nowhere, "pipettes": [nowhere],
                             "procedure": nowhere}}),
        )
        .await
        .expect(422);
    let pointers: Vec<&str> = refused.body["errors"]
        .as_array()
        .unwrap()
        .iter()
        .map(|fault| fault["pointer"].as_str().unwrap())
        .collect();
    assert_eq!(
        pointers,
        [
            "#/bench/balance",
            "#/bench/pipettes/0",
            "#/bench/procedure",
            "#/bench/reader"
        ]
    );
    let none = quality.get("/sites").await.expect(200);
    assert_eq!(none.body["items"], json!([]));

    let reader = readers::registered(&quality, "R-1").await;
    let procedure = procedures::adopted(&quality, "P-07").await;
    let id = registered(&quality, "GATE").await;
    let body = |reader: &str| {
        json!({"site": {"code": "GATE", "name": "River gate", "time_zone": "Europe/Lisbon",
                        "bench": {"reader": reader, "procedure": procedure}},
               "reason": {"code": "late-information", "text": "The reader was set up."}})
    };
    let path = format!("/sites/{id}");
    let refused = quality.put(&path, 1, body(&procedure)).await.expect(422);
    assert_eq!(refused.body["errors"][0]["pointer"], "#/site/bench/reader");
    let analyst = app.analyst().await;
    analyst.put(&path, 1, body(&reader)).await.expect(403);
    let set_up = quality.put(&path, 1, body(&reader)).await.expect(200);
    assert_eq!(set_up.body["bench"]["reader"], reader.as_str());
    let shown = analyst.get(&path).await.expect(200);
    assert_eq!(shown.body["version"], 2);
    let listed = analyst.get("/sites").await.expect(200);
    assert_eq!(listed.body["items"][0]["id"], id.as_str());
    let other = registered(&quality, "MILL").await;
    let by_code = analyst.get("/sites?code=GATE").await.expect(200);
    assert_eq!(by_code.body["items"].as_array().unwrap().len(), 1);
    assert_eq!(by_code.body["items"][0]["id"], id.as_str());
    let newest = analyst.get("/sites?limit=1").await.expect(200);
    assert_eq!(newest.body["items"][0]["id"], other.as_str());
    assert!(newest.link.unwrap().contains("rel=\"next\""));
}
