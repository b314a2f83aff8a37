//! What is to be taken from a lot.

use super::{customer, maize, of_customer, with};
use crate::harness::callers::serve;
use serde_json::json;

#[actix_web::test]
async fn a_lot_says_what_each_plan_asks_of_it() {
    let app = serve().await;
    let analyst = app.analyst().await;
    let lot = analyst.post("/lots", maize("L-1")).await.expect(201).id();
    let path = format!("/lots/{lot}/sampling-plan");
    // Implementing Regulation (EU) 2023/2782, Annex I, part II.A, table 2: 24.8 t.
    let one = analyst.get(&format!("{path}?plan=eu-2023-cereal")).await;
    let plan = &one.expect(200).body["plans"][0];
    assert_eq!(
        (
            &plan["plan"],
            &plan["increments"],
            &plan["aggregate_mass_kg"]
        ),
        (&json!("eu-2023-cereal-20-100"), &json!(100), &json!("10"))
    );
    let all = analyst.get(&path).await.expect(200).body;
    let ids: Vec<_> = all["plans"].as_array().unwrap().iter().collect();
    assert!(
        ids.iter()
            .any(|plan| plan["plan"] == "us-fgis-aflatoxin-truck")
    );
    assert!(
        !ids.iter()
            .any(|plan| plan["plan"].as_str().unwrap().contains("nuts"))
    );
    assert!(all.get("probes").is_none());
    // Grain Inspection Handbook, Book I: 4 ft deep or more, 7 probes.
    let probes = format!("{path}?plan=us-fgis-aflatoxin-truck&carrier=flat-truck&depth_ft=4");
    let probed = analyst.get(&probes).await.expect(200).body;
    assert_eq!(probed["probes"]["probes"], 7);

    for (query, status, problem) in [
        ("plan=us-ams-peanuts", 422, "out-of-range"),
        ("plan=SP-2", 422, "out-of-range"),
        ("carrier=ox-cart", 400, "malformed"),
        ("carrier=flat-truck", 400, "malformed"),
        ("carrier=barge&length_ft=5", 422, "out-of-range"),
        ("plans=all", 400, "malformed"),
    ] {
        let refused = analyst.get(&format!("{path}?{query}")).await.expect(status);
        assert_eq!(refused.problem(), problem, "{query}");
    }
    let mut weightless = maize("L-2");
    weightless.as_object_mut().unwrap().remove("mass_kg");
    let lot = analyst.post("/lots", weightless).await.expect(201).id();
    let refused = analyst.get(&format!("/lots/{lot}/sampling-plan")).await;
    assert_eq!(refused.expect(409).problem(), "no-lot-mass");
}

#[actix_web::test]
async fn a_customer_asks_for_the_plan_of_lots_that_it_may_know_of() {
    let app = serve().await;
    let analyst = app.analyst().await;
    let (own, other) = (
        customer(&analyst, "OWN").await,
        customer(&analyst, "OTHER").await,
    );
    let mine = of_customer(&app, "mine", &own).await;
    for (code, of, status) in [("L-1", &own, 200), ("L-2", &other, 404)] {
        let lot = with(maize(code), json!({"customer": of}));
        let lot = analyst.post("/lots", lot).await.expect(201).id();
        mine.get(&format!("/lots/{lot}/sampling-plan"))
            .await
            .expect(status);
    }
}
