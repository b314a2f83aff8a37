//! Recording runs.

use super::run;
use crate::harness::{callers::serve, fixtures::bench_of};
use serde_json::{Value, json};

fn kinds(run: &Value) -> Vec<String> {
    run["holds"]
        .as_array()
        .map(|holds| {
            holds
                .iter()
                .map(|hold| hold["kind"].as_str().unwrap().to_owned())
                .collect()
        })
        .unwrap_or_default()
}

#[actix_web::test]
async fn a_reading_in_range_gives_a_result_that_waits_for_a_second_person() {
    let app = serve().await;
    let bench = bench_of(&app).await;
    let made = bench
        .analyst
        .post("/runs", run(&bench, 0, "number", Some("4.13")))
        .await
        .expect(201);
    assert_eq!(kinds(&made.body), Vec::<String>::new(), "{:#}", made.body);
    let results = bench
        .analyst
        .get(&format!("/results?sample={}", bench.samples[0]))
        .await
        .expect(200);
    let result = &results.body["items"][0];
    assert_eq!(result["state"], "ready", "{result:#}");
    assert_eq!(result["reported"], "4.1");
    assert_eq!(result["concentration"], "4.130000");
    // FDA CPG Sec. 683.100: 20 ppb for human food; domain/data/limits.csv has the source.
    assert_eq!(
        result["decisions"][0]["decision"]["term"], "pass",
        "{result:#}"
    );
}

#[actix_web::test]
async fn over_range_asks_for_a_dilution_and_the_diluted_run_is_multiplied_once() {
    let app = serve().await;
    let bench = bench_of(&app).await;
    bench
        .analyst
        .post("/runs", run(&bench, 0, "above", Some("50")))
        .await
        .expect(201);
    let list = format!("/results?sample={}", bench.samples[0]);
    let before = bench.analyst.get(&list).await.expect(200);
    let over = &before.body["items"][0];
    // Over 50 decides the limit of 20, and no number was asked for: the bound stands.
    assert_eq!(over["state"], "ready", "{over:#}");
    assert_eq!(over["decisions"][0]["decision"]["term"], "fail");
    let mut diluted = run(&bench, 20, "number", Some("46"));
    diluted["dilution"] =
        json!([{"sample_volume_ul": "100", "diluent_volume_ul": "500", "diluent": "water"}]);
    bench.analyst.post("/runs", diluted).await.expect(201);
    let after = bench.analyst.get(&list).await.expect(200);
    let result = &after.body["items"][0];
    assert_eq!(
        result["concentration"], "276.000000",
        "46 x 6, once: {result:#}"
    );
    assert_eq!(result["reported"], "276.0");
    assert_eq!(
        result["factor"],
        json!({"numerator": "6", "denominator": "1"})
    );
}

#[actix_web::test]
async fn a_run_without_sample_or_with_an_unknown_kit_lot_is_kept_and_held() {
    let app = serve().await;
    let bench = bench_of(&app).await;
    let mut stray = run(&bench, 0, "number", Some("4.1"));
    stray.as_object_mut().unwrap().remove("sample");
    stray.as_object_mut().unwrap().remove("kit_lot");
    stray["kit_lot_code"] = json!("NOBODY-KNOWS");
    let made = bench.analyst.post("/runs", stray).await.expect(201);
    assert_eq!(made.body["state"], "unassigned");
    let held = kinds(&made.body);
    assert!(held.contains(&"no-sample".to_owned()), "{held:?}");
    assert!(held.contains(&"kit-lot-unknown".to_owned()), "{held:?}");
    let assigned = bench
        .analyst
        .post_seen(
            &format!("/runs/{}/assignment", made.id()),
            1,
            json!({"sample": bench.samples[0],
                "reason": {"code": "late-information", "text": "It lay in the tray of S-1."}}),
        )
        .await
        .expect(200);
    let held = kinds(&assigned.body);
    assert!(!held.contains(&"no-sample".to_owned()), "{held:?}");
    assert!(held.contains(&"kit-lot-unknown".to_owned()), "{held:?}");
    let results = bench
        .analyst
        .get(&format!("/results?sample={}", bench.samples[0]))
        .await
        .expect(200);
    // Without a kit lot there is no procedure, and so no range to read the value against.
    assert_eq!(results.body["items"][0]["state"], "needs-a-run");
}

#[actix_web::test]
async fn a_correction_keeps_both_versions_and_computes_again() {
    let app = serve().await;
    let bench = bench_of(&app).await;
    let made = bench
        .analyst
        .post("/runs", run(&bench, 0, "number", Some("52")))
        .await
        .expect(201);
    let correct = |value: &str| {
        json!({"run": run(&bench, 0, "number", Some(value)),
            "reason": {"code": "transcription-error", "text": "Two digits were exchanged."}})
    };
    let path = format!("/runs/{}/correction", made.id());
    bench
        .analyst
        .post_seen(&path, 9, correct("25"))
        .await
        .expect(412);
    let corrected = bench
        .analyst
        .post_seen(&path, 1, correct("25"))
        .await
        .expect(200);
    assert_eq!(corrected.body["readings"][0]["value"], "25");
    let trail = bench
        .analyst
        .get(&format!("/records?subject={}", made.id()))
        .await
        .expect(200);
    assert_eq!(
        trail.body["items"][1]["content"]["readings"][0]["value"],
        "52"
    );
    let results = bench
        .analyst
        .get(&format!("/results?sample={}", bench.samples[0]))
        .await
        .expect(200);
    assert_eq!(results.body["items"][0]["reported"], "25.0");
    assert_eq!(
        results.body["items"][0]["state"], "ready",
        "the analyst is known as before, though the correction leaves them out"
    );
}

#[actix_web::test]
async fn a_recalled_kit_lot_holds_what_was_run_on_it_once_the_job_has_looked() {
    let app = serve().await;
    let bench = bench_of(&app).await;
    bench
        .analyst
        .post("/runs", run(&bench, 0, "number", Some("4.1")))
        .await
        .expect(201);
    bench
        .quality
        .post_seen(
            &format!("/kit-lots/{}/recall", bench.kit_lot),
            2,
            json!({"reason": {"code": "other", "text": "The maker recalled it."}}),
        )
        .await
        .expect(200);
    let list = format!("/results?sample={}", bench.samples[0]);
    let mut state = Value::Null;
    for _ in 0..50 {
        let results = bench.analyst.get(&list).await.expect(200);
        state = results.body["items"][0]["state"].clone();
        if state == "held" {
            break;
        }
        tokio::time::sleep(std::time::Duration::from_millis(200)).await;
    }
    assert_eq!(state, "held");
}

#[actix_web::test]
async fn what_no_reader_can_have_read_is_refused_and_leaves_nothing() {
    let app = serve().await;
    let bench = bench_of(&app).await;
    let mut absurd = run(&bench, 0, "number", Some("-3"));
    bench
        .analyst
        .post("/runs", absurd.clone())
        .await
        .expect(422);
    absurd = run(&bench, 0, "number", Some("3"));
    absurd["port"] = json!(4);
    let refused = bench
        .analyst
        .post("/runs", absurd.clone())
        .await
        .expect(422);
    assert_eq!(refused.body["errors"][0]["pointer"], "#/port");
    absurd["port"] = json!(1);
    absurd["begun_at"] = json!("2026-03-01T09:00:00Z");
    bench
        .analyst
        .post("/runs", absurd.clone())
        .await
        .expect(422);
    absurd["begun_at"] = json!("2026-03-01T08:00:00Z");
    absurd["readings"][0]["value"] = json!("99999999999999999999999999999999999");
    bench.analyst.post("/runs", absurd).await.expect(422);
    let runs = bench.analyst.get("/runs").await.expect(200);
    assert_eq!(runs.body["items"].as_array().unwrap().len(), 0);
}
