//! Opening, finding and closing series.

use crate::{harness::callers::serve, kit_lots, procedures, sites};
use serde_json::json;

#[actix_web::test]
async fn a_series_is_opened_with_a_lot_of_its_procedure_found_and_closed_once() {
    let app = serve().await;
    let quality = app.quality_manager().await;
    let analyst = app.analyst().await;
    let site = sites::registered(&quality, "GATE").await;
    let procedure = procedures::adopted(&quality, "P-07").await;
    let other = procedures::adopted(&quality, "P-08").await;
    let kit_lot = kit_lots::quarantined(&quality, "AF-1", &procedure).await;
    let nowhere = "019ca869-5003-7d46-b59c-6cf85cca57e4";
    let body = |site: &str, procedure: &str, kit_lot: &str| json!({"code": "2026-03-01/1", "site": site, "procedure": procedure, "kit_lot": kit_lot});
    let refused = analyst
        .post("/series", body(nowhere, nowhere, nowhere))
        .await
        .expect(422);
    let mut pointers: Vec<&str> = refused.body["errors"]
        .as_array()
        .unwrap()
        .iter()
        .map(|fault| fault["pointer"].as_str().unwrap())
        .collect();
    pointers.sort_unstable();
    assert_eq!(pointers, ["#/kit_lot", "#/procedure", "#/site"]);
    let refused = analyst
        .post("/series", body(&site, &other, &kit_lot))
        .await
        .expect(422);
    assert_eq!(refused.body["errors"][0]["pointer"], "#/kit_lot");
    quality
        .post("/series", body(&site, &procedure, &kit_lot))
        .await
        .expect(403);
    let none = analyst.get("/series").await.expect(200);
    assert_eq!(none.body["items"], json!([]));

    let made = analyst
        .post("/series", body(&site, &procedure, &kit_lot))
        .await
        .expect(201);
    assert_eq!(made.body["state"], "open");
    assert_eq!(made.body["opened_by"].as_str(), analyst.id.as_deref());
    let twice = analyst
        .post("/series", body(&site, &procedure, &kit_lot))
        .await
        .expect(409);
    assert_eq!(twice.problem(), "duplicate");
    let closure = format!("/series/{}/closure", made.id());
    let early = analyst
        .post(&closure, json!({"at": "2020-01-01T00:00:00Z"}))
        .await
        .expect(409);
    assert_eq!(early.problem(), "series-state");
    let closed = analyst.post(&closure, json!({})).await.expect(200);
    assert_eq!(closed.body["state"], "closed");
    let again = analyst.post(&closure, json!({})).await.expect(409);
    assert_eq!(again.problem(), "series-state");
    for (query, count) in [
        ("?state=open".to_owned(), 0),
        ("?state=closed".to_owned(), 1),
        (format!("?site={site}&kit_lot={kit_lot}"), 1),
        (format!("?kit_lot={nowhere}"), 0),
    ] {
        let listed = analyst.get(&format!("/series{query}")).await.expect(200);
        assert_eq!(
            listed.body["items"].as_array().unwrap().len(),
            count,
            "{query}"
        );
    }
    crate::rebuild::is_told_by_records(&app).await;
}
