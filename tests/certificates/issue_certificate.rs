//! Issuing a certificate, and what its reader can make of it.

use super::{bench, bytes, link, page};
use crate::{
    harness::callers::{fresh_key, serve},
    ledger::trust_file::trust_file,
    reviews::release,
};
use api::certificates::{PagesCompared, attached_bundle, compare_pages, open};
use domain::ledger::{report::Status, verify_bundle};
use serde_json::json;

#[actix_web::test]
async fn released_results_become_a_certificate_that_verifies_without_trusting_the_service() {
    let app = serve().await;
    let bench = bench(&app).await;
    let order = bench.order().await;
    let early = bench
        .reviewer
        .post("/certificates", order.clone())
        .await
        .expect(409);
    assert_eq!(early.problem(), "not-released");
    release(&bench.reviewer, &bench.sample).await.expect(201);
    let stale = bench.reviewer.post("/certificates", order).await;
    assert_eq!(stale.expect(412).problem(), "stale-version");
    let order = bench.order().await;
    bench
        .analyst
        .post("/certificates", order.clone())
        .await
        .expect(403);

    let key = fresh_key();
    let issued = bench
        .reviewer
        .post_once("/certificates", &key, order.clone())
        .await
        .expect(201);
    let number = issued.body["number"].as_str().unwrap().to_owned();
    assert!(
        number.starts_with("Q-20") && number.ends_with("-000001"),
        "{number}"
    );
    let again = bench
        .reviewer
        .post_once("/certificates", &key, order.clone())
        .await
        .expect(201);
    assert_eq!(issued.body, again.body);
    let shown = bench
        .analyst
        .get(&issued.location.clone().unwrap())
        .await
        .expect(200);
    assert_eq!(shown.body, issued.body);

    // Issue answered at once; the bundle waited for the checkpoint: status 0.
    let bundle = bytes(&bench.analyst, &link(&issued, "bundle")).await;
    let report = verify_bundle(&bundle, Some(&trust_file(&app).await));
    assert_eq!(report.status(), Status::Verified, "{report}");
    assert_eq!(verify_bundle(&bundle, None).status(), Status::Untrusted);

    let certificate = open(&bundle).unwrap().certificate;
    assert_eq!(certificate.check(), Ok(()));
    assert_eq!(certificate.number, number);
    let result = &certificate.results[0];
    assert_eq!((result.reported.as_str(), result.runs.len()), ("276.0", 2));
    let arithmetic: Vec<String> = result.runs.iter().map(|run| run.arithmetic()).collect();
    assert_eq!(
        arithmetic,
        [
            "50 × 1/1 = 50.000000 (lower bound)",
            "46 × 6/1 = 276.000000"
        ]
    );
    assert_eq!(certificate.controls.len(), 1);
    assert!(certificate.controls[0].accepted);
    assert_eq!(certificate.preparation.len(), 3);
    let signed: Vec<_> = certificate.signatures.iter().map(|it| it.meaning).collect();
    assert_eq!(json!(signed), json!(["recorded", "released", "issued"]));
    let terms: Vec<_> = result
        .decisions
        .iter()
        .map(|it| it.decision.words())
        .collect();
    // FDA CPG Sec. 555.400: 20 µg/kg for food; Sec. 683.100: 300 µg/kg for finishing beef cattle.
    assert!(
        terms.contains(&"fail") && terms.contains(&"pass"),
        "{terms:?}"
    );
    let clear = String::from_utf8(bundle.clone()).unwrap();
    assert!(!clear.contains("Hollow Mill"), "a name is a disclosure");

    let pdf = bytes(&bench.analyst, &link(&issued, "pdf")).await;
    assert_eq!(attached_bundle(&pdf).unwrap(), bundle);
    assert_eq!(compare_pages(&pdf).unwrap(), PagesCompared::Same);
    let kept = bytes(&bench.analyst, &link(&issued, "pdf")).await;
    assert!(pdf == kept, "the same bundle gives the same bytes");

    // Anybody with the code gets the same, and the page says that it stands.
    let check = link(&issued, "check");
    assert!(certificate.check_address.ends_with(&check));
    let (status, text) = page(&app, &check).await;
    assert_eq!(status, 200, "{text}");
    for words in [
        number.as_str(),
        "stands.",
        "Quay Grain Laboratory",
        "Yes: it is entry ",
        "/about/log",
        "276.0",
        "fail",
        "<svg",
    ] {
        assert!(text.contains(words), "{words}");
    }
    let public = app.anonymous();
    let path = check.trim_start_matches('/');
    assert!(bytes(&public, &format!("{path}/bundle")).await == bundle);
    assert!(bytes(&public, &format!("{path}/pdf")).await == pdf);

    let second = bench
        .reviewer
        .post("/certificates", order)
        .await
        .expect(201);
    let second = second.body["number"].as_str().unwrap().to_owned();
    assert!(
        second.ends_with("-000002"),
        "a refusal takes no number: {second}"
    );
}

#[actix_web::test]
async fn a_code_that_nobody_gave_out_finds_nothing() {
    let app = serve().await;
    for path in [
        "/c/AAAAAAAAAAAAAAAAAAAAAA",
        "/c/short",
        "/c/'%20OR%201=1--aaaaaaaaaa",
    ] {
        let (status, text) = page(&app, path).await;
        assert_eq!(status, 404, "{path}");
        assert!(text.contains("no certificate at this address"), "{text}");
    }
}

#[actix_web::test]
async fn results_of_another_lot_and_what_the_standard_misses_are_refused() {
    let app = serve().await;
    let bench = bench(&app).await;
    release(&bench.reviewer, &bench.sample).await.expect(201);
    let lot = json!({"code": "L-2", "commodity": "maize-grain", "arrived_on": "2026-03-01",
        "intended_uses": ["food"], "jurisdictions": ["US"]});
    let lot = bench.analyst.post("/lots", lot).await.expect(201).id();
    let mut order = bench.order().await;
    order["lot"] = json!(lot);
    let other = bench.reviewer.post("/certificates", order.clone()).await;
    let other = other.expect(422);
    assert_eq!(other.body["errors"][0]["pointer"], "#/results/0/result");
    order["results"] = json!([]);
    let empty = bench
        .reviewer
        .post("/certificates", order)
        .await
        .expect(422);
    assert_eq!(empty.body["errors"][0]["pointer"], "#/results");

    let sample = json!({"code": "S-2", "purpose": "customer", "lot": lot,
        "commodity": "maize-grain", "received_at": "2026-03-01T07:00:00Z"});
    let sample = bench
        .analyst
        .post("/samples", sample)
        .await
        .expect(201)
        .id();
    let run = bench.another_run(&sample, "4.1");
    bench.analyst.post("/runs", run).await.expect(201);
    release(&bench.reviewer, &sample).await.expect(201);
    let results = crate::reviews::shown(&bench.reviewer, &sample).await;
    let order = json!({"lot": lot, "results": crate::reviews::versions(&results)});
    let refused = bench
        .reviewer
        .post("/certificates", order)
        .await
        .expect(409);
    assert_eq!(refused.problem(), "certificate-incomplete");
    let detail = refused.body["detail"].as_str().unwrap();
    assert!(detail.contains("names no order"), "{detail}");
    let list = bench.reviewer.get("/certificates").await.expect(200);
    assert_eq!(list.body["items"], json!([]), "nothing was left behind");
}
