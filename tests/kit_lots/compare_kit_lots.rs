//! A new kit lot beside the one in use: looked at, accepted on it, or against it with a reason.

use crate::{
    harness::{
        callers::{Caller, serve},
        fixtures::{Bench, bench_of, kit_lot},
    },
    runs::run,
};
use serde_json::{Value, json};

/// A procedure like the bench's that states how far a new lot may lie from the one in use.
async fn procedure_with_criterion(bench: &Bench) -> String {
    let path = format!("/procedures/{}", bench.procedure);
    let mut entry = bench.quality.get(&path).await.expect(200).body;
    for member in ["id", "version", "state", "created_at", "changed_at"] {
        entry.as_object_mut().unwrap().remove(member);
    }
    entry["code"] = json!("P-AF-2");
    let mut criterion = json!({"analyte": "aflatoxin-total", "minimum_pairs": 1});
    entry["kit_lot_acceptance"] = json!([criterion]);
    let refused = bench.quality.post("/procedures", entry.clone()).await;
    let refused = refused.expect(422);
    let pointers: Vec<&Value> = refused.body["errors"]
        .as_array()
        .unwrap()
        .iter()
        .map(|fault| &fault["pointer"])
        .collect();
    let both = [
        "#/kit_lot_acceptance/0",
        "#/kit_lot_acceptance/0/minimum_pairs",
    ];
    assert_eq!(json!(pointers), json!(both));
    criterion["minimum_pairs"] = json!(3);
    criterion["largest_difference"] = json!("0.5");
    criterion["largest_fraction"] = json!("0.1");
    entry["kit_lot_acceptance"] = json!([criterion]);
    let made = bench.quality.post("/procedures", entry).await.expect(201);
    let adopted = format!("/procedures/{}/adoption", made.id());
    let body = bench.quality.post_seen(&adopted, 1, json!({})).await;
    body.expect(200);
    made.id()
}

/// Runs of the samples on a lot, a minute each; their ids.
async fn runs(
    bench: &Bench,
    (procedure, lot): (&str, &str),
    samples: &[String],
    minute: u32,
    values: &[&str],
) -> Vec<String> {
    let mut made = Vec::new();
    for ((sample, value), minute) in samples.iter().zip(values).zip(minute..) {
        let mut body = run(bench, minute, "number", Some(value));
        body["sample"] = json!(sample);
        body["kit_lot"] = json!(lot);
        body["procedure"] = json!(procedure);
        made.push(bench.analyst.post("/runs", body).await.expect(201).id());
    }
    made
}

async fn quarantined(by: &Caller, code: &str, procedure: &str) -> String {
    let made = by.post("/kit-lots", kit_lot(code, procedure)).await;
    made.expect(201).id()
}

#[actix_web::test]
async fn a_new_lot_is_accepted_on_its_comparison_and_against_it_only_with_a_reason() {
    let app = serve().await;
    let bench = bench_of(&app).await;
    let by = &bench.quality;
    let procedure = procedure_with_criterion(&bench).await;
    let at = |lot: &str| format!("/kit-lots/{lot}/acceptance");
    let reason = json!({"code": "other", "text": "The first lot: there is none in use."});

    // The first lot has nothing to be compared with.
    let used = quarantined(by, "AF-1", &procedure).await;
    let refused = by.post_seen(&at(&used), 1, json!({})).await.expect(409);
    assert_eq!(refused.problem(), "kit-lot-comparison");
    let detail = refused.body["detail"].as_str().unwrap();
    assert!(detail.contains("compare it with that one"), "{detail}");
    let body = json!({"reason": reason});
    by.post_seen(&at(&used), 1, body).await.expect(200);

    let mut samples = Vec::new();
    for number in 1..=3 {
        let sample = json!({"code": format!("KA-{number}"), "purpose": "kit-acceptance",
            "commodity": "maize-grain", "received_at": "2026-03-01T07:00:00Z"});
        samples.push(
            bench
                .analyst
                .post("/samples", sample)
                .await
                .expect(201)
                .id(),
        );
    }
    let on_used = (procedure.as_str(), used.as_str());
    let compared_runs = runs(&bench, on_used, &samples, 0, &["5.0", "20.0", "35.0"]).await;
    let new = quarantined(by, "AF-2", &procedure).await;
    let on_new = (procedure.as_str(), new.as_str());
    let new_runs = runs(&bench, on_new, &samples, 10, &["5.2", "20.9", "35.7"]).await;

    // Anybody who may see kit lots may look before somebody signs.
    let preview = format!("/kit-lots/{new}/comparison?compared_with={used}");
    let seen = bench.analyst.get(&preview).await.expect(200).body;
    assert_eq!(seen["runs"], json!(new_runs));
    assert_eq!(seen["compared_runs"], json!(compared_runs));
    let one = &seen["comparison"]["analytes"][0];
    assert_eq!(one["difference"]["mean_difference"], "0.6");
    assert_eq!(
        (&one["allowed"], &one["verdict"]),
        (&json!("2"), &json!("agrees"))
    );
    for (query, pointer) in [
        (new.as_str(), "#/compared_with"),
        (bench.kit_lot.as_str(), "#/compared_with"),
        (bench.reader.as_str(), "#/compared_with"),
    ] {
        let path = format!("/kit-lots/{new}/comparison?compared_with={query}");
        let refused = by.get(&path).await.expect(422);
        assert_eq!(refused.body["errors"][0]["pointer"], pointer);
    }

    let body = |runs: &[String], compared_runs: &[String]| {
        json!({"runs": runs, "compared_with": used,
        "compared_runs": compared_runs})
    };
    let whole = body(&new_runs, &compared_runs);
    bench
        .analyst
        .post_seen(&at(&new), 1, whole.clone())
        .await
        .expect(403);
    for (body, pointer) in [
        (body(&new_runs, &[]), "#/compared_runs"),
        (body(&new_runs, &new_runs), "#/compared_runs/0"),
        (body(&compared_runs, &compared_runs), "#/runs/0"),
    ] {
        let refused = by.post_seen(&at(&new), 1, body).await.expect(422);
        assert_eq!(refused.body["errors"][0]["pointer"], pointer);
    }
    let few = body(&new_runs[..2], &compared_runs);
    let refused = by.post_seen(&at(&new), 1, few).await.expect(409);
    let detail = refused.body["detail"].as_str().unwrap();
    assert!(
        detail.contains("cannot be told from 2 pairs, 3 are asked for"),
        "{detail}"
    );
    let accepted = by.post_seen(&at(&new), 1, whole).await.expect(200).body;
    assert_eq!(accepted["state"], "accepted");
    assert_eq!(accepted["comparison"], seen["comparison"]);
    let looked_at = accepted["comparison"]["runs"].as_array().unwrap();
    assert_eq!(looked_at.len(), 6);
    assert!(looked_at.iter().all(|run| run["version"] == 1));

    // Too far away: rejected, or accepted with a reason; the verdict stays.
    let far = quarantined(by, "AF-3", &procedure).await;
    let on_far = (procedure.as_str(), far.as_str());
    let far_runs = runs(&bench, on_far, &samples, 20, &["9.0", "24.1", "39.9"]).await;
    let mut body = body(&far_runs, &compared_runs);
    let refused = by.post_seen(&at(&far), 1, body.clone()).await.expect(409);
    let detail = refused.body["detail"].as_str().unwrap();
    assert!(detail.contains("differs by 4.33333333333"), "{detail}");
    body["reason"] = json!({"code": "other", "text": "For the screening of intake alone."});
    let accepted = by.post_seen(&at(&far), 1, body).await.expect(200).body;
    assert_eq!(accepted["comparison"]["verdict"], "differs");
    let rejected = quarantined(by, "AF-4", &procedure).await;
    let why = json!({"reason": {"code": "other", "text": "The box was warm."}});
    let path = format!("/kit-lots/{rejected}/rejection");
    by.post_seen(&path, 1, why).await.expect(200);

    let (status, page) = by.page("kit-lots").await;
    assert_eq!(status, 200);
    for words in [
        "Four kit lots are in use; none waits in quarantine.",
        "beside AF-1: total aflatoxins +0.6 µg/kg on average",
        "3 pairs), 2 is allowed",
        "differs</span>",
        "rejected</span>",
    ] {
        let spoken = words.replace("3 pairs", "three pairs");
        assert!(page.contains(&spoken), "{spoken}: {page}");
    }
    crate::rebuild::is_told_by_records(&app).await;
}
