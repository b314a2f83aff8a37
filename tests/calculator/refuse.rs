//! Refusals of the calculator: who may not ask, and what has no answer.

use crate::harness::callers::{Answered, serve};
use serde_json::{Value, json};

/// Type, quantity and pointer of a refusal.
fn refusal(answer: &Answered) -> (u16, &str, &str, &str) {
    (
        answer.status.as_u16(),
        answer.problem(),
        answer.body["quantity"].as_str().unwrap_or_default(),
        answer.body["errors"][0]["pointer"]
            .as_str()
            .unwrap_or_default(),
    )
}

#[actix_web::test]
async fn every_role_may_ask_and_nobody_without_a_token() {
    let app = serve().await;
    let body = json!({"positives": 3, "tested": 10});
    let address = "/v1/calculator/screening/proportion";
    app.anonymous()
        .post(address, body.clone())
        .await
        .expect(401);
    for caller in [
        app.analyst().await,
        app.reviewer().await,
        app.integrator().await,
    ] {
        let answer = caller.post(address, body.clone()).await.expect(200);
        assert_eq!(answer.body["share"], "0.3");
        assert!(answer.body["wilson"][0].is_string(), "decimals are texts");
    }
}

#[actix_web::test]
async fn a_number_without_quotation_marks_is_refused_with_how_it_is_written() {
    let app = serve().await;
    let caller = app.integrator().await;
    let body = json!({"values": ["1.0", 2.5, "3.0"]});
    let address = "/v1/calculator/proficiency/robust-figures";
    let refused = caller.post(address, body).await.expect(422);
    assert_eq!(refused.body["errors"][0]["pointer"], "#/values/1");
    let said = refused.body["detail"].as_str().unwrap_or_default();
    assert!(
        said.ends_with("in quotation marks, such as \"12.50\"."),
        "{said}"
    );
}

#[actix_web::test]
async fn what_has_no_answer_is_refused_by_its_quantity() {
    let app = serve().await;
    let caller = app.integrator().await;
    let line = |x: Value, y: Value| json!({"x": x, "y": y});
    let mut wrong = Vec::new();
    let curve = json!({"lower": "0.5", "upper": "2", "slope": "1", "midpoint": "10"});
    for (path, body, expected) in [
        // Too few values, and of what.
        (
            "proficiency/robust-figures",
            json!({"values": ["1", "2"]}),
            (422, "too-few-values", "values", "#/values"),
        ),
        // Values that do not scatter.
        (
            "precision/grubbs",
            json!({"values": ["1", "1", "1", "1"]}),
            (422, "no-scatter", "values", "#/values"),
        ),
        (
            "lines/fit",
            line(json!(["1", "1", "1"]), json!(["1", "2", "3"])),
            (422, "no-scatter", "x", "#/x"),
        ),
        // Poles: a response beyond the asymptote, a percentage of nothing.
        (
            "logistic/inverse",
            json!({"curve": curve, "y": ["2.5"]}),
            (
                422,
                "no-finite-value",
                "concentration at a response of 2.5",
                "",
            ),
        ),
        (
            "lines/method-bias",
            json!({"reference": ["0", "1"], "test": ["1", "2"], "kind": "percent-of-reference"}),
            (422, "no-finite-value", "bias", ""),
        ),
        // A detection limit above the limit that it is to serve.
        (
            "detection/line-limits",
            json!({"x": ["1", "2", "3", "4", "5"], "y": ["11", "19", "32", "39", "52"],
                "alpha": "0.01", "limit": "0.1"}),
            (422, "no-finite-value", "detection limit", ""),
        ),
        // Two lists that do not belong together.
        (
            "lines/passing-bablok",
            line(json!(["1", "2", "3"]), json!(["1", "2"])),
            (422, "unequal-lengths", "y", "#/y"),
        ),
        // A curve that rises and falls.
        (
            "logistic/fit",
            json!({"x": ["0", "1", "3", "10", "30", "100"],
                "y": ["0.1", "0.8", "1.9", "2.0", "1.1", "0.2"]}),
            (422, "not-monotone", "mean response over x", ""),
        ),
        // A plan for another commodity, a mass outside a model.
        (
            "sampling/plan",
            json!({"family": "eu-2023-cereal", "lot_mass_t": "250", "commodity": "almond"}),
            (422, "out-of-range", "commodity", "#/commodity"),
        ),
        (
            "sampling/variance",
            json!({"concentration_ug_per_kg": "20", "plan": {"model":
                {"model": "aflatoxin-shelled-corn"}, "sample_mass_kg": "500",
                "test_portion_g": "50"}}),
            (422, "out-of-range", "sample mass", "#/plan/sample_mass_kg"),
        ),
        // More than is computed at once.
        (
            "decisions/conformity",
            json!({"values": vec!["1"; 1001], "standard_uncertainty": "1", "upper_limit": "2"}),
            (422, "too-many-values", "values", "#/values"),
        ),
        (
            "censored/bounds",
            json!({"values": vec!["1"; 5001]}),
            (422, "invalid-fields", "", "#/values"),
        ),
        // Bodies of another shape.
        (
            "screening/proportion",
            json!({"positives": 3, "tested": 10, "confidence": "1e3"}),
            (422, "invalid-fields", "", "#/confidence"),
        ),
        (
            "screening/proportion",
            json!({"positives": 3, "tested": 10, "trust": "0.9"}),
            (422, "invalid-fields", "", "#/trust"),
        ),
        (
            "screening/proportion",
            json!([]),
            (422, "invalid-fields", "", "#"),
        ),
    ] {
        let answer = caller.post(&format!("/v1/calculator/{path}"), body).await;
        if refusal(&answer) != expected {
            wrong.push(format!("{path}: {} is not {expected:?}", answer.body));
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
    for kind in [
        "too-few-values",
        "too-many-values",
        "unequal-lengths",
        "out-of-range",
        "no-scatter",
        "no-finite-value",
        "not-monotone",
        "does-not-settle",
        "beyond-decimals",
    ] {
        let explained = reqwest::get(format!("{}/problems/{kind}", app.base)).await;
        assert_eq!(explained.unwrap().status(), 200, "{kind}");
    }
    let large = vec![b' '; (1 << 20) + 1];
    let answer = caller
        .post_bytes("/v1/calculator/lines/fit", "application/json", large)
        .await;
    assert_eq!(answer.status, 413);
}
