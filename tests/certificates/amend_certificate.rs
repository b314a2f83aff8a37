//! Amending: another certificate in the place of one that turned out wrong.

use super::{Bench, bench, bytes, link, page};
use crate::{
    harness::callers::serve,
    reviews::{release, shown},
};
use api::certificates::open;
use serde_json::{Value, json};

/// Corrects the diluted run after it was certified.
async fn correct(bench: &Bench) {
    let (mut run, id) = bench.diluted.clone();
    run["readings"][0]["value"] = json!("45");
    run["analyst"] = json!(bench.analyst.id);
    let reason = json!({"code": "transcription-error", "text": "The reader showed 45."});
    bench
        .analyst
        .post_seen(
            &format!("/runs/{id}/correction"),
            1,
            json!({"run": run, "reason": reason}),
        )
        .await
        .expect(200);
}

fn amendment(order: &Value) -> Value {
    json!({"results": order["results"],
        "reason": {"code": "transcription-error", "text": "The reader showed 45, not 46."}})
}

#[actix_web::test]
async fn a_corrected_result_gets_a_certificate_that_names_the_old_one_and_why() {
    let app = serve().await;
    let bench = bench(&app).await;
    let old = bench.issued().await;
    let old_number = old.body["number"].as_str().unwrap().to_owned();
    let at = format!("/certificates/{}/amendment", old.id());
    correct(&bench).await;
    let changed = shown(&bench.reviewer, &bench.sample).await;
    assert_eq!(changed[0]["amendment_due"], true, "{:#}", changed[0]);
    release(&bench.reviewer, &bench.sample).await.expect(201);
    let order = bench.order().await;
    let beside = bench.reviewer.post("/certificates", order.clone()).await;
    let beside = beside.expect(409);
    assert_eq!(beside.problem(), "amendment-due");
    assert!(
        beside.body["detail"]
            .as_str()
            .unwrap()
            .contains(&old_number)
    );
    let stale = bench.reviewer.post_seen(&at, 9, amendment(&order)).await;
    stale.expect(412);

    let new = bench
        .reviewer
        .post_seen(&at, 1, amendment(&order))
        .await
        .expect(201);
    assert!(new.body["number"].as_str().unwrap().ends_with("-000002"));
    let before = bench
        .reviewer
        .get(&link(&new, "replaces"))
        .await
        .expect(200);
    assert_eq!(before.body["state"], "replaced");
    let successor = before.body["links"]["replaced_by"].as_str().unwrap();
    assert!(successor.ends_with(&new.id()));
    let settled = shown(&bench.reviewer, &bench.sample).await;
    assert!(
        settled[0].get("amendment_due").is_none(),
        "{:#}",
        settled[0]
    );

    let bundle = bytes(&bench.reviewer, &link(&new, "bundle")).await;
    let certificate = open(&bundle).unwrap().certificate;
    assert_eq!(certificate.replaces.as_deref(), Some(old_number.as_str()));
    let amended = certificate.amendment.unwrap();
    assert_eq!(
        amended.reason.as_deref(),
        Some("The reader showed 45, not 46.")
    );
    let value = amended
        .changes
        .iter()
        .find(|change| change.pointer == "/results/0/reported")
        .unwrap();
    assert_eq!(value.before.as_deref(), Some("276.0"));
    assert_eq!(value.after.as_deref(), Some("270.0"));
    bytes(&bench.reviewer, &link(&new, "pdf")).await;

    // The old one's bytes never change; its page says what became of it.
    let kept = bytes(&bench.reviewer, &link(&old, "bundle")).await;
    assert_eq!(
        open(&kept).unwrap().certificate.results[0].reported,
        "276.0"
    );
    let (_, text) = page(&app, &link(&old, "check")).await;
    let new_number = new.body["number"].as_str().unwrap();
    assert!(
        text.contains(&format!("{new_number} replaced it")),
        "{text}"
    );
    assert!(
        text.contains(&link(&new, "check")),
        "it leads to the new one"
    );
    let (_, text) = page(&app, &link(&new, "check")).await;
    assert!(
        text.contains(&format!("certificate {old_number}")),
        "{text}"
    );

    let twice = bench
        .reviewer
        .post_seen(&at, 2, amendment(&bench.order().await))
        .await;
    assert_eq!(twice.expect(409).problem(), "not-in-this-state");
    let trail = bench
        .reviewer
        .get(&format!("/records?subject={}", old.id()))
        .await;
    let record = &trail.body["items"][0];
    assert_eq!(record["action"], "amend-certificate");
    assert_eq!(record["reason"]["code"], "transcription-error");
    assert_eq!(record["content"]["by"], new.body["id"]);
    crate::rebuild::is_told_by_records(&app).await;
}
