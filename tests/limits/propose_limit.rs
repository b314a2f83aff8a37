//! Proposing limits, and changing proposals.

use super::intake_level;
use crate::harness::callers::serve;
use serde_json::{Value, json};

fn pointers(body: &Value) -> Vec<&str> {
    let faults = body["errors"].as_array().unwrap();
    faults
        .iter()
        .map(|fault| fault["pointer"].as_str().unwrap())
        .collect()
}

#[actix_web::test]
async fn a_contract_is_proposed_with_its_parties_and_refused_without_them() {
    let app = serve().await;
    let manager = app.quality_manager().await;
    let seller = manager
        .post("/customers", json!({"code": "FARM", "name": "Low Farm"}))
        .await
        .expect(201)
        .id();
    let contract = |parties: Value| {
        let mut body = intake_level();
        body["code"] = json!("contract-17-don");
        body["authority"] = json!({"kind": "contract", "parties": parties,
            "rule": {"rule": "guarded-acceptance"}});
        body
    };
    let made = manager
        .post("/limits", contract(json!([seller])))
        .await
        .expect(201);
    assert_eq!(made.body["limit"]["state"], "proposed");
    assert_eq!(
        made.body["unverified"], false,
        "the parties know what they agreed"
    );

    let nobody = manager
        .post("/limits", contract(json!([])))
        .await
        .expect(422);
    assert_eq!(pointers(&nobody.body), ["#/authority/parties"]);
    let strangers = json!([seller, "019ca869-5003-7d46-b59c-6cf85cca57e4"]);
    let mut unknown = contract(strangers);
    unknown["code"] = json!("contract-18-don");
    let unknown = manager.post("/limits", unknown).await.expect(422);
    assert_eq!(pointers(&unknown.body), ["#/authority/parties/1"]);
    let mut nowhere = intake_level();
    nowhere["authority"]["site"] = json!("019ca869-5003-7d46-b59c-6cf85cca57e4");
    let nowhere = manager.post("/limits", nowhere).await.expect(422);
    assert_eq!(pointers(&nowhere.body), ["#/authority/site"]);

    // A customer sees the law and its own contracts, and no other customer's.
    let own = app.account_of("seller", &seller).await;
    let seen = own.get("/limits?authority=contract").await.expect(200);
    assert_eq!(seen.body["items"].as_array().unwrap().len(), 1);
    let other = manager
        .post("/customers", json!({"code": "MILL", "name": "Hollow Mill"}))
        .await
        .expect(201)
        .id();
    let stranger = app.account_of("buyer", &other).await;
    stranger.get("/limits/contract-17-don").await.expect(404);
    stranger
        .get("/limits/eu-food-maize-rice-sorting-afb1")
        .await
        .expect(200);
}

#[actix_web::test]
async fn what_no_limit_can_be_is_refused_field_by_field() {
    let app = serve().await;
    let manager = app.quality_manager().await;
    app.analyst()
        .await
        .post("/limits", intake_level())
        .await
        .expect(403);
    let mut wrong = intake_level();
    wrong["source"] = json!("");
    wrong["scopes"] = json!([{"commodities": ["corn"], "uses": ["food"]}]);
    let wrong = manager.post("/limits", wrong).await.expect(422);
    assert_eq!(pointers(&wrong.body), ["#/source", "#/scopes"]);
    let mut misspelt = intake_level();
    misspelt["scopes"][0]["uses_excpet"] = json!(["food-sorting"]);
    let misspelt = manager.post("/limits", misspelt).await.expect(422);
    assert_eq!(misspelt.problem(), "invalid-fields");
    let mut taken = intake_level();
    taken["code"] = json!("eu-food-maize-rice-sorting-afb1");
    let taken = manager.post("/limits", taken).await.expect(409);
    assert_eq!(taken.problem(), "duplicate");
    let mut law = intake_level();
    law["code"] = json!("za-wheat-don");
    law["authority"] =
        json!({"kind": "law", "jurisdiction": "ZA", "authority_kind": "maximum-level"});
    let law = manager.post("/limits", law).await.expect(201);
    assert_eq!(
        law.body["unverified"], true,
        "nobody said where it was read"
    );
    let own = manager.get("/limits?jurisdiction=ZA").await.expect(200);
    assert_eq!(own.body["items"].as_array().unwrap().len(), 1);
}

#[actix_web::test]
async fn a_proposal_is_changed_with_a_reason_and_keeps_its_code() {
    let app = serve().await;
    let manager = app.quality_manager().await;
    manager.post("/limits", intake_level()).await.expect(201);
    let path = "/limits/intake-wheat-don";
    let change = |limit: Value| json!({"limit": limit, "reason": {"code": "late-information", "text": "Rewritten."}});
    let mut stricter = intake_level();
    stricter["value"] = json!("800");
    manager
        .put(path, 2, change(stricter.clone()))
        .await
        .expect(412);
    let mut renamed = stricter.clone();
    renamed["code"] = json!("another");
    let renamed = manager.put(path, 1, change(renamed)).await.expect(422);
    assert_eq!(pointers(&renamed.body), ["#/limit/code"]);
    let changed = manager.put(path, 1, change(stricter)).await.expect(200);
    assert_eq!(changed.body["limit"]["value"], "800");
    assert_eq!(changed.body["version"], 2);
    let corrections = manager
        .get(&format!("/corrections?subject={}", changed.id()))
        .await
        .expect(200);
    let first = &corrections.body["items"][0]["changes"][0];
    assert_eq!(first["pointer"], "/value");
    assert_eq!(
        (&first["before"], &first["after"]),
        (&json!("900"), &json!("800"))
    );
}
