//! Recording the steps from the sample to the extract.

use super::{overdue, sample, step};
use crate::{
    harness::callers::serve,
    lots::{pointers, with},
    samples,
};
use serde_json::json;

const NOBODY: &str = "019ca869-5003-7d46-b59c-6cf85cca57e4";

#[actix_web::test]
async fn the_bench_fills_in_what_nobody_types_and_the_answer_shows_it() {
    let app = serve().await;
    let analyst = app.analyst().await;
    let quality = app.quality_manager().await;
    let grinder = overdue(&quality, "grinder").await;
    let balance = overdue(&quality, "balance").await;
    let shaker = overdue(&quality, "shaker").await;
    let site = quality
        .post(
            "/sites",
            json!({"code": "GATE", "name": "River gate", "time_zone": "Europe/Lisbon",
                   "bench": {"grinder": grinder, "balance": balance, "shaker": shaker,
                             "liquids": [{"name": "distilled water", "lot": "W-12",
                                          "volume_ml": "50"}]}}),
        )
        .await
        .expect(201)
        .id();
    let lot = samples::lot(&analyst, "L-1").await;
    let there = with(samples::of_lot("S-1", &lot), json!({"site": site}));
    let sample = analyst.post("/samples", there).await.expect(201).id();

    let ground = step("ground-sample", &sample, "2026-03-01T08:20:00Z", None);
    let ground = analyst.post("/preparations", ground).await.expect(201);
    assert_eq!(ground.body["filled_in"], json!(["/equipment"]));
    assert_eq!(ground.body["equipment"], json!([grinder]));
    assert_eq!(ground.body["by"].as_str(), analyst.id.as_deref());
    // The balance is past its date: what is weighed on it is recorded all the same.
    let portion = with(
        step(
            "test-portion",
            &sample,
            "2026-03-01T08:30:00Z",
            Some(&ground.id()),
        ),
        json!({"mass_g": "10.0"}),
    );
    let portion = analyst.post("/preparations", portion).await.expect(201);
    assert_eq!(portion.body["equipment"], json!([balance]));
    let extract = step(
        "extract",
        &sample,
        "2026-03-01T08:40:00Z",
        Some(&portion.id()),
    );
    let typed = with(
        extract.clone(),
        json!({"liquids": [{"name": "buffer", "lot": "B-1", "volume_ml": "50"}]}),
    );
    let extract = analyst.post("/preparations", extract).await.expect(201);
    assert_eq!(extract.body["filled_in"], json!(["/equipment", "/liquids"]));
    assert_eq!(extract.body["liquids"][0]["lot"], "W-12");
    let other = analyst.post("/preparations", typed).await.expect(201);
    assert_eq!(other.body["filled_in"], json!(["/equipment"]));
    assert_eq!(other.body["liquids"][0]["lot"], "B-1");

    let shown = analyst
        .get(&extract.location.clone().unwrap())
        .await
        .expect(200);
    assert_eq!(shown.body["equipment"], json!([shaker]));
    for (query, count) in [
        (format!("sample={sample}"), 4),
        (format!("sample={sample}&kind=extract"), 2),
        (format!("parent={}", ground.id()), 1),
        (format!("sample={NOBODY}"), 0),
    ] {
        let found = analyst
            .get(&format!("/preparations?{query}"))
            .await
            .expect(200);
        let items = found.body["items"].as_array().unwrap();
        assert_eq!(items.len(), count, "{query}");
    }
}

#[actix_web::test]
async fn a_chain_that_does_not_fit_is_refused_and_leaves_nothing_behind() {
    let app = serve().await;
    let analyst = app.analyst().await;
    let (one, two) = (sample(&analyst, "S-1").await, sample(&analyst, "S-2").await);
    let ground = with(
        step("ground-sample", &one, "2026-03-01T08:20:00Z", None),
        json!({"mass_g": "500"}),
    );
    let ground = analyst.post("/preparations", ground).await.expect(201);
    assert_eq!(ground.body["filled_in"], json!([]), "there is no bench");
    let id = ground.id();
    let later = "2026-03-01T08:30:00Z";
    for (body, pointer) in [
        (step("test-portion", &one, later, None), "#/parent"),
        (step("test-portion", &one, later, Some(NOBODY)), "#/parent"),
        (step("extract", &one, later, Some(&id)), "#/parent"),
        (step("ground-sample", &one, later, Some(&id)), "#/parent"),
        (step("test-portion", &two, later, Some(&id)), "#/parent"),
        (step("ground-sample", NOBODY, later, None), "#/sample"),
        (
            step("test-portion", &one, "2026-03-01T08:19:00Z", Some(&id)),
            "#/at",
        ),
        (
            with(
                step("test-portion", &one, later, Some(&id)),
                json!({"mass_g": "500.1"}),
            ),
            "#/mass_g",
        ),
        (
            with(
                step("test-portion", &one, later, Some(&id)),
                json!({"equipment": [NOBODY]}),
            ),
            "#/equipment/0",
        ),
        (
            with(
                step("test-portion", &one, later, Some(&id)),
                json!({"procedure": NOBODY}),
            ),
            "#/procedure",
        ),
        (
            with(
                step("test-portion", &one, later, Some(&id)),
                json!({"by": NOBODY}),
            ),
            "#/by",
        ),
        (
            with(
                step("test-portion", &one, later, Some(&id)),
                json!({"shaking_s": 180}),
            ),
            "#/shaking_s",
        ),
    ] {
        let refused = analyst.post("/preparations", body).await.expect(422);
        assert_eq!(pointers(&refused.body), [pointer], "{}", refused.body);
    }
    let refused = app
        .integrator()
        .await
        .post("/preparations", step("ground-sample", &one, later, None))
        .await
        .expect(403);
    assert_eq!(refused.problem(), "not-permitted");
    let list = analyst.get("/preparations").await.expect(200);
    assert_eq!(list.body["items"].as_array().unwrap().len(), 1);
}
