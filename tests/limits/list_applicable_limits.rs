//! Which limits apply, and why.

use super::intake_level;
use crate::harness::callers::serve;
use serde_json::{Value, json};

#[derive(serde::Deserialize)]
struct Case {
    case: String,
    jurisdiction: String,
    analyte: String,
    commodity_id: String,
    use_id: String,
    date: String,
    expected_limit_ids: String,
}

fn codes(body: &Value) -> Vec<&str> {
    let items = body["items"].as_array().unwrap();
    items
        .iter()
        .filter(|item| item["on_this_analyte"] == json!(true))
        .map(|item| item["code"].as_str().unwrap())
        .collect()
}

/// Every tenth case of the table (the crate `domain` is tested with all of them), asked over HTTP.
#[actix_web::test]
async fn the_limits_meant_for_a_lot_are_answered() {
    let app = serve().await;
    let analyst = app.analyst().await;
    let table = include_str!("../data/limit_scope_cases.csv");
    let mut reader = csv::Reader::from_reader(table.as_bytes());
    for case in reader.deserialize::<Case>().step_by(10) {
        let case = case.unwrap();
        let answer = analyst
            .get(&format!(
                "/applicable-limits?commodity={}&use={}&analyte={}&jurisdiction={}&date={}",
                case.commodity_id, case.use_id, case.analyte, case.jurisdiction, case.date
            ))
            .await
            .expect(200);
        let expected: Vec<&str> = case.expected_limit_ids.split_whitespace().collect();
        assert_eq!(codes(&answer.body), expected, "{}", case.case);
        assert!(answer.body["items"].as_array().unwrap().iter().all(|item| {
            item["decides"] == json!(false) && !item["why"].as_str().unwrap().is_empty()
        }));
    }
}

#[actix_web::test]
async fn a_condition_asks_for_its_fact_and_only_adopted_limits_decide() {
    let app = serve().await;
    let manager = app.quality_manager().await;
    // FDA advisory levels for deoxynivalenol, 2010: grain for swine, 5 mg/kg, not over 20 % of
    // the diet.
    let swine = "/applicable-limits?commodity=wheat-grain&use=feed-finishing-swine\
                 &analyte=deoxynivalenol&jurisdiction=US&date=2026-03-01";
    let answer = manager.get(swine).await.expect(200);
    let item = &answer.body["items"][0];
    assert_eq!(item["code"], "us-feed-grain-swine-don");
    assert_eq!(
        item["condition"]["fact"],
        "share-of-diet-at-most-20-percent"
    );
    let question = item["condition"]["question"].as_str().unwrap();
    assert!(question.contains("share of diet at most 20 percent"));

    manager.post("/limits", intake_level()).await.expect(201);
    let milling = "/applicable-limits?commodity=wheat-grain&use=food-first-stage\
                   &analyte=deoxynivalenol&jurisdiction=EU&date=2026-03-01";
    let before = manager.get(milling).await.expect(200);
    assert_eq!(before.body["items"][0]["code"], "intake-wheat-don");
    assert_eq!(before.body["items"][0]["decides"], json!(false));
    let adoption = json!({"date": "2026-02-01", "reading": "Intake rules 7, section 4: 900."});
    manager
        .post_seen("/limits/intake-wheat-don/adoption", 1, adoption)
        .await
        .expect(200);
    let after = manager.get(milling).await.expect(200);
    assert_eq!(after.body["items"][0]["decides"], json!(true));
    assert!(
        after.body["summary"]
            .as_str()
            .unwrap()
            .contains("1 of them")
    );
    let reason = json!({"code": "other", "text": "Not needed."});
    manager
        .post_seen(
            "/limits/intake-wheat-don/retirement",
            2,
            json!({"date": "2026-03-01", "reason": reason}),
        )
        .await
        .expect(200);
    let retired = manager.get(milling).await.expect(200);
    assert_ne!(retired.body["items"][0]["code"], "intake-wheat-don");

    let every = manager
        .get("/applicable-limits?commodity=maize-grain&use=food-sorting&analyte=aflatoxin-total")
        .await
        .expect(200);
    assert!(every.body["jurisdictions"].as_array().unwrap().len() > 1);
    let none = manager
        .get("/applicable-limits?commodity=corn&use=food&analyte=aflatoxin-total")
        .await
        .expect(400);
    assert_eq!(none.problem(), "malformed");
}
