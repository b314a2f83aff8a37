//! Registering lots and sublots.

use super::{customer, maize, pointers, with};
use crate::harness::callers::serve;
use serde_json::json;

const NOBODY: &str = "019ca869-5003-7d46-b59c-6cf85cca57e4";

#[actix_web::test]
async fn a_lot_and_its_sublot_are_registered_and_found_again() {
    let app = serve().await;
    let analyst = app.analyst().await;
    let mill = customer(&analyst, "MILL").await;
    let body = with(
        maize("L-1"),
        json!({"customer": mill, "intended_uses": ["feed-dairy"], "jurisdictions": ["EU", "US"],
               "carrier": {"kind": "truck", "registration": "AB 123"},
               "condition_facts": {"us-feed-feed-dairy-unknown-afla": false},
               "parties": [{"customer": mill, "role": "buyer", "sees": "certificates"}]}),
    );
    let whole = analyst.post("/lots", body).await.expect(201);
    assert_eq!(whole.etag.as_deref(), Some("\"1\""));
    let shown = analyst
        .get(&whole.location.clone().unwrap())
        .await
        .expect(200);
    assert_eq!(shown.body["carrier"]["registration"], "AB 123");
    assert_eq!(shown.body["mass_kg"], "24800");
    let part = with(maize("L-1/1"), json!({"parent": whole.id()}));
    analyst.post("/lots", part).await.expect(201);
    let wheat = json!({"code": "L-1/2", "commodity": "wheat-grain", "arrived_on": "2026-03-01",
                       "parent": whole.id()});
    let refused = analyst.post("/lots", wheat).await.expect(422);
    assert_eq!(pointers(&refused.body), ["#/commodity"]);

    let trail = analyst
        .get(&format!("/records?subject={}", whole.id()))
        .await
        .expect(200);
    let record = &trail.body["items"][0];
    assert_eq!(record["action"], "register-lot");
    assert!(
        !record["record"].as_str().unwrap().contains("AB 123"),
        "a number plate stands in a record only as a digest"
    );
}

#[actix_web::test]
async fn what_nobody_knows_is_refused_by_pointer_and_leaves_nothing_behind() {
    let app = serve().await;
    let analyst = app.analyst().await;
    let words = with(
        maize("L-1"),
        json!({"commodity": "maize-crumbs", "intended_uses": ["food", "space-travel"],
               "jurisdictions": ["EU", "UE"], "condition_facts": {"no-such-limit": true}}),
    );
    let refused = analyst.post("/lots", words).await.expect(422);
    assert_eq!(
        pointers(&refused.body),
        [
            "#/commodity",
            "#/intended_uses/1",
            "#/jurisdictions/1",
            "#/condition_facts/no-such-limit"
        ]
    );
    let detail = refused.body["errors"][0]["detail"].as_str().unwrap();
    assert!(detail.contains("maize"), "it offers what is near: {detail}");
    let names = with(
        maize("L-1"),
        json!({"parent": NOBODY, "order": NOBODY, "customer": NOBODY,
               "parties": [{"customer": NOBODY, "role": "seller", "sees": "nothing"}]}),
    );
    let refused = analyst.post("/lots", names).await.expect(422);
    let mut named = pointers(&refused.body);
    named.sort_unstable();
    assert_eq!(
        named,
        ["#/customer", "#/order", "#/parent", "#/parties/0/customer"]
    );
    let list = analyst.get("/lots").await.expect(200);
    assert_eq!(list.body["items"], json!([]));

    analyst.post("/lots", maize("L-1")).await.expect(201);
    let twice = analyst.post("/lots", maize("L-1")).await.expect(409);
    assert_eq!(twice.problem(), "duplicate");
}

#[actix_web::test]
async fn an_inactive_customer_gets_no_new_lot_and_a_reviewer_registers_none() {
    let app = serve().await;
    let analyst = app.analyst().await;
    let mill = customer(&analyst, "MILL").await;
    let theirs = with(maize("L-1"), json!({"customer": mill}));
    let made = analyst.post("/lots", theirs.clone()).await.expect(201);
    analyst
        .put(
            &format!("/customers/{mill}"),
            1,
            json!({"customer": {"code": "MILL", "name": "MILL Ltd", "state": "inactive"},
                   "reason": {"code": "late-information", "text": "Closed."}}),
        )
        .await
        .expect(200);
    let another = with(theirs.clone(), json!({"code": "L-2"}));
    let refused = analyst.post("/lots", another).await.expect(422);
    assert_eq!(pointers(&refused.body), ["#/customer"]);
    analyst
        .put(
            &format!("/lots/{}", made.id()),
            1,
            json!({"lot": with(theirs, json!({"mass_kg": "24000"})),
                   "reason": {"code": "transcription-error", "text": "The scale shows 24000."}}),
        )
        .await
        .expect(200);
    let refused = app
        .reviewer()
        .await
        .post("/lots", maize("L-3"))
        .await
        .expect(403);
    assert_eq!(refused.problem(), "not-permitted");
    let integrator = app.integrator().await;
    integrator.post("/lots", maize("L-3")).await.expect(201);
}
