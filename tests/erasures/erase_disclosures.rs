//! Erasing: a customer's particulars everywhere, a person in an export, and what is refused.

use super::{erased_file, places};
use crate::{
    certificates,
    harness::{
        callers::{TestApp, fresh_key, serve},
        fixtures::bench_of,
    },
    imports,
    ledger::trust_file::trust_file,
    reviews::release,
};
use api::certificates::{attached_bundle, open};
use domain::ledger::{report::Status, verify_bundle};
use serde_json::{Value, json};

fn asked(subject: &str, members: &Value) -> Value {
    json!({"subjects": [{"subject": subject, "members": members}],
        "reason": {"code": "erasure-request", "text": "Request 14 of 3 March."}})
}

fn rehearsed(mut body: Value) -> Value {
    body["dry_run"] = json!(true);
    body
}

async fn number_of(app: &TestApp, table: &str) -> i64 {
    app.count(&format!("SELECT count(*) FROM {table}")).await
}

#[actix_web::test]
async fn a_customers_name_stands_nowhere_any_more_and_every_proof_still_holds() {
    let app = serve().await;
    let bench = certificates::bench(&app).await;
    let manager = app.sign_in("quality").await;
    let customer = bench.customer.clone();
    let path = format!("/customers/{customer}");
    // A later version, and the correction beside it, say the name again.
    let later =
        json!({"code": "MILL", "name": "Hollow Mill Ltd of Ford", "address": "Mill Lane 2"});
    let reason = json!({"code": "late-information", "text": "Hollow Mill Ltd moved."});
    let body = json!({"customer": later, "reason": reason});
    bench.analyst.put(&path, 1, body).await.expect(200);
    let key = fresh_key();
    let party = json!({"code": "AGENT2", "name": "Agent of Hollow Mill Ltd"});
    let agent = bench
        .analyst
        .post_once("/customers", &key, party.clone())
        .await;
    let agent = agent.expect(201).id();
    let issued = bench.issued().await;
    let link = |name: &str| issued.body["links"][name].as_str().unwrap().to_owned();
    let bundle = certificates::bytes(&bench.analyst, &link("bundle")).await;
    let pdf = certificates::bytes(&bench.analyst, &link("pdf")).await;
    assert!(
        open(&bundle)
            .unwrap()
            .certificate
            .customer
            .name
            .unwrap()
            .contains("Hollow")
    );
    let before = places(&app, "Hollow Mill Ltd").await;
    for table in [
        "certificates_document",
        "corrections_correction",
        "customers_customer",
        "idempotency_answer",
        "ledger_disclosure",
    ] {
        assert!(before.iter().any(|one| one == table), "{table}: {before:?}");
    }
    let acts = number_of(&app, "ledger_act").await;

    // Only shown.
    let body = asked(&customer, &json!(["/name", "/address"]));
    let shown = manager
        .post("/erasures", rehearsed(body.clone()))
        .await
        .expect(200);
    let values: Vec<&str> = shown.body["erased"]
        .as_array()
        .unwrap()
        .iter()
        .filter_map(|one| one["value"].as_str())
        .collect();
    assert!(values.contains(&"Hollow Mill Ltd moved."), "{values:?}");
    assert!(values.contains(&"Agent of Hollow Mill Ltd"), "{values:?}");
    assert_eq!(shown.body["certificates"], json!([issued.body["id"]]));
    assert_eq!(places(&app, "Hollow Mill Ltd").await, before);
    assert_eq!(erased_file(&app), "");

    bench
        .analyst
        .post("/erasures", body.clone())
        .await
        .expect(403);
    let done = manager.post("/erasures", body).await.expect(201);
    assert!(
        done.body["erased"]
            .as_array()
            .unwrap()
            .iter()
            .all(|one| one.get("value").is_none())
    );
    for text in ["Hollow Mill Ltd", "Mill Lane 2"] {
        assert_eq!(places(&app, text).await, Vec::<String>::new(), "{text}");
    }
    assert_eq!(number_of(&app, "ledger_act").await, acts + 1);
    let digest = done.body["erased"][0]["digest"].as_str().unwrap();
    assert!(erased_file(&app).contains(digest));

    // What shows it reads as erased.
    let shown = bench.analyst.get(&path).await.expect(200);
    assert_eq!(shown.body["name"], "[erased]");
    assert_eq!(shown.body["version"], 2);
    let again = bench
        .analyst
        .post_once("/customers", &key, party)
        .await
        .expect(201);
    assert_eq!(again.body["name"], "[erased]");
    assert_eq!(again.id(), agent);
    let trail = manager
        .get(&format!("/records?subject={customer}"))
        .await
        .expect(200);
    for record in trail.body["items"].as_array().unwrap() {
        assert_eq!(record["erased"].as_array().unwrap().len(), 2, "{record:#}");
        assert!(record["content"].get("name").is_none());
    }
    let listed = manager.get("/erasures").await.expect(200);
    assert_eq!(listed.body["items"][0]["id"], done.body["id"]);
    let one = format!("/erasures/{}", done.id());
    manager.get(&one).await.expect(200);

    // The certificate: the same signature, one name fewer, and pages that show it.
    let trust = trust_file(&app).await;
    let left = certificates::bytes(&bench.analyst, &link("bundle")).await;
    for handed_out in [&bundle, &left] {
        let report = verify_bundle(handed_out, Some(&trust));
        assert_eq!(
            report.status(),
            verify_bundle(&bundle, Some(&trust)).status()
        );
        assert_ne!(report.status(), Status::Failed, "{report}");
    }
    let opened = open(&left).unwrap();
    assert_eq!(opened.withheld, 2);
    assert!(!opened.certificate.customer.name.unwrap().contains("Hollow"));
    let new_pdf = certificates::bytes(&bench.analyst, &link("pdf")).await;
    assert_ne!(new_pdf, pdf);
    assert_eq!(attached_bundle(&new_pdf).unwrap(), left);
    assert_eq!(places(&app, "Hollow Mill Ltd").await, Vec::<String>::new());

    // There is nothing left to erase, and the customer can be revised.
    let nothing = asked(&customer, &json!(["/name"]));
    manager.post("/erasures", nothing).await.expect(422);
    let named = json!({"code": "MILL", "name": "Customer 1"});
    let body = json!({"customer": named, "reason": {"code": "other", "text": "A name again."}});
    bench.analyst.put(&path, 2, body).await.expect(200);
    let checked = crate::rebuild::checked(&app).await;
    assert!(checked.is_equal(), "{checked}");
}

#[actix_web::test]
async fn a_person_in_an_export_goes_with_the_upload_and_its_digest_stays() {
    let app = serve().await;
    let bench = bench_of(&app).await;
    let mut map = imports::map(&bench, "bay 1");
    map["operators"] = json!({"Jo Park": bench.analyst.id});
    let map = imports::drafted(&bench, map).await;
    let row =
        |minute: u32, value: &str| imports::row(minute, "S-1", value).replace("KM", "Jo Park");
    let export = imports::export(&[
        row(0, "4.1"),
        row(20, "much"),
        imports::row(30, "S-1", "4.2"),
    ]);
    let imported = imports::import(&bench.analyst, &map, export.clone()).await;
    let import = imported.expect(201).id();
    let before = places(&app, "Jo Park").await;
    for table in [
        "column_maps_column_map",
        "imports_row",
        "imports_upload",
        "ledger_disclosure",
    ] {
        assert!(before.iter().any(|one| one == table), "{table}: {before:?}");
    }
    let body = asked(&map, &json!(["/operators"]));
    let manager = app.administrator();
    let done = manager.post("/erasures", body).await.expect(201);
    assert_eq!(places(&app, "Jo Park").await, Vec::<String>::new());
    assert_eq!(done.body["uploads"].as_array().unwrap().len(), 1);
    let upload = format!("/imports/{import}/upload");
    let gone = bench.analyst.get(&upload).await.expect(404);
    assert!(gone.body["detail"].as_str().unwrap().contains("erased"));
    let shown = bench
        .analyst
        .get(&format!("/imports/{import}"))
        .await
        .expect(200);
    assert_eq!(shown.body["digest"], done.body["uploads"][0]);
    let rows = bench
        .analyst
        .get(&format!("/imports/{import}/rows"))
        .await
        .expect(200);
    assert_eq!(rows.body["items"][0]["text"], "[erased]");

    // The same file again brings nothing back but what it says anew.
    imports::import(&bench.analyst, &map, export).await;
    let held = places(&app, "Jo Park").await;
    assert!(!held.contains(&"imports_upload".to_owned()), "{held:?}");
    let checked = crate::rebuild::checked(&app).await;
    assert!(checked.is_equal(), "{checked}");
}

#[actix_web::test]
async fn a_signers_name_stays_for_its_time_and_a_login_while_it_opens_something() {
    let app = serve().await;
    let bench = certificates::bench(&app).await;
    release(&bench.reviewer, &bench.sample).await.expect(201);
    let manager = app.administrator();
    let reviewer = bench.reviewer.id.clone().unwrap();
    let refused = manager
        .post("/erasures", asked(&reviewer, &json!(["/printed_name"])))
        .await
        .expect(409);
    assert_eq!(refused.problem(), "signer-name-retained");
    let detail = refused.body["detail"].as_str().unwrap();
    assert!(
        detail.contains("10 years") && detail.contains("17025"),
        "{detail}"
    );
    // Held elsewhere by the same text, it is refused as well.
    let same = json!({"code": "SAME", "name": "Person reviewer"});
    let same = bench
        .analyst
        .post("/customers", same)
        .await
        .expect(201)
        .id();
    let refused = manager
        .post("/erasures", asked(&same, &json!(["/name"])))
        .await;
    assert_eq!(refused.expect(409).problem(), "signer-name-retained");
    let mut alone = asked(&same, &json!(["/name"]));
    alone["elsewhere"] = json!(false);
    manager.post("/erasures", alone).await.expect(201);
    let shown = manager
        .get(&format!("/accounts/{reviewer}"))
        .await
        .expect(200);
    assert_eq!(shown.body["printed_name"], "Person reviewer");
    assert_eq!(erased_file(&app).lines().count(), 1);

    // Somebody who signed nothing: the login goes once it opens nothing any more.
    let leaver = app.account("sam.lowe", &["regulator"]).await.id.unwrap();
    let members = json!(["/login", "/printed_name"]);
    let refused = manager
        .post("/erasures", asked(&leaver, &members))
        .await
        .expect(409);
    assert_eq!(refused.problem(), "account-active");
    let closed = json!({"login": "sam.lowe", "printed_name": "Person sam.lowe",
        "roles": ["regulator"], "state": "closed"});
    let body = json!({"account": closed, "reason": {"code": "other", "text": "Left."}});
    manager
        .put(&format!("/accounts/{leaver}"), 1, body)
        .await
        .expect(200);
    manager
        .post("/erasures", asked(&leaver, &members))
        .await
        .expect(201);
    assert_eq!(places(&app, "sam.lowe").await, Vec::<String>::new());
    let shown = manager
        .get(&format!("/accounts/{leaver}"))
        .await
        .expect(200);
    assert_eq!(shown.body["printed_name"], "[erased]");

    assert_eq!(number_of(&app, "erasures_erasure").await, 2);
    let words = json!({"subjects": [{"subject": bench.customer, "members": ["/name"]}],
        "reason": {"code": "order", "text": "Hollow Mill Ltd asked for it."}});
    let refused = manager.post("/erasures", words).await.expect(422);
    assert_eq!(refused.body["errors"][0]["pointer"], "#/reason/text");
    for nothing in [
        json!({"subject": "019ca869-5003-7d46-b59c-6cf85cca57e4"}),
        json!({"subject": bench.customer, "members": ["/code"]}),
        json!({"subject": bench.customer, "versions": [9]}),
    ] {
        let body = json!({"subjects": [nothing], "reason": {"code": "order", "text": "Order 3."}});
        manager.post("/erasures", body).await.expect(422);
    }
    let laboratory = app
        .state
        .laboratory("quay")
        .await
        .unwrap()
        .unwrap()
        .id
        .to_string();
    manager
        .post("/erasures", asked(&laboratory, &json!(["/name"])))
        .await
        .expect(422);
    let checked = crate::rebuild::checked(&app).await;
    assert!(checked.is_equal(), "{checked}");
}
