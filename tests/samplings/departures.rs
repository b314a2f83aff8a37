//! What departs from a published plan: shown, held, accepted, and stated on the certificate.

use crate::{
    certificates::{bench, bytes, link},
    harness::callers::{Caller, PASSWORD, serve},
    lots::{maize, with},
    results::computed_again,
    reviews::{release, shown},
};
use serde_json::{Value, json};

/// Holds of the sample for departing from the plan that stand.
async fn departures(caller: &Caller, sample: &str) -> Vec<Value> {
    let path = format!("/holds?sample={sample}&state=raised");
    let list = caller.get(&path).await.expect(200);
    let holds = list.body["items"].as_array().unwrap().clone();
    let of_sampling = |hold: &Value| hold["kind"] == "sampling-departure";
    holds.into_iter().filter(of_sampling).collect()
}

/// What a sampling says, without what the service adds.
fn content(view: &Value) -> Value {
    let mut content = view.clone();
    for added in ["id", "version", "plan_check", "created_at", "changed_at"] {
        content.as_object_mut().unwrap().remove(added);
    }
    content
}

fn late(thing: &str, content: &Value) -> Value {
    json!({thing: content, "reason": {"code": "late-information", "text": "As the papers say."}})
}

#[actix_web::test]
async fn a_departure_holds_the_results_until_a_reviewer_accepts_it_and_the_certificate_states_it() {
    let app = serve().await;
    let bench = bench(&app).await;
    let sample = bench
        .analyst
        .get(&format!("/samples/{}", bench.sample))
        .await;
    let path = format!("/samplings/{}", sample.body["sampling"].as_str().unwrap());
    let before = bench.analyst.get(&path).await.expect(200).body;
    // The laboratory's own plan: nothing to check against, and nothing held.
    assert_eq!(before["plan_check"]["standing"], "own-plan");
    assert!(departures(&bench.reviewer, &bench.sample).await.is_empty());

    // Implementing Regulation (EU) 2023/2782, Annex I, part II.A, table 2: 24 t take 100
    // increments of about 100 g, 10 kg.
    let eu = with(content(&before), json!({"plan": "eu-2023-cereal"}));
    let body = late("sampling", &eu);
    let revised = bench.analyst.put(&path, 1, body).await.expect(200).body;
    let check = &revised["plan_check"];
    assert_eq!(check["standing"], "departs");
    assert_eq!(check["asked"]["plan"], "eu-2023-cereal-20-100");
    let first = &check["departures"][0];
    assert_eq!(
        (&first["quantity"], &first["asked"], &first["taken"]),
        (&json!("increments"), &json!("100"), &json!("9"))
    );
    computed_again(&app).await;
    let holds = departures(&bench.reviewer, &bench.sample).await;
    assert_eq!(holds.len(), 1, "{holds:#?}");
    let hold = &holds[0];
    assert_eq!(
        (&hold["of"]["sample"], &hold["rules"]),
        (&json!(bench.sample), &json!(3))
    );
    let detail = hold["detail"].as_str().unwrap().to_owned();
    for words in [
        "9 taken, at least 100 increments",
        "1 taken, at least 10 kg a laboratory",
    ] {
        assert!(detail.contains(words), "{words}: {detail}");
    }
    let refused = release(&bench.reviewer, &bench.sample).await.expect(409);
    assert_eq!(refused.problem(), "held");
    let (status, page) = bench
        .reviewer
        .page(&format!("samples/{}", bench.sample))
        .await;
    assert_eq!(status, 200);
    assert!(page.contains("at least 100 increments"), "{page}");

    // A reviewer accepts it, with a reason.
    let acceptance = format!("/holds/{}/acceptance", hold["id"].as_str().unwrap());
    let reason = json!({"reason": "Agreed with the customer for the gate.", "password": PASSWORD});
    bench
        .reviewer
        .post_seen(&acceptance, 1, reason)
        .await
        .expect(200);
    let results = shown(&bench.reviewer, &bench.sample).await;
    assert_eq!(results[0]["state"], "ready");
    let issued = bench.issued().await;
    let bundle = bytes(&bench.analyst, &link(&issued, "bundle")).await;
    let certificate = api::certificates::open(&bundle).unwrap().certificate;
    let stated = certificate.sampling.plan_check.unwrap();
    assert_eq!(stated.detail, detail);
    assert_eq!(stated.departures.len(), 3, "{stated:?}");
    assert_eq!(certificate.holds.len(), 1);
    assert_eq!(certificate.holds[0].kind, "sampling-departure");

    // Corrected to what the plan asks, nothing departs any more; the acceptance stays readable.
    let whole = json!({"increments": 100, "increment_mass_g": "100", "aggregate_mass_kg": "10"});
    let body = late("sampling", &with(eu, whole));
    let revised = bench.analyst.put(&path, 2, body).await.expect(200).body;
    assert_eq!(revised["plan_check"]["standing"], "as-asked");
    computed_again(&app).await;
    // But the sample that was registered still is 1 kg, where the plan asks for 10.
    let holds = departures(&bench.reviewer, &bench.sample).await;
    assert_eq!(holds.len(), 1, "{holds:#?}");
    crate::rebuild::is_told_by_records(&app).await;
    crate::verify_ledger::is_computed_again(&app, "sampling-departures").await;
}

#[actix_web::test]
async fn a_plan_that_does_not_speak_of_the_lot_holds_until_lot_or_plan_is_put_right() {
    let app = serve().await;
    let analyst = app.analyst().await;
    let mut weightless = maize("L-1");
    weightless.as_object_mut().unwrap().remove("mass_kg");
    let lot = analyst.post("/lots", weightless.clone()).await.expect(201);
    let body = json!({"lot": lot.id(), "taken_at": "2026-03-01T08:00:00Z",
        "plan": "us-fgis-aflatoxin-truck"});
    let sampling = analyst.post("/samplings", body.clone()).await.expect(201);
    let check = &sampling.body["plan_check"];
    assert_eq!(check["standing"], "not-applicable");
    assert!(
        check["detail"]
            .as_str()
            .unwrap()
            .contains("mass of the lot is not recorded")
    );
    assert!(check.get("asked").is_none(), "{check:#?}");
    let sample = json!({"code": "S-1", "purpose": "customer", "lot": lot.id(),
        "sampling": sampling.id(), "commodity": "maize-grain", "mass_g": "1000",
        "received_at": "2026-03-01T09:00:00Z"});
    let sample = analyst.post("/samples", sample).await.expect(201).id();
    assert_eq!(departures(&analyst, &sample).await.len(), 1);

    // With the mass the plan asks for 908 g (FGIS Mycotoxin Handbook), and 1000 g are there.
    let path = format!("/lots/{}", lot.id());
    let body = late("lot", &maize("L-1"));
    analyst.put(&path, 1, body).await.expect(200);
    computed_again(&app).await;
    assert!(departures(&analyst, &sample).await.is_empty());
    let list = analyst.get(&format!("/samplings?lot={}", lot.id())).await;
    let items = list.expect(200).body["items"].clone();
    assert_eq!(items[0]["plan_check"]["standing"], "as-asked");

    // A plan for peanuts says nothing of maize.
    let peanuts = with(
        json!({"lot": lot.id(), "taken_at": "2026-03-01T08:00:00Z"}),
        json!({"plan": "us-ams-peanuts"}),
    );
    let path = format!("/samplings/{}", sampling.id());
    let body = late("sampling", &peanuts);
    let revised = analyst.put(&path, 1, body).await.expect(200).body;
    assert_eq!(revised["plan_check"]["standing"], "not-applicable");
    computed_again(&app).await;
    let holds = departures(&analyst, &sample).await;
    let detail = holds[0]["detail"].as_str().unwrap();
    assert!(
        detail.starts_with("us-ams-peanuts cannot be applied: commodity"),
        "{detail}"
    );

    // Put right by the sample: it came from no sampling that is known.
    let path = format!("/samples/{sample}");
    let seen = analyst.get(&path).await.expect(200);
    let body = json!({"code": "S-1", "purpose": "customer", "lot": lot.id(),
        "commodity": "maize-grain", "mass_g": "1000", "received_at": "2026-03-01T09:00:00Z"});
    let version = seen.body["version"].as_i64().unwrap();
    let mut of_sample = late("sample", &body);
    of_sample["sample"]["received_by"] = seen.body["received_by"].clone();
    analyst.put(&path, version, of_sample).await.expect(200);
    assert!(departures(&analyst, &sample).await.is_empty());
    crate::rebuild::is_told_by_records(&app).await;
    crate::verify_ledger::is_computed_again(&app, "sampling-plans").await;
}
