//! Changing orders, and what becomes of the results.

use super::of_customer;
use crate::{
    harness::callers::{Caller, serve},
    lots::{customer, maize, pointers, with},
    samples::of_lot,
};
use serde_json::{Value, json};
use std::time::Duration;

fn change(order: Value) -> Value {
    json!({"order": order, "reason": {"code": "late-information", "text": "They called again."}})
}

async fn analytes_due(by: &Caller, sample: &str) -> Vec<String> {
    let found = by
        .get(&format!("/results?sample={sample}&state=needs-a-run"))
        .await
        .expect(200);
    let mut analytes: Vec<String> = found.body["items"]
        .as_array()
        .unwrap()
        .iter()
        .map(|result| result["analyte"].as_str().unwrap().to_owned())
        .collect();
    analytes.sort_unstable();
    analytes
}

#[actix_web::test]
async fn what_is_ordered_is_due_for_each_sample_also_when_it_is_ordered_later() {
    let app = serve().await;
    let analyst = app.analyst().await;
    let mill = customer(&analyst, "MILL").await;
    let ordered = of_customer("O-1", &mill);
    let made = analyst.post("/orders", ordered.clone()).await.expect(201);
    let lot = with(maize("L-1"), json!({"customer": mill, "order": made.id()}));
    let lot = analyst.post("/lots", lot).await.expect(201).id();
    let sample = analyst
        .post("/samples", of_lot("S-1", &lot))
        .await
        .expect(201)
        .id();
    assert_eq!(analytes_due(&analyst, &sample).await, ["deoxynivalenol"]);

    let path = format!("/orders/{}", made.id());
    let more = with(
        ordered.clone(),
        json!({"analytes": [{"analyte": "deoxynivalenol"}, {"analyte": "zearalenone"}]}),
    );
    analyst
        .put(&path, 5, change(more.clone()))
        .await
        .expect(412);
    let refused = app
        .integrator()
        .await
        .put(&path, 1, change(more.clone()))
        .await
        .expect(403);
    assert_eq!(refused.problem(), "not-permitted");
    let empty = with(ordered, json!({"analytes": []}));
    let refused = analyst.put(&path, 1, change(empty)).await.expect(422);
    assert_eq!(pointers(&refused.body), ["#/order/analytes"]);
    analyst.put(&path, 1, change(more)).await.expect(200);
    let mut due = Vec::new();
    for _ in 0..100 {
        due = analytes_due(&analyst, &sample).await;
        if due.len() == 2 {
            break;
        }
        tokio::time::sleep(Duration::from_millis(100)).await;
    }
    assert_eq!(due, ["deoxynivalenol", "zearalenone"]);
    crate::rebuild::is_told_by_records(&app).await;
}
