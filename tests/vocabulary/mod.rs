//! The vocabulary over HTTP.

use crate::harness::callers::serve;

#[actix_web::test]
async fn whoever_has_a_token_reads_the_words_for_goods_and_uses() {
    let app = serve().await;
    app.anonymous()
        .get("/v1/vocabulary/commodities")
        .await
        .expect(401);
    let caller = app.integrator().await;
    let goods = caller.get("/v1/vocabulary/commodities").await.expect(200);
    assert_eq!(goods.body["items"].as_array().unwrap().len(), 255);
    let uses = caller.get("/v1/vocabulary/uses").await.expect(200);
    assert_eq!(uses.body["items"].as_array().unwrap().len(), 76);
    let feed = caller
        .get("/v1/vocabulary/uses?within=feed-dairy")
        .await
        .expect(200);
    let ids: Vec<&str> = feed.body["items"]
        .as_array()
        .unwrap()
        .iter()
        .map(|entry| entry["id"].as_str().unwrap())
        .collect();
    assert!(ids.contains(&"feed-dairy") && ids.contains(&"feed-dairy-goats"));
    assert!(!ids.contains(&"feed"));
    let unknown = caller
        .get("/v1/vocabulary/uses?within=cake")
        .await
        .expect(400);
    assert_eq!(unknown.problem(), "malformed");
}
