//! A result with its budget and its decisions, from the bench to the certificate.

use super::computed_again;
use crate::{
    certificates::{bench, bytes, link},
    harness::{
        callers::serve,
        fixtures::{Bench, bench_of},
    },
    reviews::{release, shown},
    runs::run,
};
use api::certificates::open;
use rust_decimal::Decimal;
use serde_json::{Value, json};

fn decimal(value: &Value) -> Decimal {
    value.as_str().unwrap().parse().unwrap()
}

/// The source and the contribution of each line.
fn lines(result: &Value) -> Vec<(&str, &str)> {
    let lines = result["uncertainty"]["lines"].as_array().unwrap();
    lines
        .iter()
        .map(|line| {
            (
                line["source"].as_str().unwrap(),
                line["contribution"].as_str().unwrap(),
            )
        })
        .collect()
}

#[actix_web::test]
async fn a_result_has_its_budget_and_decisions_their_probability_up_to_the_certificate() {
    let app = serve().await;
    let bench = bench(&app).await;
    let results = shown(&bench.reviewer, &bench.sample).await;
    let result = &results[0];
    assert_eq!(
        (&result["rules"], &result["reported"]),
        (&json!(2), &json!("276.0"))
    );
    // 46 µg/kg after 100 µL + 500 µL, of 10.0 g in 50 mL: 276 µg/kg.
    let expected = [
        ("precision, constant part", "3.600000"),      // 6 · 0.6
        ("precision, proportional part", "13.800000"), // 0.05 · 276
        ("bias, mean of the control material", "4.815482"), // 276 · 1.1/(√12 · 18.2)
        ("bias, assigned value", "8.951351"),          // 276 · 0.6/18.5
        // ISO 8655-2:2002, table 1 (from memory), 100 µL: 276 · 5/6 · √(0.8²/3 + 0.3²)/100
        ("dilution, sample volume", "1.266741"),
        // 500 µL: 276/6 · √(4²/3 + 1.5²)/100
        ("dilution, diluent", "1.266741"),
        // OIML R 76-1:2006, table 6 (from memory), class II, e = 0.01 g: 276 · 0.01/(10 · √3)
        ("test portion: BL-1", "0.159349"),
        // ISO 4788:2005 (from memory), 50 mL, class B: 276 · 1/(50 · √3)
        ("extraction liquid: cylinder", "3.186973"),
    ];
    assert_eq!(lines(result), expected);
    let squares: Decimal = lines(result)
        .iter()
        .map(|(_, contribution)| contribution.parse::<Decimal>().unwrap())
        .map(|contribution| contribution * contribution)
        .sum();
    let uncertainty = &result["uncertainty"];
    assert_eq!(uncertainty["coverage_factor"], "2");
    let combined = decimal(&uncertainty["expanded"]) / Decimal::TWO;
    assert!(
        (squares - combined * combined).abs() < Decimal::new(1, 3),
        "{uncertainty}"
    );
    let shares: Decimal = uncertainty["lines"]
        .as_array()
        .unwrap()
        .iter()
        .map(|line| decimal(&line["share_percent"]))
        .sum();
    assert_eq!(shares.round_dp(4), Decimal::ONE_HUNDRED);

    // 300 µg/kg for finishing beef cattle (FDA CPG Sec. 683.100): simple acceptance passes, with
    // Φ((300 - 276)/u), u = 17.90 (JCGM 106:2012, 7.3).
    let beef = |result: &Value| {
        let decisions = result["decisions"].as_array().unwrap();
        decisions
            .iter()
            .find(|one| one["limit_value"] == "300")
            .cloned()
            .unwrap()
    };
    assert_eq!(beef(result)["decision"]["term"], "pass");
    let likely = decimal(&beef(result)["probability_of_conformity"]);
    assert_eq!(likely.round_dp(3), Decimal::new(910, 3));
    let named = |subject: &Value| {
        let from = result["from"].as_array().unwrap();
        from.iter().any(|source| source["subject"] == *subject)
    };
    assert!(
        named(&bench.diluted.0["extract"]),
        "what was looked at is named"
    );

    let path = format!("samples/{}", bench.sample);
    let (_, page) = bench.reviewer.page(&path).await;
    for words in [
        "±\u{a0}35.8\u{a0}µg/kg, k = 2",
        "276.0 ± 35.8",
        "extraction liquid: cylinder",
        "91.0\u{a0}%",
    ] {
        assert!(page.contains(words), "{words}: {page}");
    }

    release(&bench.reviewer, &bench.sample).await.expect(201);
    let order = bench.order().await;
    let issued = bench
        .reviewer
        .post("/certificates", order)
        .await
        .expect(201);
    let bundle = bytes(&bench.analyst, &link(&issued, "bundle")).await;
    let certificate = open(&bundle).unwrap().certificate;
    let certified = &certificate.results[0];
    let kept = certified.uncertainty.as_ref().unwrap();
    assert_eq!((kept.coverage_factor, kept.budget.len()), (Decimal::TWO, 8));
    assert_eq!(kept.budget[7].contribution.to_string(), "3.186973");
    assert!(
        certified
            .decisions
            .iter()
            .any(|one| one.probability_of_conformity == Some(likely))
    );
    crate::rebuild::is_told_by_records(&app).await;
    crate::verify_ledger::is_computed_again(&app, "budgets").await;
}

/// The decision of the only limit, as verdict, rule and guard band.
fn decided(result: &Value) -> (String, String, String) {
    let decision = &result["decisions"][0];
    let text = |value: &Value| value.as_str().unwrap_or_default().to_owned();
    (
        text(&decision["decision"]["term"]),
        text(&decision["rule"]["rule"]),
        text(&decision["guard_band"]),
    )
}

/// The procedure of the bench with a precision, as it is entered.
async fn precise(bench: &Bench) -> Value {
    let path = format!("/procedures/{}", bench.procedure);
    let mut procedure = entered(bench.quality.get(&path).await.expect(200).body);
    procedure["precision"] = json!({"constant": "0.6", "proportional": "0.04"});
    procedure
}

/// What was entered of something that is shown.
fn entered(mut shown: Value) -> Value {
    for derived in ["id", "version", "state", "created_at", "changed_at"] {
        shown.as_object_mut().unwrap().remove(derived);
    }
    shown
}

/// Adopts a second version of the bench's procedure.
async fn adopt(bench: &Bench, procedure: Value) {
    let path = format!("/procedures/{}", bench.procedure);
    let reason = json!({"code": "late-information", "text": "The validation is done."});
    let body = json!({"procedure": procedure, "reason": reason});
    bench.quality.put(&path, 2, body).await.expect(200);
    let adoption = format!("{path}/adoption");
    let adopted = bench.quality.post_seen(&adoption, 3, json!({})).await;
    adopted.expect(200);
}

#[actix_web::test]
async fn the_rule_of_the_order_decides_with_the_uncertainty_of_the_result() {
    let app = serve().await;
    let bench = bench_of(&app).await;
    let path = format!("/procedures/{}", bench.procedure);
    let procedure = precise(&bench).await;
    let nobodys = json!([{"analyte": "aflatoxin-total", "control_material": bench.lot,
        "mean_found": "19", "standard_deviation": "1", "determinations": 5}]);
    let reason = json!({"code": "late-information", "text": "The validation is done."});
    let mut faulty = procedure.clone();
    faulty["bias"] = nobodys;
    let body = json!({"procedure": faulty, "reason": reason});
    let refused = bench.quality.put(&path, 2, body).await.expect(422);
    let pointer = &refused.body["errors"][0]["pointer"];
    assert_eq!(
        pointer, "#/procedure/bias/0/control_material",
        "{:#}",
        refused.body
    );
    adopt(&bench, procedure).await;

    let reading = run(&bench, 0, "number", Some("18.5"));
    bench.analyst.post("/runs", reading).await.expect(201);
    let result = shown(&bench.analyst, &bench.samples[0]).await[0].clone();
    // U = 2 · √(0.6² + (0.04 · 18.5)²) = 1.905361 (QUAM:2012.P1, appendix E.4).
    assert_eq!(result["uncertainty"]["expanded"], "1.905361");
    assert_eq!(
        decided(&result),
        ("pass".into(), "simple".into(), String::new())
    );
    // Φ((20 - 18.5)/0.952680) = Φ(1.574505) (JCGM 106:2012, 7.3).
    assert_eq!(
        result["decisions"][0]["probability_of_conformity"],
        "0.942315"
    );

    let order = format!("/orders/{}", bench.order);
    for (version, rule, verdict) in [
        (1, "guarded-acceptance", "fail"),
        (2, "non-binary", "conditional-pass"),
    ] {
        let kept = bench.analyst.get(&order).await.expect(200);
        let mut content = entered(kept.body);
        content["decision_rule"] = json!(rule);
        content["agreed_on"] = json!("2026-02-27");
        let body = json!({"order": content, "reason": reason});
        bench.analyst.put(&order, version, body).await.expect(200);
        computed_again(&app).await;
        let result = shown(&bench.analyst, &bench.samples[0]).await[0].clone();
        let expected = (verdict.to_owned(), rule.to_owned(), "1.905361".to_owned());
        assert_eq!(decided(&result), expected);
    }
    let (_, page) = app.reviewer().await.page("review").await;
    assert!(page.contains("94.2\u{a0}% likely to conform"), "{page}");
    crate::rebuild::is_told_by_records(&app).await;
    crate::verify_ledger::is_computed_again(&app, "rules").await;
}

/// The line of the volume of extract that was diluted.
async fn line_of_the_extract(bench: &Bench) -> (String, String) {
    let result = shown(&bench.analyst, &bench.samples[0]).await[0].clone();
    let lines = result["uncertainty"]["lines"].as_array().unwrap();
    let line = lines
        .iter()
        .find(|line| line["source"] == "dilution, sample volume")
        .unwrap();
    let text = |member: &str| line[member].as_str().unwrap().to_owned();
    (text("contribution"), text("stated"))
}

#[actix_web::test]
async fn a_pipette_that_comes_later_changes_no_result() {
    let app = serve().await;
    let bench = bench_of(&app).await;
    adopt(&bench, precise(&bench).await).await;
    for (code, from, to) in [("PI-1", "20", "200"), ("PI-2", "100", "1000")] {
        let pipette = json!({"code": code, "kind": "pipette", "name": "of the bench",
            "site": bench.site, "minimum_volume_ul": from, "maximum_volume_ul": to});
        bench.quality.post("/equipment", pipette).await.expect(201);
    }
    let mut diluted = run(&bench, 0, "number", Some("8.1"));
    diluted["dilution"] =
        json!([{"sample_volume_ul": "100", "diluent_volume_ul": "500", "diluent": "water"}]);
    let recorded = bench.analyst.post("/runs", diluted).await.expect(201);
    assert_eq!(
        recorded.body["pipettes_at_hand"].as_array().map(Vec::len),
        Some(2)
    );
    let before = line_of_the_extract(&bench).await;
    assert!(before.1.contains("PI-1"), "{}", before.1);

    // The smallest that delivers 100 µL now is another one, and the bench names only that.
    let smaller = json!({"code": "PI-3", "kind": "pipette", "name": "of the bench",
        "site": bench.site, "minimum_volume_ul": "10", "maximum_volume_ul": "100"});
    let smaller = bench.quality.post("/equipment", smaller).await.expect(201);
    let path = format!("/sites/{}", bench.site);
    let mut site = entered(bench.quality.get(&path).await.expect(200).body);
    site["bench"] = json!({"pipettes": [smaller.id()]});
    let reason = json!({"code": "late-information", "text": "A new pipette came."});
    let body = json!({"site": site, "reason": reason});
    bench.quality.put(&path, 1, body).await.expect(200);
    computed_again(&app).await;
    assert_eq!(line_of_the_extract(&bench).await, before);

    // Once a run says which one it was, that one speaks.
    let path = format!("/runs/{}", recorded.id());
    let mut correction = run(&bench, 0, "number", Some("8.1"));
    correction["dilution"] = json!([{"sample_volume_ul": "100", "diluent_volume_ul": "500",
        "diluent": "water", "pipette": smaller.id()}]);
    let body = json!({"run": correction, "reason": reason});
    let path = format!("{path}/correction");
    bench.analyst.post_seen(&path, 1, body).await.expect(200);
    let after = line_of_the_extract(&bench).await;
    assert!(after.1.contains("PI-3") && after.0 != before.0, "{after:?}");
    crate::rebuild::is_told_by_records(&app).await;
    crate::verify_ledger::is_computed_again(&app, "pipettes").await;
}

#[actix_web::test]
async fn where_the_bench_delivers_a_volume_not_the_pipettes_of_the_site_are_kept_too() {
    let app = serve().await;
    let bench = bench_of(&app).await;
    adopt(&bench, precise(&bench).await).await;
    let mut ids = Vec::new();
    for (code, from, to) in [
        ("PI-1", "20", "200"),
        ("PI-2", "500", "5000"),
        ("PI-3", "1000", "10000"),
    ] {
        let pipette = json!({"code": code, "kind": "pipette", "name": "of the site",
            "site": bench.site, "minimum_volume_ul": from, "maximum_volume_ul": to});
        let made = bench.quality.post("/equipment", pipette).await.expect(201);
        ids.push(made.id());
    }
    let path = format!("/sites/{}", bench.site);
    let mut site = entered(bench.quality.get(&path).await.expect(200).body);
    site["bench"] = json!({"pipettes": [ids[1], ids[2]]});
    let reason = json!({"code": "late-information", "text": "The large ones stand there."});
    let body = json!({"site": site, "reason": reason});
    bench.quality.put(&path, 1, body).await.expect(200);
    let mut diluted = run(&bench, 0, "number", Some("8.1"));
    diluted["dilution"] =
        json!([{"sample_volume_ul": "100", "diluent_volume_ul": "500", "diluent": "water"}]);
    let recorded = bench.analyst.post("/runs", diluted).await.expect(201);
    ids.sort_unstable();
    assert_eq!(recorded.body["pipettes_at_hand"], json!(ids));
    let line = line_of_the_extract(&bench).await;
    assert!(line.1.contains("PI-1"), "{}", line.1);
    crate::verify_ledger::is_computed_again(&app, "pipettes-of-the-site").await;
}
