//! Recording validations, and growing them day by day.

use super::{pointers, study};
use crate::{
    harness::{callers::serve, fixtures::bench_of},
    runs::run,
};
use serde_json::json;

#[actix_web::test]
async fn a_study_grows_as_a_draft_and_says_what_it_lacks() {
    let app = serve().await;
    let bench = bench_of(&app).await;
    let whole = study(&bench);
    let mut begun = whole.clone();
    let determinations = begun["determinations"].as_array_mut().unwrap();
    determinations.truncate(2);
    begun.as_object_mut().unwrap().remove("below_counted_as");
    let reviewer = app.reviewer().await;
    let refused = reviewer.post("/screening-validations", begun.clone()).await;
    refused.expect(403);
    let made = bench
        .analyst
        .post("/screening-validations", begun.clone())
        .await;
    let made = made.expect(201);
    assert_eq!(made.body["state"], "draft");
    assert_eq!(made.body["missing"]["quantity"], "blanks");
    assert_eq!(
        made.body["missing"]["detail"],
        "blanks: 20 are needed, 2 are there."
    );
    assert_eq!(made.body["usable"], false);
    let again = bench.analyst.post("/screening-validations", begun).await;
    assert_eq!(again.expect(409).problem(), "duplicate");

    let path = format!("/screening-validations/{}", made.id());
    let change = json!({"validation": whole,
        "reason": {"code": "late-information", "text": "The other four days."}});
    let revised = bench
        .analyst
        .put(&path, 1, change.clone())
        .await
        .expect(200);
    assert_eq!(revised.body.get("missing"), None, "{:#}", revised.body);
    assert_eq!(revised.body["cut_off"], "19");
    assert_eq!(revised.body.get("report"), None, "nobody adopted it");
    let stale = bench.analyst.put(&path, 1, change).await;
    assert_eq!(stale.expect(412).problem(), "stale-version");

    let report = reviewer.get(&format!("{path}/report")).await.expect(200);
    let found = &report.body["report"]["validation"];
    assert_eq!(found["blanks"], 20);
    assert_eq!(found["days"], 5);
    assert_eq!(found["target_mean"], "20.015");
    assert_eq!(report.body["determinations"].as_array().unwrap().len(), 40);
    let law = report.body["law"].as_str().unwrap();
    assert!(law.ends_with("2023/2782, Annex II, point 4.2"), "{law}");
    let remarks = report.body["report"]["remarks"].to_string();
    assert!(remarks.contains("counted as the bound"), "{remarks}");

    for (filter, found) in [
        ("", 1),
        ("?state=draft", 1),
        ("?state=adopted", 0),
        ("?analyte=zearalenone", 0),
        (&format!("?procedure={}", bench.procedure), 1),
        (&format!("?procedure={}", bench.lot), 0),
    ] {
        let list = reviewer
            .get(&format!("/screening-validations{filter}"))
            .await;
        let list = list.expect(200);
        assert_eq!(
            list.body["items"].as_array().unwrap().len(),
            found,
            "{filter}"
        );
    }
    crate::rebuild::is_told_by_records(&app).await;
}

#[actix_web::test]
async fn what_a_study_names_is_there_and_says_the_same() {
    let app = serve().await;
    let bench = bench_of(&app).await;
    let sample = json!({"code": "V-1", "purpose": "validation", "commodity": "maize-grain",
        "received_at": "2026-03-01T07:00:00Z"});
    let sample = bench
        .analyst
        .post("/samples", sample)
        .await
        .expect(201)
        .id();
    let mut read = run(&bench, 0, "number", Some("20.4"));
    read["sample"] = json!(sample);
    let right = bench
        .analyst
        .post("/runs", read.clone())
        .await
        .expect(201)
        .id();
    read["begun_at"] = json!("2026-03-01T09:00:00Z");
    read["read_at"] = json!("2026-03-01T09:06:00Z");
    read["readings"][0] = json!({"analyte": "aflatoxin-total", "kind": "above", "value": "50",
        "unit": "ug/kg"});
    let above = bench.analyst.post("/runs", read).await.expect(201).id();
    let refused = async |change: &dyn Fn(&mut serde_json::Value)| {
        let mut body = study(&bench);
        change(&mut body);
        let refused = bench.analyst.post("/screening-validations", body).await;
        let refused = refused.expect(422);
        pointers(&refused.body)
            .iter()
            .map(|one| (*one).to_owned())
            .collect::<Vec<_>>()
    };
    let named = |body: &mut serde_json::Value, run: &str, on: &str, value: &str| {
        body["determinations"][20] = json!({"kind": "positive", "on": on, "value": value,
            "run": run});
    };
    let day = "2026-03-01";
    let at = |member: &str| format!("#/determinations/20/{member}");
    let none = "019ca869-5003-7d46-b59c-6cf85cca57e4";
    for (found, expected) in [
        (
            refused(&|body| named(body, &right, day, "20.5")).await,
            at("value"),
        ),
        (
            refused(&|body| named(body, &right, "2026-03-02", "20.4")).await,
            at("on"),
        ),
        (
            refused(&|body| named(body, &above, day, "50")).await,
            at("run"),
        ),
        (
            refused(&|body| named(body, none, day, "50")).await,
            at("run"),
        ),
        (
            refused(&|body| body["determinations"][20]["sample"] = json!(bench.samples[0])).await,
            at("sample"),
        ),
        (
            refused(&|body| body["determinations"][20]["on"] = json!("2999-01-01")).await,
            at("on"),
        ),
        (
            refused(&|body| body["procedure"] = json!(none)).await,
            "#/procedure".into(),
        ),
        (
            refused(&|body| body["performed_by"] = json!([none])).await,
            "#/performed_by/0".into(),
        ),
        (
            refused(&|body| body["analyte"] = json!("zearalenone")).await,
            "#/analyte".into(),
        ),
        (
            refused(&|body| {
                body["study"] = json!({"kind": "added-commodity", "of": none});
            })
            .await,
            "#/study/of".into(),
        ),
    ] {
        assert_eq!(found, [expected]);
    }
    let list = bench
        .analyst
        .get("/screening-validations")
        .await
        .expect(200);
    assert_eq!(
        list.body["items"],
        json!([]),
        "a refusal leaves nothing behind"
    );

    // What the run read is taken, with its sample.
    let mut good = study(&bench);
    named(&mut good, &right, day, "20.40");
    good["determinations"][20]["sample"] = json!(sample);
    let made = bench.analyst.post("/screening-validations", good).await;
    let path = format!("/screening-validations/{}", made.expect(201).id());
    // Withdrawn meanwhile, the run keeps the study from being adopted.
    let withdrawal = json!({"reason": {"code": "other", "text": "The strip was put in late."}});
    let gone = format!("/runs/{right}/withdrawal");
    bench
        .analyst
        .post_seen(&gone, 1, withdrawal)
        .await
        .expect(200);
    let adoption = format!("{path}/adoption");
    let refused = bench.quality.post_seen(&adoption, 1, json!({})).await;
    assert_eq!(pointers(&refused.expect(422).body), [at("run")]);
}
