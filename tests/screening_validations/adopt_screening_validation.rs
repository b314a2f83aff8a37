//! Adopting validations with their figures, and withdrawing them.

use super::{adopted, study};
use crate::harness::{callers::serve, fixtures::bench_of};
use serde_json::{Value, json};

#[actix_web::test]
async fn the_quality_manager_adopts_the_figures_and_a_verifier_computes_them_again() {
    let app = serve().await;
    let bench = bench_of(&app).await;
    let made = bench
        .analyst
        .post("/screening-validations", study(&bench))
        .await;
    let id = made.expect(201).id();
    let path = format!("/screening-validations/{id}");
    let adoption = format!("{path}/adoption");
    bench
        .analyst
        .post_seen(&adoption, 1, json!({}))
        .await
        .expect(403);
    bench.quality.post(&adoption, json!({})).await.expect(428);
    bench
        .quality
        .post_seen(&adoption, 7, json!({}))
        .await
        .expect(412);
    let adopted = bench
        .quality
        .post_seen(&adoption, 1, json!({}))
        .await
        .expect(200);
    assert_eq!(adopted.body["state"], "adopted");
    assert_eq!(adopted.body["adoption"]["by"], json!(bench.quality.id));
    assert_eq!(adopted.body["rules"], 1);
    assert_eq!(adopted.body["report"]["cut_off"], "19");
    assert_eq!(adopted.body["usable"], true);
    assert_eq!(adopted.body["review_due_on"], "2027-03-06");
    assert_eq!(adopted.body["from"][0]["subject"], json!(bench.procedure));
    let twice = bench.quality.post_seen(&adoption, 2, json!({})).await;
    assert_eq!(twice.expect(409).problem(), "screening-validation-state");
    let change = json!({"validation": study(&bench),
        "reason": {"code": "other", "text": "Once more."}});
    let late = bench.analyst.put(&path, 2, change).await.expect(409);
    assert_eq!(late.problem(), "screening-validation-state");

    let reason =
        json!({"reason": {"code": "late-information", "text": "The blanks were not free."}});
    let withdrawal = format!("{path}/withdrawal");
    bench
        .analyst
        .post_seen(&withdrawal, 2, reason.clone())
        .await
        .expect(403);
    let withdrawn = bench
        .quality
        .post_seen(&withdrawal, 2, reason.clone())
        .await;
    let withdrawn = withdrawn.expect(200);
    assert_eq!(withdrawn.body["not_usable_because"], "it is withdrawn");
    assert_eq!(
        withdrawn.body["report"]["cut_off"], "19",
        "it stays readable"
    );
    bench
        .quality
        .post_seen(&withdrawal, 3, reason)
        .await
        .expect(409);

    let trail = bench
        .quality
        .get(&format!("/records?subject={id}"))
        .await
        .expect(200);
    let actions: Vec<&str> = trail.body["items"]
        .as_array()
        .unwrap()
        .iter()
        .map(|record| record["action"].as_str().unwrap())
        .collect();
    assert_eq!(
        actions,
        [
            "withdraw-screening-validation",
            "adopt-screening-validation",
            "record-screening-validation"
        ]
    );
    crate::rebuild::is_told_by_records(&app).await;
    crate::verify_ledger::is_computed_again(&app, "screening-adopted").await;
}

#[actix_web::test]
async fn an_incomplete_study_is_not_adopted_and_the_quantity_is_named() {
    let app = serve().await;
    let bench = bench_of(&app).await;
    let refused = async |code: &str, change: &dyn Fn(&mut Value)| {
        let mut body = study(&bench);
        body["code"] = json!(code);
        change(&mut body);
        let made = bench.analyst.post("/screening-validations", body).await;
        let adoption = format!("/screening-validations/{}/adoption", made.expect(201).id());
        bench.quality.post_seen(&adoption, 1, json!({})).await
    };
    let positives = |body: &mut Value, change: &dyn Fn(&mut Value)| {
        let all = body["determinations"].as_array_mut().unwrap();
        all.iter_mut().skip(20).for_each(change);
    };
    let few = refused("SV-1", &|body| {
        body["determinations"].as_array_mut().unwrap().truncate(35);
    })
    .await
    .expect(422);
    assert_eq!(few.problem(), "too-few-values");
    assert_eq!(few.body["quantity"], "controls at the target");
    let quick = refused("SV-2", &|body| {
        positives(body, &|one| one["on"] = json!("2026-03-02"));
    })
    .await
    .expect(422);
    assert_eq!(quick.body["quantity"], "days of the controls at the target");
    let flat = refused("SV-3", &|body| {
        positives(body, &|one| one["value"] = json!("20"));
    })
    .await
    .expect(422);
    assert_eq!(flat.body["quantity"], "scatter at the target");
    let old = refused("SV-4", &|body| body["law"] = json!("eu-519-2014"));
    let old = old.await.expect(422);
    assert_eq!(old.body["quantity"], "last day of the validation");
    let below = refused("SV-5", &|body| {
        body["determinations"][25] = json!({"kind": "positive", "on": "2026-03-02", "below": "1"});
    })
    .await
    .expect(422);
    assert_eq!(below.body["quantity"], "control at the target");
    let found = "SELECT count(*) FROM screening_validations_validation WHERE state <> 'draft'";
    assert_eq!(app.count(found).await, 0, "a refusal leaves nothing behind");
}

/// Implementing Regulation (EU) 2023/2782, Annex II, 4.2, with the inputs and figures of the
/// worked example "eu-screening-cut-off-falling-response" (numbers made for it).
#[actix_web::test]
async fn the_worked_example_of_the_regulation_gives_its_figures() {
    let toml = include_str!("../worked_examples/10_screening_statistics.toml");
    let (_, example) = toml
        .split_once("id = \"eu-screening-cut-off-falling-response\"")
        .unwrap();
    let given = |name: &str| -> f64 {
        let line = example
            .lines()
            .find(|line| line.starts_with(&format!("{name} = ")));
        line.unwrap().rsplit(' ').next().unwrap().parse().unwrap()
    };
    // As many values a deviation above the mean as below it have that mean and that deviation.
    let values = |count: &str, mean: &str, deviation: &str| -> Vec<String> {
        let (count, mean, deviation) = (given(count), given(mean), given(deviation));
        let away = deviation * ((count - 1.0) / count).sqrt();
        (0_u32..)
            .take_while(|place| f64::from(*place) < count)
            .map(|place| {
                if place % 2 == 0 {
                    mean + away
                } else {
                    mean - away
                }
            })
            .map(|value| format!("{value:.14}"))
            .collect()
    };
    let app = serve().await;
    let bench = bench_of(&app).await;
    let mut body = study(&bench);
    body["response"] = json!("falling-signal");
    body.as_object_mut().unwrap().remove("below_counted_as");
    let determinations = |kind: &str, values: Vec<String>| -> Vec<Value> {
        let one = |(place, value): (usize, String)| {
            let on = format!("2026-03-0{}", place % 5 + 2);
            json!({"kind": kind, "on": on, "value": value})
        };
        values.into_iter().enumerate().map(one).collect()
    };
    let mut all = determinations("negative", values("n_blank", "mean_blank", "sd_blank"));
    all.extend(determinations(
        "positive",
        values("n_stc", "mean_stc", "sd_stc"),
    ));
    body["determinations"] = json!(all);
    let id = adopted(&bench, body).await;
    let report = bench
        .quality
        .get(&format!("/screening-validations/{id}/report"))
        .await;
    let report = report.expect(200).body;
    let figures = &report["report"]["validation"]["cut_off"];
    for name in ["t", "cut_off", "t_blank", "false_suspect_rate"] {
        let found: f64 = figures[name].as_str().unwrap().parse().unwrap();
        let expected = given(name);
        assert!(
            (found / expected - 1.0).abs() < 1e-6,
            "{name}: {found}, {expected}"
        );
    }
    assert_eq!(
        report["cut_off"], "0.42",
        "to the two figures of the target"
    );
}

#[actix_web::test]
async fn a_commodity_is_added_by_ten_and_ten_and_a_method_verified_by_six_and_six() {
    let app = serve().await;
    let bench = bench_of(&app).await;
    let base = adopted(&bench, study(&bench)).await;
    let with = |code: &str, study_of: Value, blanks: usize, positive: &str| {
        let mut body = study(&bench);
        body["code"] = json!(code);
        body["study"] = study_of;
        body.as_object_mut().unwrap().remove("below_counted_as");
        let one =
            |kind: &str, value: &str| json!({"kind": kind, "on": "2026-03-09", "value": value});
        let mut all = vec![one("negative", "1.5"); blanks];
        all.extend(vec![one("positive", positive); blanks]);
        body["determinations"] = json!(all);
        body
    };
    let adopt = async |body: Value| {
        let made = bench.analyst.post("/screening-validations", body).await;
        let adoption = format!("/screening-validations/{}/adoption", made.expect(201).id());
        bench.quality.post_seen(&adoption, 1, json!({})).await
    };
    let added = json!({"kind": "added-commodity", "of": base});
    let few = adopt(with("SV-A", added.clone(), 9, "20"))
        .await
        .expect(422);
    assert_eq!(few.body["quantity"], "blanks");
    let missed = adopt(with("SV-B", added.clone(), 10, "18"))
        .await
        .expect(422);
    assert_eq!(missed.body["quantity"], "suspect controls at the target");
    let good = adopt(with("SV-C", added.clone(), 10, "20"))
        .await
        .expect(200);
    assert_eq!(good.body["report"]["cut_off"], "19");
    assert_eq!(good.body["report"]["verification"]["passed"], true);
    let sources = good.body["from"].to_string();
    assert!(sources.contains(&base), "{sources}");
    let elsewhere = json!({"kind": "verification",
        "stated": {"cut_off": "18.5", "source": "Collaborative study 7, table 3"}});
    let verified = adopt(with("SV-D", elsewhere, 6, "19")).await.expect(200);
    assert_eq!(verified.body["report"]["cut_off"], "18.5");
    let mut other = with("SV-E", added, 10, "20");
    other["commodity_group"] = json!("high-oil");
    let refused = bench
        .analyst
        .post("/screening-validations", other)
        .await
        .expect(422);
    assert_eq!(super::pointers(&refused.body), ["#/commodity_group"]);
    crate::verify_ledger::is_computed_again(&app, "screening-added").await;
}
