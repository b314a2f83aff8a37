//! Adopting limits, and retiring them.

use super::intake_level;
use crate::harness::callers::serve;
use serde_json::json;

/// Commission Regulation (EU) 2023/915, Annex I, 1.1.13: aflatoxin B1 in maize and rice to
/// be sorted, 5,0 µg/kg.
const SORTING: &str = "eu-food-maize-rice-sorting-afb1";

#[actix_web::test]
async fn a_shipped_limit_is_adopted_on_a_reading_that_stays_out_of_the_record() {
    let app = serve().await;
    let manager = app.quality_manager().await;
    let path = format!("/limits/{SORTING}");
    let shipped = manager.get(&path).await.expect(200);
    assert_eq!(shipped.etag.as_deref(), Some("\"0\""));
    assert_eq!(shipped.body["limit"]["state"], "proposed");
    assert_eq!(shipped.body["limit"]["value"], "5");

    let adoption = |date: &str, reading: &str| json!({"date": date, "reading": reading});
    let act = format!("{path}/adoption");
    let good = adoption(
        "2026-03-01",
        "Annex I, 1.1.13 of the consolidated text: 5,0.",
    );
    let refused = app.reviewer().await.post(&act, good.clone()).await;
    assert_eq!(refused.expect(403).problem(), "not-permitted");
    let blank = manager
        .post(&act, adoption("2026-03-01", " "))
        .await
        .expect(422);
    assert_eq!(blank.body["errors"][0]["pointer"], "#/reading");
    let early = manager
        .post(&act, adoption("2999-01-01", "Annex I: 5,0."))
        .await
        .expect(422);
    assert_eq!(early.body["errors"][0]["pointer"], "#/date");
    let other = manager.post_seen(&act, 3, good.clone()).await.expect(412);
    assert_eq!(other.problem(), "stale-version");
    let untouched = manager.get(&path).await.expect(200);
    assert_eq!(
        untouched.body["version"], 0,
        "a refusal leaves nothing behind"
    );

    let adopted = manager.post_seen(&act, 0, good.clone()).await.expect(200);
    assert_eq!(adopted.body["limit"]["state"], "adopted");
    assert_eq!(adopted.body["limit"]["adoption"]["by"], json!(manager.id));
    assert_eq!(adopted.body["version"], 1);
    let again = manager.post_seen(&act, 1, good).await.expect(409);
    assert_eq!(again.problem(), "limit-state");

    let trail = manager
        .get(&format!("/records?subject={}", adopted.id()))
        .await
        .expect(200);
    let record = &trail.body["items"][0];
    assert_eq!(record["action"], "adopt-limit");
    let bytes = record["record"].as_str().unwrap();
    assert!(!bytes.contains("consolidated"), "a reading is free text");
    assert!(bytes.contains("\"scopes\""), "the scope is copied");
    let by_id = manager
        .get(&format!("/limits/{}", adopted.id()))
        .await
        .expect(200);
    assert_eq!(by_id.body["code"], SORTING);
    crate::rebuild::is_told_by_records(&app).await;
}

#[actix_web::test]
async fn a_limit_goes_from_proposed_to_adopted_to_retired_and_never_back() {
    let app = serve().await;
    let manager = app.quality_manager().await;
    manager.post("/limits", intake_level()).await.expect(201);
    let act = "/limits/intake-wheat-don/adoption";
    let adoption = json!({"date": "2026-03-01", "reading": "Intake rules 7, section 4: 900."});
    let unnamed = manager.post(act, adoption.clone()).await.expect(428);
    assert_eq!(unnamed.problem(), "version-required");
    let retirement = |date: &str| json!({"date": date, "reason": {"code": "late-information", "text": "Rules 8 hold now."}});
    let retire = "/limits/intake-wheat-don/retirement";
    let early = manager.post_seen(retire, 1, retirement("2026-03-02")).await;
    assert_eq!(early.expect(409).problem(), "limit-state");
    manager.post_seen(act, 1, adoption).await.expect(200);
    let before = manager.post_seen(retire, 2, retirement("2026-02-01")).await;
    assert_eq!(before.expect(422).body["errors"][0]["pointer"], "#/date");
    let retired = manager
        .post_seen(retire, 2, retirement("2026-03-02"))
        .await
        .expect(200);
    assert_eq!(retired.body["limit"]["state"], "retired");
    let trail = manager
        .get(&format!("/records?subject={}", retired.id()))
        .await
        .expect(200);
    assert_eq!(
        trail.body["items"][0]["reason"]["text"],
        "Rules 8 hold now."
    );
    let change = json!({"limit": intake_level(),
        "reason": {"code": "other", "text": "Once more."}});
    let late = manager
        .put("/limits/intake-wheat-don", 3, change)
        .await
        .expect(409);
    assert_eq!(late.problem(), "limit-state");
    let shipped_only = manager
        .post_seen(
            &format!("/limits/{SORTING}/retirement"),
            0,
            retirement("2026-03-02"),
        )
        .await;
    shipped_only.expect(404);
}
