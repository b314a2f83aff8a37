//! Listing samples.

use super::{lot, of_lot};
use crate::{
    harness::callers::serve,
    lots::{codes, customer, maize, with},
};
use serde_json::json;

#[actix_web::test]
async fn filters_find_samples_by_lot_order_customer_purpose_code_and_time() {
    let app = serve().await;
    let analyst = app.analyst().await;
    let mill = customer(&analyst, "MILL").await;
    let mut orders = Vec::new();
    for code in ["O-1", "O-2"] {
        let body = json!({"code": code, "customer": mill, "received_on": "2026-03-01",
                          "analytes": [{"analyte": "deoxynivalenol"}]});
        orders.push(analyst.post("/orders", body).await.expect(201).id());
    }
    let ordered = with(maize("L-1"), json!({"customer": mill, "order": orders[0]}));
    let ordered = analyst.post("/lots", ordered).await.expect(201).id();
    let plain = lot(&analyst, "L-2").await;
    for body in [
        of_lot("S-1", &ordered),
        with(of_lot("S-2", &ordered), json!({"order": orders[1]})),
        with(
            of_lot("S-3", &plain),
            json!({"received_at": "2026-03-02T08:00:00Z"}),
        ),
        json!({"code": "S-4", "purpose": "proficiency", "commodity": "wheat-grain",
               "received_at": "2026-03-03T08:00:00Z"}),
    ] {
        analyst.post("/samples", body).await.expect(201);
    }
    for (query, expected) in [
        (format!("lot={ordered}"), vec!["S-2", "S-1"]),
        (format!("order={}", orders[0]), vec!["S-1"]),
        (format!("order={}", orders[1]), vec!["S-2"]),
        (format!("customer={mill}"), vec!["S-2", "S-1"]),
        ("purpose=proficiency".into(), vec!["S-4"]),
        ("code=S-3".into(), vec!["S-3"]),
        (
            "received_from=2026-03-02T08:00:00Z&received_before=2026-03-03T08:00:00Z".into(),
            vec!["S-3"],
        ),
    ] {
        let found = analyst.get(&format!("/samples?{query}")).await.expect(200);
        assert_eq!(codes(&found.body), expected, "{query}");
    }
    let unreadable = analyst.get("/samples?purpose=fun").await.expect(400);
    assert_eq!(unreadable.problem(), "malformed");
}
