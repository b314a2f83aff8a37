//! Drafting column maps.

use super::plain;
use crate::harness::callers::serve;
use serde_json::json;

#[actix_web::test]
async fn a_quality_manager_drafts_a_map_whose_operators_stand_in_no_record() {
    let app = serve().await;
    let manager = app.quality_manager().await;
    let analyst = app.analyst().await;
    let mut map = plain("Bay 2");
    map["operators"] = json!({"Kata M": analyst.id});
    let made = manager.post("/column-maps", map.clone()).await.expect(201);
    assert_eq!(made.body["join_tolerance_seconds"], 120);
    let shown = analyst
        .get(&made.location.clone().unwrap())
        .await
        .expect(200);
    assert_eq!(
        shown.body["operators"]["Kata M"],
        map["operators"]["Kata M"]
    );
    let trail = manager
        .get(&format!("/records?subject={}", made.id()))
        .await
        .expect(200);
    let record = trail.body["items"][0]["record"].as_str().unwrap();
    assert!(
        record.contains("Europe/Vienna") && !record.contains("Kata"),
        "an operator's name stands in a record only as a digest: {record}"
    );
    let twice = manager.post("/column-maps", map).await.expect(409);
    assert_eq!(twice.problem(), "duplicate");
    let found = analyst.get("/column-maps?name=Bay%202").await.expect(200);
    assert_eq!(found.body["items"].as_array().unwrap().len(), 1);
    let none = analyst.get("/column-maps?name=Bay%203").await.expect(200);
    assert_eq!(none.body["items"], json!([]));
}

#[actix_web::test]
async fn a_map_that_cannot_be_read_by_is_refused_and_leaves_nothing_behind() {
    let app = serve().await;
    let manager = app.quality_manager().await;
    let analyst = app.analyst().await;
    analyst
        .post("/column-maps", plain("Mine"))
        .await
        .expect(403);

    let mut vague = plain("Vague");
    vague["readings"]["by_row"]["unit"] = json!({"fixed": "ppb"});
    vague["time_zone"] = json!("Europe/Atlantis");
    let refused = manager.post("/column-maps", vague).await.expect(422);
    let pointers: Vec<&str> = refused.body["errors"]
        .as_array()
        .unwrap()
        .iter()
        .filter_map(|fault| fault["pointer"].as_str())
        .collect();
    assert_eq!(pointers, ["#/time_zone", "#/readings/by_row/unit/fixed"]);

    let mut strange = plain("Strange");
    strange["operators"] = json!({"KM/2": "019ca869-5003-7d46-b59c-6cf85cca57e4"});
    let refused = manager.post("/column-maps", strange).await.expect(422);
    assert_eq!(refused.body["errors"][0]["pointer"], "#/operators/KM~12");

    let mut extra = plain("Extra");
    extra["colour"] = json!("red");
    manager.post("/column-maps", extra).await.expect(422);
    let list = manager.get("/column-maps").await.expect(200);
    assert_eq!(list.body["items"], json!([]));
}
