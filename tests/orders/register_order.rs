//! Registering and finding orders.

use super::of_customer;
use crate::{
    harness::callers::serve,
    lots::{codes, customer, pointers, with},
};
use serde_json::json;

const NOBODY: &str = "019ca869-5003-7d46-b59c-6cf85cca57e4";

#[actix_web::test]
async fn an_order_is_registered_with_what_was_agreed_and_found_by_customer_and_code() {
    let app = serve().await;
    let analyst = app.analyst().await;
    let mill = customer(&analyst, "MILL").await;
    let farm = customer(&analyst, "FARM").await;
    let agreed = with(
        of_customer("O-1", &mill),
        json!({"uses": ["feed-dairy"], "jurisdictions": ["EU"], "decision_rule": "simple",
               "agreed_on": "2026-02-20", "comment": "as by telephone"}),
    );
    let made = analyst.post("/orders", agreed).await.expect(201);
    analyst
        .post("/orders", of_customer("O-2", &farm))
        .await
        .expect(201);
    let shown = analyst
        .get(&made.location.clone().unwrap())
        .await
        .expect(200);
    assert_eq!(shown.body["decision_rule"], "simple");
    assert_eq!(
        shown.body["analytes"][0]["number_wanted_above_limit"],
        false
    );
    for (query, expected) in [
        (String::new(), vec!["O-2", "O-1"]),
        (format!("customer={mill}"), vec!["O-1"]),
        ("code=O-2".into(), vec!["O-2"]),
    ] {
        let found = analyst.get(&format!("/orders?{query}")).await.expect(200);
        assert_eq!(codes(&found.body), expected, "{query}");
    }
    let trail = analyst
        .get(&format!("/records?subject={}", made.id()))
        .await
        .expect(200);
    let record = trail.body["items"][0]["record"].as_str().unwrap();
    assert!(
        !record.contains("telephone"),
        "a comment is kept as a digest"
    );
}

#[actix_web::test]
async fn what_is_not_there_or_not_agreed_is_refused_and_leaves_nothing_behind() {
    let app = serve().await;
    let analyst = app.analyst().await;
    let mill = customer(&analyst, "MILL").await;
    let names = with(
        of_customer("O-1", NOBODY),
        json!({"contract_limits": [NOBODY]}),
    );
    let refused = analyst.post("/orders", names).await.expect(422);
    let mut named = pointers(&refused.body);
    named.sort_unstable();
    assert_eq!(named, ["#/contract_limits/0", "#/customer"]);
    let words = with(
        of_customer("O-1", &mill),
        json!({"uses": ["bread-and-butter"], "jurisdictions": ["UE"]}),
    );
    let refused = analyst.post("/orders", words).await.expect(422);
    assert_eq!(pointers(&refused.body), ["#/uses/0", "#/jurisdictions/0"]);
    let undated = with(
        of_customer("O-1", &mill),
        json!({"decision_rule": "rounded"}),
    );
    let refused = analyst.post("/orders", undated).await.expect(422);
    assert_eq!(pointers(&refused.body), ["#/agreed_on"]);
    let none = with(of_customer("O-1", &mill), json!({"analytes": []}));
    let refused = analyst.post("/orders", none).await.expect(422);
    assert_eq!(pointers(&refused.body), ["#/analytes"]);
    let refused = app
        .reviewer()
        .await
        .post("/orders", of_customer("O-1", &mill))
        .await
        .expect(403);
    assert_eq!(refused.problem(), "not-permitted");
    let list = analyst.get("/orders").await.expect(200);
    assert_eq!(list.body["items"], json!([]));
}
