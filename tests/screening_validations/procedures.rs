//! A procedure decides by the cut-off of a validation, and by its target.

use super::{adopted, pointers, study};
use crate::{
    harness::{
        callers::{serve, serve_again_at},
        fixtures::{Bench, bench_of},
    },
    runs::run,
};
use api::clock::Clock;
use serde_json::{Value, json};

/// The procedure as it is, with this cut-off.
async fn with_cut_off(bench: &Bench, cut_off: Value) -> Value {
    let path = format!("/procedures/{}", bench.procedure);
    let shown = bench.quality.get(&path).await.expect(200);
    let mut entry = shown.body;
    for member in ["id", "version", "state", "created_at", "changed_at"] {
        entry.as_object_mut().unwrap().remove(member);
    }
    entry["screening"] = json!([cut_off]);
    json!({"procedure": entry,
        "reason": {"code": "late-information", "text": "The method is validated."}})
}

#[actix_web::test]
async fn a_cut_off_is_that_of_the_validation_it_names_and_its_target_decides() {
    let app = serve().await;
    let bench = bench_of(&app).await;
    let quality = &bench.quality;
    let path = format!("/procedures/{}", bench.procedure);
    let mut draft = study(&bench);
    draft["code"] = json!("SV-08");
    let draft = bench.analyst.post("/screening-validations", draft).await;
    let draft = draft.expect(201).id();
    let validation = adopted(&bench, study(&bench)).await;
    let mut signal = study(&bench);
    signal["code"] = json!("SV-09");
    signal["response"] = json!("rising-signal");
    signal["determinations"][2] = signal["determinations"][1].clone();
    signal.as_object_mut().unwrap().remove("below_counted_as");
    let signal = adopted(&bench, signal).await;
    let cut_off = |validation: &str, cut_off: &str| json!({"analyte": "aflatoxin-total", "cut_off": cut_off, "validation": validation});
    let at = |member: &str| format!("#/procedure/screening/0/{member}");
    let mut other_target = cut_off(&validation, "19");
    other_target["target"] = json!("21");
    let mut below = cut_off(&validation, "19");
    below["target"] = json!("18");
    for (stated, member) in [
        (cut_off(&bench.lot, "19"), "validation"),
        (cut_off(&draft, "19"), "validation"),
        (cut_off(&signal, "19"), "validation"),
        (cut_off(&validation, "18.6"), "cut_off"),
        (other_target, "target"),
        (below, "target"),
    ] {
        let body = with_cut_off(&bench, stated.clone()).await;
        let refused = quality.put(&path, 2, body).await.expect(422);
        assert_eq!(pointers(&refused.body), [at(member)], "{stated}");
    }
    // A procedure that is new has no validation of its own yet.
    let mut new = with_cut_off(&bench, cut_off(&validation, "19")).await["procedure"].clone();
    new["code"] = json!("P-NEW");
    let refused = quality.post("/procedures", new).await.expect(422);
    assert_eq!(pointers(&refused.body), ["#/screening/0/validation"]);

    let body = with_cut_off(&bench, cut_off(&validation, "19")).await;
    let revised = quality.put(&path, 2, body).await.expect(200);
    assert_eq!(revised.body["screening"][0]["target"], "20");
    let adoption = format!("{path}/adoption");
    quality.post_seen(&adoption, 3, json!({})).await.expect(200);
    let withdrawal = format!("/screening-validations/{validation}/withdrawal");
    let reason = json!({"reason": {"code": "other", "text": "No longer."}});
    let used = quality.post_seen(&withdrawal, 2, reason).await.expect(409);
    assert_eq!(used.problem(), "screening-validation-state");
    let detail = used.body["detail"].as_str().unwrap();
    assert!(detail.contains("P-AF decides by it"), "{detail}");

    // The decision states the target that the method was validated for.
    let path = format!("/orders/{}", bench.order);
    let order = json!({"code": "O-1", "customer": bench.customer, "received_on": "2026-02-27",
        "analytes": [{"analyte": "aflatoxin-total"}], "uses": ["food"], "jurisdictions": ["US"],
        "decision_rule": "screening", "agreed_on": "2026-02-27"});
    let change = json!({"order": order,
        "reason": {"code": "late-information", "text": "To be screened."}});
    bench.analyst.put(&path, 1, change).await.expect(200);
    let made = run(&bench, 0, "number", Some("4.1"));
    bench.analyst.post("/runs", made).await.expect(201);
    let results = format!("/results?sample={}", bench.samples[0]);
    let results = bench.analyst.get(&results).await.expect(200);
    let decision = &results.body["items"][0]["decisions"][0];
    let rule = &decision["rule"];
    assert_eq!(
        (&rule["rule"], &rule["target"], &rule["cut_off"]),
        (&json!("screening"), &json!("20"), &json!("19")),
        "{decision:#}"
    );
    crate::rebuild::is_told_by_records(&app).await;
    crate::verify_ledger::is_computed_again(&app, "screening-decides").await;
}

/// Implementing Regulation (EU) 2023/2782, article 4: until 2028-12-31.
#[actix_web::test]
async fn a_validation_by_the_earlier_law_is_no_longer_decided_by_once_that_ended() {
    let app = serve().await;
    let bench = bench_of(&app).await;
    let mut old = study(&bench);
    old["law"] = json!("eu-519-2014");
    for one in old["determinations"].as_array_mut().unwrap() {
        let on = one["on"].as_str().unwrap().replace("2026-", "2024-");
        one["on"] = json!(on);
    }
    let validation = adopted(&bench, old).await;
    let shown = format!("/screening-validations/{validation}");
    let now = bench.quality.get(&shown).await.expect(200);
    assert_eq!(now.body["usable"], true);
    let law = now.body["report"]["law"].as_str().unwrap();
    assert!(law.ends_with("519/2014, point 4.3"), "{law}");

    // Some years later; whoever signed in before signs in again.
    let later = serve_again_at(&app, Clock::shifted(3 * 366 * 86_400)).await;
    let quality = later.sign_in("quality").await;
    let then = quality.get(&shown).await.expect(200);
    assert_eq!(then.body["usable"], false);
    let why = then.body["not_usable_because"].as_str().unwrap();
    assert!(why.ends_with("until 2028-12-31"), "{why}");
    let cut_off = json!({"analyte": "aflatoxin-total", "cut_off": "19",
        "validation": validation});
    let body = with_cut_off(&bench, cut_off).await;
    let path = format!("/procedures/{}", bench.procedure);
    let refused = quality.put(&path, 2, body).await.expect(422);
    assert_eq!(
        pointers(&refused.body),
        ["#/procedure/screening/0/validation"]
    );
}
